package printers

import (
	"bufio"
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"mime"
	"net"
	"net/http"
	"time"

	"github.com/pottrail/pottrail/labels/ipp"
)

// requestID is the number of every request: a connection carries one.
const requestID = 1

// mostHeader bounds what stands before an answer's message.
const mostHeader = 64 << 10

// departure is how much of a document has left this machine.
type departure int

const (
	stayed departure = iota // not one byte: nothing can have been printed
	partly                  // a part may have
	wholly                  // the other side acknowledged all of it
)

// httpStatus is an answer of the web server in front of a printer, instead of the printer's own.
type httpStatus int

// Error says what the number means to who looks after the printer.
func (s httpStatus) Error() string {
	return fmt.Sprintf("HTTP %d, %s", int(s), http.StatusText(int(s)))
}

// errGarbage is an answer that is none.
var errGarbage = errors.New("its answer cannot be read")

// exchange posts one request, with a document behind it or none, and reads the answer.
//
// It holds the connection itself and uses no [http.Client], so as to know what has left, and so that nothing is sent twice,
// sent elsewhere because of a redirect, or sent through a proxy.
func (p *printServer) exchange(ctx context.Context, m *ipp.Message, document []byte) (answer *ipp.Message, left departure, err error) {
	request, length, err := p.request(m, document)
	if err != nil {
		return nil, stayed, err
	}
	tcp, what, err := dial(ctx, p.address)
	if err != nil {
		return nil, stayed, &unreachable{what, err}
	}
	defer func() {
		if left == partly {
			_ = tcp.SetLinger(0) // what has not left yet must not leave after it has been given up
		}
		_ = tcp.Close()
	}()
	defer bind(ctx, tcp)()
	var conn net.Conn = tcp
	if p.tls != nil {
		secured := tls.Client(tcp, p.tls)
		if err := secured.HandshakeContext(ctx); err != nil {
			return nil, stayed, err
		}
		conn = secured
	}

	type written struct {
		n   int
		err error
	}
	done := make(chan written, 1)
	go func() {
		n, err := conn.Write(request)
		done <- written{n, err}
	}()
	answer, err = receive(conn)
	if err != nil || !answer.Status().Successful() {
		_ = tcp.SetWriteDeadline(past) // it has been answered or has broken off: the rest is not wanted
	}
	wrote := <-done // ends at the latest with ctx, by bind

	switch taken := err == nil && answer.Status().Successful(); {
	case wrote.n <= len(request)-length:
		left = stayed
	case wrote.n < len(request) || broken(err) || !acknowledged(ctx, tcp, taken):
		left = partly
	default:
		left = wholly
	}
	if err == nil && answer.Status().Successful() {
		err = wrote.err
	}
	return answer, left, err
}

// acknowledged reports whether the other side has got all that was written. A printer may answer when it has read the
// head alone: then the rest is waited for, since closing the connection would cut the document short.
func acknowledged(ctx context.Context, conn *net.TCPConn, wait bool) bool {
	for {
		n, err := unacknowledged(conn)
		if n == 0 || err != nil {
			return err == nil
		}
		if !wait || pause(ctx, lookInterval) != nil {
			return false
		}
	}
}

// request writes down what is sent: the head, the message, the document, whose length is returned.
func (p *printServer) request(m *ipp.Message, document []byte) (b []byte, length int, err error) {
	message, err := m.Encode()
	if err != nil {
		return nil, 0, err
	}
	r, err := http.NewRequest(http.MethodPost, p.url, io.MultiReader(bytes.NewReader(message), bytes.NewReader(document)))
	if err != nil {
		return nil, 0, err
	}
	r.ContentLength = int64(len(message) + len(document))
	r.Close = true
	r.Header.Set("Content-Type", "application/ipp")
	r.Header.Set("User-Agent", "pottrail")
	var out bytes.Buffer
	if err := r.Write(&out); err != nil {
		return nil, 0, err
	}
	return out.Bytes(), len(document), nil
}

// receive reads an answer of bounded length.
func receive(conn net.Conn) (*ipp.Message, error) {
	in := bufio.NewReader(io.LimitReader(conn, ipp.MostBytes+mostHeader))
	var r *http.Response
	for {
		var err error
		if r, err = http.ReadResponse(in, &http.Request{Method: http.MethodPost}); err != nil {
			return nil, err
		}
		if r.StatusCode >= 200 {
			break
		}
	}
	defer r.Body.Close()
	if r.StatusCode != http.StatusOK {
		return nil, httpStatus(r.StatusCode)
	}
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/ipp" {
		return nil, fmt.Errorf("%w: it is no answer of a printer", errGarbage)
	}
	b, err := io.ReadAll(io.LimitReader(r.Body, ipp.MostBytes+1))
	if err != nil {
		return nil, err
	}
	m, rest, err := ipp.Decode(b)
	switch {
	case err != nil:
		return nil, fmt.Errorf("%w: %w", errGarbage, err)
	case len(rest) > 0:
		return nil, fmt.Errorf("%w: %d bytes follow it", errGarbage, len(rest))
	case m.ID != requestID:
		return nil, fmt.Errorf("%w: it answers another request", errGarbage)
	}
	return m, nil
}

// questionLimit bounds one question without a document; see [longest] for where it comes from.
const questionLimit = 10 * time.Second

// ask puts a question without a document.
func (p *printServer) ask(ctx context.Context, m *ipp.Message) (*ipp.Message, error) {
	ctx, cancel := context.WithTimeout(ctx, questionLimit)
	defer cancel()
	answer, _, err := p.exchange(ctx, m, nil)
	return answer, err
}
