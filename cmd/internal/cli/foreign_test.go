package cli_test

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/cli"
)

// TestAForeignLabelIsRepeatedNowhere: a wristband scanned by mistake is refused over HTTP, over NATS and by every command
// that takes a code; no answer, no page, no log line and no export holds a part of it.
func TestAForeignLabelIsRepeatedNowhere(t *testing.T) {
	w := runWhole(t)
	const canary = "canary" // in every text, in some case
	texts := []string{"Canary^Qvistgaard^19610214", "CANARY-4417", "]Q1https://example.org/canary", "(8018)952123400000000017(8019)canary",
		"40118223canary", "MECARD:N:Canary;;", "X:canary", "P:can ary canary!", strings.Repeat("canary ", 40)}
	silent := func(where, said string) {
		t.Helper()
		require.NotContains(t, strings.ToLower(said), canary, where)
	}
	for _, text := range texts {
		for _, path := range []string{"/v1/codes/", "/v1/case/", "/v1/pot/", "/v1/proof/", "/case/"} {
			response, err := http.Get(w.http + path + url.PathEscape(text))
			require.NoError(t, err)
			body, err := io.ReadAll(response.Body)
			require.NoError(t, err)
			response.Body.Close()
			require.Equal(t, http.StatusBadRequest, response.StatusCode, path)
			silent(path, string(body))
			if path == "/v1/codes/" && !strings.HasPrefix(text, "P:") {
				require.Contains(t, string(body), "this is not one of our labels")
			}
		}
		name, err := json.Marshal(map[string]string{"name": text})
		require.NoError(t, err)
		for _, what := range []string{"codes", "case", "pot", "proof"} {
			answer := w.request(t, "trail.v1.MBY.ask."+what, string(name))
			require.Contains(t, answer, `"error"`)
			silent(what, answer)
		}
		for _, args := range [][]string{{"scan", text}, {"scan", "--json", text}, {"scan", "--step", "custody", "--place", "hatch", "--by", "porter.lund", text}, {"trail", text}} {
			var said bytes.Buffer
			code := cli.Run(t.Context(), append(args, "--data", w.folder), cli.Streams{In: strings.NewReader(""), Out: &said, Err: &said, Getenv: func(string) string { return "" }})
			require.Positive(t, code)
			silent(args[0], said.String())
		}
		// As the items of an event: the verdict repeats nothing either.
		event, err := json.Marshal(map[string]any{"id": "0199f1c2-7b1e-7c3a-9d55-00000000000f", "kind": "custody.taken", "clinic": "MBY",
			"at": "2026-03-06T09:00:00Z", "by": "porter.lund", "station": "hatch", "items": []string{text}, "data": map[string]string{"place": "hatch"}})
		require.NoError(t, err)
		verdict := w.request(t, "trail.v1.MBY.record", string(event))
		require.Contains(t, verdict, `"ok":false`)
		silent("verdict", verdict)
	}
	silent("export", w.get(t, "/v1/events"))
	w.stop()
	silent("log", w.log.String())
}

// TestLinesOfAScanner: lines may end with a carriage return alone, as on a serial line, and one without end is
// read to its end without being kept.
func TestLinesOfAScanner(t *testing.T) {
	w := runWhole(t)
	defer w.stop()
	require.Contains(t, w.request(t, "trail.v1.MBY.record", "["+opened+"]"), `"ok":true`)
	code, out := w.command(t, "MBY-26-00417-A\rMBY-26-00417\r\n\x02MBY-26-00417-A\x03\r"+strings.Repeat("MBY-26-00417-A ", 100_000)+"\rMBY-26-00417", "scan")
	require.Equal(t, 1, code)
	require.Equal(t, 3, strings.Count(out, "is a pot")+strings.Count(out, "is a case")-1, out)
	require.Equal(t, 1, strings.Count(out, "this is not one of our labels"), out)
}
