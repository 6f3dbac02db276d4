package daemon

import (
	"context"
	"os"
	"testing"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/nats-io/nkeys"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/events/broker"
	"github.com/pottrail/pottrail/tracker"
)

// TestWhoAsksOverNATS: the user of nats.json is the owner of the folder, who vouches for whom is set up; an account is its role, and
// that also while nobody signs in yet.
func TestWhoAsksOverNATS(t *testing.T) {
	r := staffed(t)
	porter, lab := broker.Sender{Name: "hatch-scanner", Role: "porter"}, broker.Sender{Name: "tarn-road", Role: "laboratory"}
	chase := func(from broker.Sender) (code string) {
		_, err := r.service.askOverNATS(context.Background(), broker.Question{Clinic: "MBY", What: "chase", Request: []byte("{}"), From: from})
		if err == nil {
			return "answered"
		}
		var told *broker.AskError
		require.ErrorAs(t, err, &told)
		require.Equal(t, 403, told.Status)
		return told.Code
	}
	record := func(from broker.Sender, e *tracker.Event) string {
		answer := r.service.recordOverNATS(context.Background(), broker.RecordRequest{Clinic: "MBY", Data: events.Encode(e), From: from})
		var v events.Verdict
		require.NoError(t, json.Unmarshal(answer, &v), string(answer))
		if v.OK {
			return "recorded"
		}
		return string(v.Error.Code)
	}
	for name, force := range map[string]bool{"before anybody is set up": false, "once people sign in": true} {
		t.Run(name, func(t *testing.T) {
			r.service.vouch = &gate{off: !force, people: everybodySetUp()}
			require.Equal(t, "answered", chase(broker.Sender{}))
			require.Equal(t, "right-missing", chase(porter))
			require.Equal(t, "right-missing", chase(lab))
			require.Equal(t, "answered", chase(broker.Sender{Name: "desk", Role: "coordinator"}))
			require.Equal(t, "right-missing", chase(broker.Sender{Name: "x", Role: "of no such word"}))
			now := time.Now()
			issued := func() *tracker.Event {
				return anEvent(tracker.KindResultIssued, now, staffWith(t, r, tracker.LaboratoryStaff), "system", &tracker.ResultIssued{Stage: "final"}, caseOne)
			}
			require.Equal(t, "right-missing", record(porter, issued()))
			require.Equal(t, "recorded", record(lab, issued()))
			require.Equal(t, "recorded", record(broker.Sender{}, issued()))
			taken := anEvent(tracker.KindCustodyTaken, now, staffWith(t, r, tracker.Porters), "hatch", &tracker.CustodyTaken{Place: "hatch"}, caseOne+"-A")
			require.Equal(t, "recorded", record(broker.Sender{Name: "q", Role: "quality"}, taken), "what happened by hand is recorded whoever sends it")
		})
	}
}

// staffWith is somebody of a role.
func staffWith(t *testing.T, r *room, role tracker.Roles) string {
	t.Helper()
	for _, key := range everybodySetUp() {
		if r.service.rules("MBY").RolesOf(key)&role != 0 {
			return key
		}
	}
	t.Fatalf("nobody is %s", role)
	return ""
}

// TestAChangeOfClientsThatCannotBeKeptChangesNothing: neither who is let in, nor the list.
func TestAChangeOfClientsThatCannotBeKeptChangesNothing(t *testing.T) {
	r := newRoom(t)
	f, err := prepare(t.TempDir(), false)
	require.NoError(t, err)
	require.NoError(t, os.Chmod(f.dir, 0o700))
	l, err := openLink(f, config.NATS{Listen: "127.0.0.1:0", MaxStore: 64 << 20}, nil, nil, r.service, "v1.2.3", false, r.service.log)
	require.NoError(t, err)
	t.Cleanup(l.stop)
	key := func() string {
		pair, err := nkeys.CreateUser()
		require.NoError(t, err)
		public, err := pair.PublicKey()
		require.NoError(t, err)
		return public
	}
	add := func(name string) error {
		_, err := r.service.AddClient(t.Context(), ask.AddClientRequest{Name: name, Role: "porter", Clinics: []string{"MBY", "MBY"}, Key: key()})
		return err
	}
	names := func() (list []string) {
		answer, err := r.service.ListClients(t.Context(), ask.ListClientsRequest{})
		require.NoError(t, err)
		kept, err := f.clients()
		require.NoError(t, err)
		require.Len(t, kept, len(answer.Clients))
		for _, c := range answer.Clients {
			require.Equal(t, []string{"MBY"}, c.Clinics)
			list = append(list, c.Name)
		}
		return list
	}
	require.NoError(t, add("hatch-scanner"))
	require.Error(t, add("HATCH"))
	require.Equal(t, []string{"hatch-scanner"}, names())
	require.NoError(t, os.Mkdir(f.path(fileClients+".part"), 0o700)) // in the way of the new file
	require.Error(t, add("tarn-road"))
	_, err = r.service.RemoveClient(t.Context(), ask.RemoveClientRequest{Name: "hatch-scanner"})
	require.Error(t, err)
	require.Equal(t, []string{"hatch-scanner"}, names())
	require.NoError(t, os.Remove(f.path(fileClients+".part")))
	require.NoError(t, add("tarn-road"))
	require.Equal(t, []string{"hatch-scanner", "tarn-road"}, names())
}
