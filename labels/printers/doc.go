// Package printers hands bytes to label printers: over a raw TCP connection, by IPP, to a device file, or into a spool
// folder. It is the only part of labels that does I/O.
//
// A [Sender] tries once. Its errors say what is known: nothing was printed and a later try may do ([ErrNotSent]), nothing
// was printed and no try will do ([ErrRefused]), or nobody knows ([ErrUnknown]), which a person must settle. It keeps no
// queue, tries nothing twice by itself, and never logs what it sends.
//
// What no error means depends on the way. An IPP printer has said that the job is done, or has the whole of it and keeps no
// list. A raw printer's network code has acknowledged every byte: whether the printer then hangs cannot be seen. A device's
// driver has taken every byte, a FIFO's reader has read them. A spool folder has the file on disk. Whether a label came out
// is seen by its first scan alone.
package printers
