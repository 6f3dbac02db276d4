// Package ipp is the part of the Internet Printing Protocol that printing a label needs: the codec of RFC 8010 and the few
// operations and answers of RFC 8011.
//
// It is pure: it turns requests into bytes and bytes into answers. It never opens a connection, and what it is sent by a
// printer is not trusted: lengths are bounded, and what cannot be read is an error.
package ipp
