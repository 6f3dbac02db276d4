package main

import (
	"errors"
	"fmt"
	"regexp"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/rogpeppe/go-internal/testscript"

	"github.com/pottrail/pottrail/cmd/internal/daemon"
)

// nats FOLDER KEYFILE SUBJECT REQUEST PATTERN sends a request as any NATS client with that key does; the pattern is to be found
// in the answer, or in what the server says instead.
func scriptNATS(ts *testscript.TestScript, neg bool, args []string) {
	credentials, err := daemon.ReadCredentials(ts.MkAbs(args[0]))
	ts.Check(err)
	said := askNATS(credentials.URL, ts.MkAbs(args[1]), args[2], args[3])
	if regexp.MustCompile(args[4]).MatchString(said) == neg {
		ts.Fatalf("%s: got %s", args[2], said)
	}
}

func askNATS(url, key, subject, request string) string {
	option, err := nats.NkeyOptionFromSeed(key)
	if err != nil {
		return err.Error()
	}
	forbidden := make(chan error, 1)
	conn, err := nats.Connect(url, option, nats.ErrorHandler(func(_ *nats.Conn, _ *nats.Subscription, err error) {
		select {
		case forbidden <- err:
		default:
		}
	}))
	if err != nil {
		return err.Error()
	}
	defer conn.Close()
	inbox := nats.NewInbox()
	answers := make(chan *nats.Msg, 1)
	if _, err := conn.ChanSubscribe(inbox, answers); err != nil {
		return err.Error()
	}
	if err := errors.Join(conn.PublishRequest(subject, inbox, []byte(request)), conn.Flush()); err != nil {
		return err.Error()
	}
	const patience = time.Minute
	select {
	case msg := <-answers:
		return fmt.Sprint(string(msg.Data), msg.Header.Get("Status"))
	case err := <-forbidden:
		return err.Error()
	case <-time.After(patience):
		return "nothing"
	}
}
