package printers

import (
	"context"
	"io"
	"net"
	"time"
)

// raw is a printer that prints what a TCP connection brings, usually at port 9100. Such a printer never answers, so this
// is all that can be known: the label has been taken if every byte, and the end behind them, was acknowledged by the
// printer's own network code, and the printer then closed its side too, or kept the connection sound for [quiet].
//
// Some printers keep the connection for minutes; waiting longer would hold up the next label and tell nothing more. A
// printer that cannot take the label throws the connection away, and on a local network that is seen within
// milliseconds. A printer that took the label and hangs cannot be told from one that is printing: the first scan of the
// label can.
type raw struct{ address string }

// Send dials, writes, ends its side, and waits for what [raw] says.
func (r *raw) Send(ctx context.Context, j Job) (err error) {
	if err := j.check(); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, longest)
	defer cancel()
	conn, what, err := dial(ctx, r.address)
	if err != nil {
		return notSent(what, err)
	}
	defer func() {
		if err != nil {
			_ = conn.SetLinger(0) // what has not left yet must not leave after it has been given up
		}
		_ = conn.Close()
	}()
	defer bind(ctx, conn)()

	n, err := conn.Write(j.Body)
	switch {
	case err != nil && n == 0:
		return notSent(r.address+" took nothing: is the printer ready?", err)
	case err != nil:
		return unknown(r.address+" did not take the whole label: look whether one came out", err)
	}
	if err := conn.CloseWrite(); err != nil {
		return unknown(r.address+" broke off: look whether a label came out", err)
	}
	if err := r.taken(ctx, conn); err != nil {
		return unknown(r.address+" did not confirm the whole label: look whether one came out", err)
	}
	return nil
}

// taken waits until the printer has all that was written.
func (r *raw) taken(ctx context.Context, conn *net.TCPConn) error {
	// What the printer says is read and dropped: closing a connection with something unread would reset it.
	closed := make(chan error, 1)
	go func() {
		_, err := io.Copy(io.Discard, conn)
		closed <- err
	}()
	ended := false
	defer func() {
		if !ended {
			_ = conn.SetReadDeadline(past)
			<-closed
		}
	}()

	tick := time.NewTicker(lookInterval)
	defer tick.Stop()
	var sound time.Time // since when all is acknowledged
	for {
		select {
		case err := <-closed:
			ended = true
			closed = nil
			if err != nil {
				return err
			}
		case now := <-tick.C:
			left, err := unacknowledged(conn)
			switch {
			case err != nil:
				return err
			case left > 0:
				sound = time.Time{}
			case ended && canTell, !sound.IsZero() && now.Sub(sound) >= quiet:
				return nil
			case sound.IsZero():
				sound = now
			}
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// Look opens a connection and closes it again.
func (r *raw) Look(ctx context.Context) (string, error) {
	conn, what, err := dial(ctx, r.address)
	if err != nil {
		return "", &unreachable{what, err}
	}
	_ = conn.Close()
	return r.address + " answers", nil
}
