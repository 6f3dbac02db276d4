// Package say puts events, instants and lengths of time into plain words, the same on pages and on the command line.
//
// It judges nothing and knows no names of patients.
package say
