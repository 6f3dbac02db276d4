package broker_test

import (
	"context"
	"encoding/json"
	"errors"
	"testing"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/micro"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events/broker"
)

var whats = []string{"case", "pot", "flags", "chase", "codes", "proof", "events"}

func answering(t *testing.T, handle broker.AskHandler) (*nats.Conn, *broker.Answerer) {
	t.Helper()
	s := started(t, t.TempDir())
	conn, err := s.ConnectToAnswer("ask")
	require.NoError(t, err)
	a, err := broker.ServeQuestions(conn, "1.2.3", whats, handle, nil)
	require.NoError(t, err)
	t.Cleanup(func() { _ = a.Stop(context.Background()) })
	client, _ := connect(t, s)
	return client, a
}

func TestEveryQuestionReachesTheHandler(t *testing.T) {
	client, _ := answering(t, func(_ context.Context, q broker.Question) ([]byte, error) {
		return []byte(q.Clinic + " " + q.What + " " + string(q.Request)), nil
	})
	for _, what := range whats {
		msg, err := client.RequestWithContext(within(t), "trail.v1.HCX.ask."+what, []byte(`{"name":"HCX-26-00001"}`))
		require.NoError(t, err)
		require.Equal(t, "HCX "+what+` {"name":"HCX-26-00001"}`, string(msg.Data))
	}
	_, err := client.RequestWithContext(within(t), "trail.v1.HCX.ask.weather", nil)
	require.ErrorIs(t, err, nats.ErrNoResponders)
}

func TestTheServiceTellsOfItself(t *testing.T) {
	client, _ := answering(t, nil)
	msg, err := client.RequestWithContext(within(t), "$SRV.INFO.trail", nil)
	require.NoError(t, err)
	var info micro.Info
	require.NoError(t, json.Unmarshal(msg.Data, &info))
	require.Equal(t, "trail", info.Name)
	require.Equal(t, "1.2.3", info.Version)
	var subjects []string
	for _, endpoint := range info.Endpoints {
		subjects = append(subjects, endpoint.Subject)
	}
	require.ElementsMatch(t, []string{"trail.v1.*.ask.case", "trail.v1.*.ask.pot", "trail.v1.*.ask.flags", "trail.v1.*.ask.chase",
		"trail.v1.*.ask.codes", "trail.v1.*.ask.proof", "trail.v1.*.ask.events"}, subjects)
}

func TestAnswersThatAreNone(t *testing.T) {
	client, _ := answering(t, func(_ context.Context, q broker.Question) ([]byte, error) {
		switch q.What {
		case "case":
			return nil, &broker.AskError{Status: 404, Code: "not-found", Field: "name", Text: "No such case."}
		case "events":
			return make([]byte, 5<<20), nil
		}
		return nil, errors.New("open /secret/place: no such file")
	})
	for _, row := range []struct{ subject, status, says string }{
		{"trail.v1.MBY.ask.case", "404", `{"error":{"code":"not-found","field":"name","text":"No such case."}}`},
		{"trail.v1.MBY.ask.pot", "500", `{"error":{"code":"internal","field":"","text":"pottrail failed at this; its log says more."}}`},
		{"trail.v1.MBY.ask.events", "413", `{"error":{"code":"too-large","field":"","text":"The answer is too long for one message; ask for less with the filters."}}`},
		{"trail.v1.mby.ask.pot", "400", `{"error":{"code":"bad-clinic","field":"subject","text":"The subject names no clinic: 'm' cannot stand at position 1 of a clinic key."}}`},
	} {
		msg, err := client.RequestWithContext(within(t), row.subject, nil)
		require.NoError(t, err)
		require.Equal(t, row.status, msg.Header.Get(micro.ErrorCodeHeader))
		require.Equal(t, row.says, string(msg.Data))
	}
}

func TestStoppingAnswersWhatWasAsked(t *testing.T) {
	asked, finish := make(chan struct{}), make(chan struct{})
	client, a := answering(t, func(context.Context, broker.Question) ([]byte, error) {
		close(asked)
		<-finish
		return []byte("{}"), nil
	})
	answered := make(chan error, 1)
	go func() {
		_, err := client.RequestWithContext(within(t), "trail.v1.MBY.ask.case", nil)
		answered <- err
	}()
	<-asked
	stopped := make(chan error, 1)
	go func() { stopped <- a.Stop(within(t)) }()
	close(finish)
	require.NoError(t, <-stopped)
	require.NoError(t, <-answered)
}
