// Package say puts events, instants, lengths of time and protocols into plain words, the same on pages and on the command
// line.
//
// It judges nothing and knows no names of patients.
package say
