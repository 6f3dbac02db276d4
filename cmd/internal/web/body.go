package web

import (
	"errors"
	"io"
	"mime"
	"net/http"
	"net/url"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// formMost is the longest form in bytes: the longest of ours is a few hundred.
const formMost = 8 << 10

// Codes of bodies that are not read, each with a status of its own.
const (
	codeTooLarge = "too-large"
	codeEncoded  = "encoded"
	codeNoForm   = "no-form"
)

// body reads what was sent, whole and at most so many bytes. Everything that reads a request's body reads it here, so that
// each has a cap, and nothing compressed is ever opened.
func body(w http.ResponseWriter, r *http.Request, most int64, advice string) ([]byte, error) {
	if how := r.Header.Get("Content-Encoding"); how != "" && how != "identity" {
		return nil, &ask.Error{Kind: ask.Invalid, Code: codeEncoded, Field: "Content-Encoding", Text: "send it as it is: nothing compressed is opened here"}
	}
	data, err := io.ReadAll(http.MaxBytesReader(w, r.Body, most))
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		return nil, &ask.Error{Kind: ask.Invalid, Code: codeTooLarge, Text: advice}
	case err != nil:
		return nil, &ask.Error{Kind: ask.Invalid, Code: "cut-short", Text: "the request ended early; nothing was recorded"}
	}
	return data, nil
}

// form reads the fields of a page's form. Fields in the address are none: what people type never stands there.
func form(w http.ResponseWriter, r *http.Request) (url.Values, error) {
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/x-www-form-urlencoded" {
		return nil, &ask.Error{Kind: ask.Invalid, Code: codeNoForm, Field: "Content-Type", Text: "this takes a page's form and nothing else"}
	}
	data, err := body(w, r, formMost, "this is longer than any form of these pages")
	if err != nil {
		return nil, err
	}
	fields, err := url.ParseQuery(string(data))
	if err != nil { // its text would repeat what was typed
		return nil, &ask.Error{Kind: ask.Invalid, Code: codeNoForm, Text: "the form cannot be read"}
	}
	for name, values := range fields {
		if len(values) > 1 {
			delete(fields, name) // which of two was meant is not guessed
		}
	}
	return fields, nil
}
