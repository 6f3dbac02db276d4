// Package ask lists what the daemon can be asked, and the shapes of requests and answers.
//
// There is one inner service with one function a question ([Service]); HTTP, NATS and the commands all call it, and
// [Questions] is the list that a test holds them against. [Local] is what only commands on this machine may ask for,
// over the socket in the data folder, since it carries patient identifiers.
//
// The package holds shapes only: it asks nothing, answers nothing and keeps nothing.
package ask
