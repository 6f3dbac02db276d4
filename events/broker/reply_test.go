package broker_test

import (
	"testing"

	"github.com/nats-io/nats.go"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events/broker"
)

// TestTheOwnersAnswersCannotBeSentElsewhere: who asks says where the answer goes. Were it sent there by one who may do everything,
// the owner's user could put answers into a stream, which it may not write to.
func TestTheOwnersAnswersCannotBeSentElsewhere(t *testing.T) {
	s, _ := listening(t)
	handle := saying()
	for _, row := range []struct {
		name    string
		connect func(string) (*nats.Conn, error)
		safe    bool
	}{
		{"as it is", s.ConnectToAnswer, true},
		{"the twin: by a connection that may do everything", s.Connect, false},
	} {
		t.Run(row.name, func(t *testing.T) {
			inside, err := row.connect("answers")
			require.NoError(t, err)
			recorder, err := broker.ServeRecord(inside, handle.record, nil)
			require.NoError(t, err)
			answerer, err := broker.ServeQuestions(inside, "1.2.3", []string{"codes"}, handle.ask, nil)
			require.NoError(t, err)
			conn, err := nats.Connect(s.URL(), nats.UserInfo(user, password))
			require.NoError(t, err)
			t.Cleanup(conn.Close)
			for _, subject := range []string{"trail.v1.MBY.record", "trail.v1.MBY.ask.codes", "$SRV.PING", "$SRV.INFO.trail"} {
				for _, reply := range []string{"trail.v1.MBY.event.note.added", "$JS.API.STREAM.DELETE.FLAGS"} {
					require.NoError(t, conn.PublishRequest(subject, reply, nil))
				}
				_, err = conn.RequestWithContext(within(t), subject, nil)
				require.NoError(t, err, subject)
			}
			recorder.Stop(within(t))
			require.NoError(t, answerer.Stop(within(t)))
			require.NoError(t, inside.Flush())
			_, js := connect(t, s)
			trail, err := js.Stream(within(t), broker.StreamTrail)
			require.NoError(t, err)
			_, err = js.Stream(within(t), broker.StreamFlags)
			require.NoError(t, err, "nobody deleted it")
			if row.safe {
				require.EqualValues(t, 5, trail.CachedInfo().State.Msgs, "nobody put anything in")
				return
			}
			require.Greater(t, trail.CachedInfo().State.Msgs, uint64(5))
		})
	}
}
