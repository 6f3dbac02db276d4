package daemon

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// TestAPorterAtAPhone: what somebody with one role is answered at a screen, signed in, signed out, and not there at all.
func TestAPorterAtAPhone(t *testing.T) {
	d := atWork(t, 0)
	r := &room{running: d}
	lists := "porter = [\"porter.lund\"]\ncoordinator = [\"desk.moor\"]\nclinician = [\"dr.varga\"]\noperator = [\"nurse.osei\"]\nadministrator = [\"admin.falk\"]\n"
	opened := sampleOf(t, tracker.Kinds()[0], "desk.moor")
	for _, v := range r.record(t, ask.Actor{}, adopting(time.Now().Add(-time.Hour), "admin.falk", withStaff(lists)), opened) {
		require.True(t, v.OK, "%v", v.Error)
	}
	admin := firstScreen(t, d)
	phone := enrolled(t, d, "phone-3", "porter.lund", "918273")
	_, err := d.service.AddStaff(t.Context(), ask.StaffRequest{Key: "desk.moor", PIN: "528163", By: "admin.falk", Station: "desk-1"})
	require.NoError(t, err)
	scan := func(by string) string {
		return string(events.Encode(anEvent(tracker.KindCustodyTaken, time.Now(), by, "phone-3", &tracker.CustodyTaken{Place: "hatch"}, "MBY-26-00001-A")))
	}
	strike := func(by string) string {
		return string(events.Encode(anEvent(tracker.KindEventStruck, time.Now(), by, "phone-3", &tracker.EventStruck{Event: opened.ID, Why: "wrong"}, caseOne)))
	}
	record := func(s *screen, body string) (int, string) {
		status, _, said := s.send("POST", "/v1/events", body, "application/json")
		return status, said
	}
	get := func(s *screen, path string) (int, string) {
		status, _, said := s.get(path)
		return status, said
	}
	status, _, _ := phone.post("/sign-in", "badge", "B:porter.lund", "pin", "918273")
	require.Equal(t, 303, status)

	for path, want := range map[string]int{"/v1/case/MBY-26-00001": 403, "/v1/pot/MBY-26-00001-A": 403, "/v1/flags": 403, "/v1/flags?kind=bag-short": 200, "/v1/flags?kind=discordant": 403,
		"/v1/chase": 403, "/v1/codes/MBY-26-00001-A": 200, "/v1/proof/MBY-26-00001": 403, "/v1/events": 403, "/v1/live": 403, "/": 403, "/case/MBY-26-00001": 403} {
		status, said := get(phone, path)
		require.Equal(t, want, status, "%s: %s", path, said)
		if want == 403 {
			require.Contains(t, said, "Ask the coordinator", path)
			require.NotContains(t, said, "thyroid", path)
		}
	}
	status, said := record(phone, scan("porter.lund"))
	require.Equal(t, 200, status, said)
	status, said = record(phone, strike("porter.lund"))
	require.Equal(t, 403, status, said)
	require.Contains(t, said, `"code":"right-missing","field":"by","text":"Striking an event is for `)
	require.Contains(t, said, "and the protocol has porter.lund as a porter. Ask the coordinator, or the administrator")
	status, said = record(phone, "["+strike("porter.lund")+","+scan("dr.varga")+"]")
	require.Equal(t, 200, status, "each by itself")
	require.Contains(t, said, "right-missing")
	require.Contains(t, said, `"ok":true`)

	_, _, _ = phone.post("/sign-out")
	late := events.Encode(anEvent(tracker.KindPotFound, time.Now().Add(-time.Second), "porter.lund", "phone-3", &tracker.PotFound{}, "MBY-26-00001-A"))
	status, said = record(phone, string(late))
	require.Equal(t, 200, status, "a queue outlives a sign-in: %s", said)
	status, said = record(phone, strike("desk.moor"))
	require.Equal(t, 403, status)
	require.Contains(t, said, "not-signed-in")
	require.Contains(t, said, "desk.moor was not signed in at phone-3 when this happened")
	status, _ = get(phone, "/v1/codes/MBY-26-00001-A")
	require.Equal(t, 401, status)

	stranger := newScreen(t, d)
	for _, body := range []string{scan("porter.lund"), strike("desk.moor"), "nonsense"} {
		status, said = record(stranger, body)
		require.Equal(t, 401, status, said)
		require.NotContains(t, said, "desk.moor")
		require.NotContains(t, said, "coordinator")
	}
	refused, err := d.service.people.refused()
	require.NoError(t, err)
	require.Len(t, refused.Refused, 3, "what nobody sent is not among them")
	doubts, err := d.service.Doubts(t.Context(), ask.DoubtsRequest{})
	require.NoError(t, err)
	require.Len(t, doubts.Doubts, 1, "the scan in the clinician's name")
	require.Equal(t, "dr.varga", doubts.Doubts[0].By)
	require.Equal(t, "porter.lund", doubts.Doubts[0].SignedIn)

	status, _ = get(admin, "/v1/case/MBY-26-00001")
	require.Equal(t, 403, status, "who sets up does not read results by that alone")
	status, _, _ = phone.post("/sign-in", "badge", "B:desk.moor", "pin", "528163")
	require.Equal(t, 303, status)
	status, said = get(phone, "/v1/case/MBY-26-00001")
	require.Equal(t, 200, status)
	require.Contains(t, said, "thyroid")
	status, said = record(phone, strike("desk.moor"))
	require.Equal(t, 200, status, said)
}
