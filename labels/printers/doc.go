// Package printers hands bytes to label printers: over a raw TCP connection, by IPP, to a device file, or into a spool
// folder. It is the only part of labels that does I/O.
//
// A [Sender] tries once. Its errors say what is known: nothing was printed and a later try may do ([ErrNotSent]), nothing
// was printed and no try will do ([ErrRefused]), or nobody knows ([ErrUnknown]), which a person must settle. It keeps no
// queue, tries nothing twice by itself, and never logs what it sends.
package printers
