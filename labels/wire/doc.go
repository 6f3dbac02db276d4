// Package wire writes a label's picture down as the bytes that a printer takes: the raster commands of four common
// label-printer languages, PWG raster for print servers, PNG and PDF.
//
// [Encode] is the one way in. What leaves is the picture's dots and numbers alone: no text of a label ever becomes part of
// a command, so no name can.
//
// It never talks to a printer, and reads no file, clock or network.
package wire
