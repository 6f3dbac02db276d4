package labels_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"testing"

	jsonv2 "github.com/go-json-experiment/json"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
)

// TestNoIdentifierLeaks: whatever a message, a log line or an encoder does with a patient or a content, no identifier
// comes out.
func TestNoIdentifierLeaks(t *testing.T) {
	c := potContent(t)
	c.Patient.NationalNumber = "943 476 5919"
	var out bytes.Buffer
	for _, verb := range []string{"%v", "%+v", "%#v", "%s", "%q", "%d", "%x", "%T"} {
		_, _ = fmt.Fprintf(&out, verb+"\n", c.Patient)
		_, _ = fmt.Fprintf(&out, verb+"\n", &c.Patient)
		_, _ = fmt.Fprintf(&out, verb+"\n", c)
		_, _ = fmt.Fprintf(&out, verb+"\n", []labels.Content{c})
	}
	_, _ = fmt.Fprintln(&out, c.Patient.String(), errors.New(fmt.Sprint(c)))
	l := layout(t, "pot-50x25")
	picture, err := drawer(t).Draw(l, c, labels.Options{DotsPerMM: 8})
	require.NoError(t, err)
	_, _ = fmt.Fprintf(&out, "%v %+v %#v %s", picture, picture, picture, []*labels.Picture{picture})
	slog.New(slog.NewTextHandler(&out, nil)).Info("drawn", "picture", picture)
	for _, handler := range []slog.Handler{slog.NewTextHandler(&out, nil), slog.NewJSONHandler(&out, nil)} {
		slog.New(handler).Info("label", "patient", c.Patient, "content", c)
	}
	for _, encode := range []func(any) ([]byte, error){json.Marshal, func(v any) ([]byte, error) { return jsonv2.Marshal(v) }} {
		encoded, err := encode(struct{ Patient labels.Patient }{c.Patient})
		require.NoError(t, err)
		out.Write(encoded)
	}
	for _, secret := range []string{"Halvorsen", "Ingrid", "1961", "40118223", "943 476", "48616c"} {
		require.NotContains(t, out.String(), secret)
	}
	require.Contains(t, out.String(), "[patient]")
}

// TestErrorsNameNoPatient: an error of drawing goes into logs.
func TestErrorsNameNoPatient(t *testing.T) {
	d := drawer(t)
	for _, family := range []string{"Halvor" + strings.Repeat("\u2031", 40), "Halvor\x00sen", "Halvorsen\u202e", "Halvorsenก"} {
		c := contentFor(t, layout(t, "piece-22x15"))
		c.Patient.Family = family
		_, err := d.Draw(layout(t, "piece-22x15"), c, labels.Options{DotsPerMM: 8})
		require.Error(t, err)
		for _, secret := range []string{"Halvor", "1961"} {
			require.NotContains(t, err.Error(), secret)
		}
	}
}
