package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/go-json-experiment/json"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
)

// client asks the daemon that owns the data folder, through its socket.
type client struct {
	http   *http.Client
	folder string
}

func (a *app) client() *client {
	folder := a.options.Folder.Dir
	transport := &http.Transport{
		DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) { return daemon.DialSocket(ctx, folder) },
	}
	return &client{http: &http.Client{Transport: transport, Timeout: 2 * time.Minute}, folder: folder}
}

// goneError says that no daemon answers.
type goneError struct {
	folder string
	err    error
}

func (e *goneError) Error() string {
	return fmt.Sprintf("no daemon answers for the data folder %s: %v", e.folder, e.err)
}
func (e *goneError) Unwrap() error { return e.err }

func (e *goneError) hint() string {
	return fmt.Sprintf("start it with `pottrail serve --data %s`, or name another folder with --data", e.folder)
}

// do sends a request; status tells refusals from answers.
func (c *client) do(ctx context.Context, method, path string, query url.Values, contentType string, body []byte) (status int, answer []byte, err error) {
	address := url.URL{Scheme: "http", Host: "pottrail", Path: path, RawQuery: query.Encode()}
	request, err := http.NewRequestWithContext(ctx, method, address.String(), bytes.NewReader(body))
	if err != nil {
		return 0, nil, fmt.Errorf("ask %s: %w", path, err)
	}
	if contentType != "" {
		request.Header.Set("Content-Type", contentType)
	}
	if method == http.MethodPost {
		request.Header.Set("X-Sent-At", time.Now().Format(time.RFC3339Nano))
	}
	response, err := c.http.Do(request)
	if err != nil {
		var inner *url.Error
		if errors.As(err, &inner) {
			err = inner.Err
		}
		return 0, nil, &goneError{c.folder, err}
	}
	defer response.Body.Close()
	if answer, err = io.ReadAll(response.Body); err != nil {
		return 0, nil, &goneError{c.folder, err}
	}
	return response.StatusCode, answer, nil
}

// get asks one question and reads its answer into the value.
func (c *client) get(ctx context.Context, path string, query url.Values, into any) error {
	status, body, err := c.do(ctx, http.MethodGet, path, query, "", nil)
	return readAnswer(status, body, err, into)
}

// post sends a request of the socket's own routes.
func (c *client) post(ctx context.Context, path string, request, into any) error {
	body, err := json.Marshal(request)
	if err != nil {
		return fmt.Errorf("request for %s: %w", path, err)
	}
	status, answer, err := c.do(ctx, http.MethodPost, path, nil, "application/json", body)
	return readAnswer(status, answer, err, into)
}

func readAnswer(status int, body []byte, err error, into any) error {
	if err != nil {
		return gone(err)
	}
	if status == http.StatusOK {
		if err := json.Unmarshal(body, into); err != nil {
			return couldNot(fmt.Errorf("the daemon's answer cannot be read: %w", err), "is it of another version? `pottrail version` tells")
		}
		return nil
	}
	refused := refusalIn(body)
	switch {
	case refused.Text == "":
		return couldNot(fmt.Errorf("the daemon answered with status %d", status), "its log says more")
	case status == http.StatusBadRequest || status == http.StatusRequestEntityTooLarge:
		return unreadable("%s", refused.Text)
	}
	refused.Kind = kindOf(status)
	if refused.Code == string(events.CodeLedgerDamaged) {
		return couldNot(&refused, "what to do: "+store.DamagedProcedure)
	}
	return couldNot(&refused, "")
}

// refusalIn reads why the daemon did not answer; it is empty when it does not say.
func refusalIn(body []byte) ask.Error {
	var refused struct {
		Error ask.Error `json:"error"`
	}
	if json.Unmarshal(body, &refused) != nil {
		return ask.Error{}
	}
	return refused.Error
}

// gone turns a daemon that does not answer into exit 3 with what to do.
func gone(err error) error {
	var g *goneError
	if errors.As(err, &g) {
		return couldNot(err, g.hint())
	}
	return couldNot(err, "")
}

// question asks one of the questions by its word, over HTTP.
func (c *client) question(ctx context.Context, what string, r ask.Request, into any) error {
	for _, q := range ask.Questions() {
		if q.What != what {
			continue
		}
		path, query := q.Path, r.Query()
		if q.Named {
			query.Del("name")
			path = strings.Replace(path, "{name}", r.Name, 1)
		}
		return c.get(ctx, path, query, into)
	}
	return fmt.Errorf("there is no question %q", what)
}

// printJSON prints an answer as one line of JSON.
func (a *app) printJSON(answer any) error {
	line, err := json.Marshal(answer, json.Deterministic(true))
	if err != nil {
		return fmt.Errorf("answer as JSON: %w", err)
	}
	_, err = fmt.Fprintf(a.Out, "%s\n", line)
	return err
}
