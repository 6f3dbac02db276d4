package broker

import (
	"bytes"
	"log/slog"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
)

// TestTheServersLinesDoNotFillTheDisk: so many a minute, and then how many there were more.
func TestTheServersLinesDoNotFillTheDisk(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		l := &serverLog{log: slog.New(slog.NewTextHandler(&out, nil))}
		for range 1000 {
			l.Errorf("%s", "a stranger")
		}
		require.Equal(t, mostLines, strings.Count(out.String(), "a stranger"))
		<-time.After(perTime)
		l.Warnf("later")
		require.Contains(t, out.String(), "lines=940")
		require.Contains(t, out.String(), "later")
		l.Warnf("and on")
		require.Equal(t, 1, strings.Count(out.String(), "left out"))
	})
}
