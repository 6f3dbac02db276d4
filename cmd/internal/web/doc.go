// Package web is the pages and the HTTP API: one file a page action or a part of the API, typed page structs, templates
// and styles inside the binary.
//
// [New] makes two handlers. [Server.Pages] is for the loopback address: pages, API, health, metrics, behind a list of
// allowed hosts and against requests from other sites. [Server.Socket] is for the Unix socket in the data folder: the
// same API, and beside it what carries patient identifiers.
//
// It decides nothing and keeps nothing: every question goes to the service it is given. Nothing on a page comes from
// another host, no page holds a name or birth date of a patient, and there is no script in the HTML.
package web
