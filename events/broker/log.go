package broker

import (
	"fmt"
	"log/slog"
	"strings"
)

// serverLog passes the server's warnings and errors on. Its notices are about itself and would drown ours; subjects
// and names of clients are all that its lines hold of ours, never a message.
type serverLog struct {
	log   *slog.Logger
	fatal chan string // the first thing that keeps the server from running
}

// plaintextNotice is said at every start of a server with a password. Ours is made by chance for each data folder, stands
// in a file that its owner alone can read, and never leaves the process but over loopback or TLS.
const plaintextNotice = "Plaintext passwords detected"

func (*serverLog) Noticef(string, ...any) {}
func (*serverLog) Debugf(string, ...any)  {}
func (*serverLog) Tracef(string, ...any)  {}

func (l *serverLog) Warnf(format string, v ...any) {
	if strings.HasPrefix(format, plaintextNotice) {
		return
	}
	l.log.Warn("NATS server", "says", fmt.Sprintf(format, v...))
}

func (l *serverLog) Errorf(format string, v ...any) {
	l.log.Error("NATS server", "says", fmt.Sprintf(format, v...))
}

// Fatalf is how the server says that it cannot go on, such as an address in use. It must not end our process.
func (l *serverLog) Fatalf(format string, v ...any) {
	select {
	case l.fatal <- fmt.Sprintf(format, v...):
	default:
		l.Errorf(format, v...)
	}
}
