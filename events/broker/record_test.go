package broker_test

import (
	"context"
	"encoding/json"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/events/broker"
)

// recordAll is a handler that numbers what is well formed.
func recordAll() broker.RecordHandler {
	var mu sync.Mutex
	seq := uint64(0)
	return func(_ context.Context, r broker.RecordRequest) []byte {
		results, err := events.DecodeBatch(r.Data)
		if err != nil {
			return events.AppendVerdict(nil, events.Refused("", err))
		}
		mu.Lock()
		defer mu.Unlock()
		verdicts := make([]events.Verdict, len(results))
		for i, result := range results {
			if result.Refusal != nil {
				verdicts[i] = events.Refused(result.ID, result.Refusal)
				continue
			}
			seq++
			verdicts[i] = events.Verdict{ID: result.ID, OK: true, Seq: seq}
		}
		return events.AppendAnswer(nil, events.ShapeOf(r.Data), verdicts)
	}
}

const event = `{"id":"0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77","kind":"note.added","clinic":"MBY","at":"2026-03-06T15:42:10Z","by":"nurse.osei","station":"room-2","items":["MBY-26-00417"],"data":{"text":"x"}}`

func recording(t *testing.T, handle broker.RecordHandler) (*nats.Conn, *broker.Recorder) {
	t.Helper()
	s := started(t, t.TempDir())
	conn, err := s.ConnectToAnswer("record")
	require.NoError(t, err)
	r, err := broker.ServeRecord(conn, handle, nil)
	require.NoError(t, err)
	t.Cleanup(func() { r.Stop(context.Background()) })
	client, _ := connect(t, s)
	return client, r
}

func TestVerdictsComeBackInTheShapeOfTheRequest(t *testing.T) {
	client, _ := recording(t, recordAll())
	for _, row := range []struct{ name, request, answer string }{
		{"one", event, `{"id":"0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77","ok":true,"seq":1,"raised":[],"cleared":[]}`},
		{"an array", "[" + event + "]", `[{"id":"0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77","ok":true,"seq":2,"raised":[],"cleared":[]}]`},
		{"nothing", "", `{"id":"","ok":false,"error":{"code":"bad-json","field":"","text":"The request is empty; one event, a JSON array of events, or one event a line is wanted."}}`},
	} {
		msg, err := client.RequestWithContext(within(t), "trail.v1.MBY.record", []byte(row.request))
		require.NoError(t, err, row.name)
		require.Equal(t, row.answer, string(msg.Data), row.name)
	}
}

func TestARequestOverTheLimitIsRefused(t *testing.T) {
	client, _ := recording(t, recordAll())
	msg, err := client.RequestWithContext(within(t), "trail.v1.MBY.record", []byte(strings.Repeat(" ", events.MaxRequest)+event))
	require.NoError(t, err, "there is room for it in a message, so that the refusal can be told")
	var verdict events.Verdict
	require.NoError(t, json.Unmarshal(msg.Data, &verdict))
	require.Equal(t, events.CodeTooLarge, verdict.Error.Code)
}

func TestVerdictsTooLongForOneMessage(t *testing.T) {
	client, _ := recording(t, func(context.Context, broker.RecordRequest) []byte { return make([]byte, 5<<20) })
	msg, err := client.RequestWithContext(within(t), "trail.v1.MBY.record", []byte(event))
	require.NoError(t, err)
	var verdict events.Verdict
	require.NoError(t, json.Unmarshal(msg.Data, &verdict))
	require.Equal(t, events.CodeTooLarge, verdict.Error.Code)
	require.Contains(t, verdict.Error.Text, "in smaller parts")
}

func TestTheHandlerIsToldClinicAndClock(t *testing.T) {
	got := make(chan broker.RecordRequest, 1)
	client, _ := recording(t, func(_ context.Context, r broker.RecordRequest) []byte {
		got <- r
		return []byte("{}")
	})
	msg := nats.NewMsg("trail.v1.HCX.record")
	msg.Header.Set("Sent-At", "2026-03-06T15:42:11.5+01:00")
	msg.Data = []byte(event)
	_, err := client.RequestMsgWithContext(within(t), msg)
	require.NoError(t, err)
	r := <-got
	require.Equal(t, "HCX", r.Clinic)
	require.Equal(t, event, string(r.Data))
	require.True(t, time.Date(2026, 3, 6, 14, 42, 11, 500_000_000, time.UTC).Equal(r.SentAt))

	msg.Header.Set("Sent-At", "yesterday")
	answer, err := client.RequestMsgWithContext(within(t), msg)
	require.NoError(t, err)
	require.Contains(t, string(answer.Data), `"id":"0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77","ok":false,"error":{"code":"bad-time","field":"Sent-At"`)
	require.Empty(t, got, "the handler did not see it")

	require.NoError(t, client.Publish("trail.v1.HCX.record", []byte(event)))
	require.True(t, (<-got).SentAt.IsZero(), "an event without an asker is recorded as well")
}

// TestManyRequestsWaitTogether: all of 256 clients' requests are with the handler before the first is answered, as
// when they wait for one commit.
func TestManyRequestsWaitTogether(t *testing.T) {
	const clients = 256
	var here sync.WaitGroup
	here.Add(clients)
	client, _ := recording(t, func(context.Context, broker.RecordRequest) []byte {
		here.Done()
		here.Wait()
		return []byte("{}")
	})
	ctx := within(t)
	errs := make(chan error, clients)
	for range clients {
		go func() {
			_, err := client.RequestWithContext(ctx, "trail.v1.MBY.record", []byte(event))
			errs <- err
		}()
	}
	for range clients {
		require.NoError(t, <-errs)
	}
}

func TestStoppingAnswersWhatWasTaken(t *testing.T) {
	taken, finish := make(chan struct{}), make(chan struct{})
	client, r := recording(t, func(ctx context.Context, _ broker.RecordRequest) []byte {
		close(taken)
		<-finish
		return []byte("{}")
	})
	answered := make(chan error, 1)
	go func() {
		_, err := client.RequestWithContext(within(t), "trail.v1.MBY.record", []byte(event))
		answered <- err
	}()
	<-taken
	stopped := make(chan struct{})
	go func() {
		r.Stop(within(t))
		close(stopped)
	}()
	close(finish)
	<-stopped
	require.NoError(t, <-answered)
	_, err := client.RequestWithContext(within(t), "trail.v1.MBY.record", []byte(event))
	require.ErrorIs(t, err, nats.ErrNoResponders, "and nothing is taken afterwards")
}

func TestStoppingEndsHandlersThatDoNot(t *testing.T) {
	taken, ended := make(chan struct{}), make(chan struct{})
	client, r := recording(t, func(ctx context.Context, _ broker.RecordRequest) []byte {
		close(taken)
		<-ctx.Done()
		close(ended)
		return []byte("{}")
	})
	require.NoError(t, client.Publish("trail.v1.MBY.record", []byte(event)))
	<-taken
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	r.Stop(ctx)
	<-ended
}
