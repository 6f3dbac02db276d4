package broker

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"time"
)

// serverLog passes the server's warnings and errors on. Its notices are about itself and would drown ours; subjects
// and names of clients are all that its lines hold of ours, never a message.
type serverLog struct {
	log   *slog.Logger
	fatal chan string // the first thing that keeps the server from running

	mu      sync.Mutex
	window  time.Time // when the lines began to be counted
	written int
	left    int // lines that were left out
}

// A stranger who tries passwords, or a client that asks for what it may not, must not fill the disk with lines about it. Ours.
const (
	mostLines = 60
	perTime   = time.Minute
)

// room reports whether a line may be written now; left says how many were left out before it.
func (l *serverLog) room(now time.Time) (yes bool, left int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if now.Sub(l.window) >= perTime || now.Before(l.window) {
		left = l.left
		l.window, l.written, l.left = now, 0, 0
	}
	if l.written >= mostLines {
		l.left++
		return false, 0
	}
	l.written++
	return true, left
}

func (l *serverLog) say(level slog.Level, text string) {
	yes, left := l.room(time.Now())
	if left > 0 {
		l.log.Warn("NATS server: lines were left out, there were too many", "lines", left)
	}
	if yes {
		l.log.Log(context.Background(), level, "NATS server", "says", text)
	}
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
	l.say(slog.LevelWarn, fmt.Sprintf(format, v...))
}

func (l *serverLog) Errorf(format string, v ...any) {
	l.say(slog.LevelError, fmt.Sprintf(format, v...))
}

// Fatalf is how the server says that it cannot go on, such as an address in use. It must not end our process.
func (l *serverLog) Fatalf(format string, v ...any) {
	select {
	case l.fatal <- fmt.Sprintf(format, v...):
	default:
		l.Errorf(format, v...)
	}
}
