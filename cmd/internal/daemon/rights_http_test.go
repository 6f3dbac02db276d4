package daemon

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/web"
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

// rightOfRoute says for each route which line of the table is asked there, or why none is.
var rightOfRoute = map[string]string{
	"GET /{$}": tracker.MaySeeBoard, "GET /case/{name}": tracker.MaySeeCase, "GET /v1/live": tracker.MaySeeBoard,
	"GET /v1/case/{name}": tracker.MaySeeCase, "GET /v1/pot/{name}": tracker.MaySeePot, "GET /v1/flags": tracker.MaySeeFlags, "GET /v1/chase": tracker.MaySeeChase,
	"GET /v1/codes/{name}": tracker.MaySeeCodes, "GET /v1/proof/{name}": tracker.MaySeeProof, "GET /v1/events": tracker.MaySeeEvents,
	"POST /v1/events":      "- each event by itself",
	"POST /v1/enrol":       "- the way in",
	"GET /v1/openapi.json": "- says nothing of anybody", "GET /healthz": "- says nothing of anybody", "GET /readyz": "- says nothing of anybody",
	"GET /static/{file}": "- says nothing of anybody", "GET /metrics": "- counts, of no thing and nobody", "POST /light": "- a colour",
	"GET /set-up": "- the way in", "POST /set-up": "- the way in", "GET /set-up/done": "- one's own screen", "GET /enrol": "- the way in", "POST /enrol": "- the way in",
	"GET /sign-in": "- the way in", "POST /sign-in": "- the way in", "POST /sign-out": "- the way out", "GET /trust": "- the way in", "GET /trust/{file}": "- the way in",
	"GET /staff": "- each part by its own right", "POST /staff": "- each deed by its own right", "/": "- nothing is there",
}

// TestEveryRouteHasItsRight walks all that is served over HTTP: what has no line in the table says why, and what has one is kept
// from a porter whom it does not name.
func TestEveryRouteHasItsRight(t *testing.T) {
	d := atWork(t, 0)
	r := &room{running: d}
	lists := "porter = [\"porter.lund\"]\ncoordinator = [\"desk.moor\"]\nclinician = [\"dr.varga\"]\noperator = [\"nurse.osei\"]\nlaboratory = [\"clerk.ilves\"]\nadministrator = [\"admin.falk\"]\n"
	for _, v := range r.record(t, ask.Actor{}, adopting(time.Now().Add(-time.Hour), "admin.falk", withStaff(lists)), sampleOf(t, tracker.Kinds()[0], "desk.moor")) {
		require.True(t, v.OK, "%v", v.Error)
	}
	door := guarded{d.service}
	server, err := web.New(web.Options{Service: door, Local: door, SignIn: d.service.staff, Board: door, Live: door, Health: &d.health, Metrics: d.service.counts.handler(), Log: d.o.Log})
	require.NoError(t, err)
	firstScreen(t, d)
	phone := enrolled(t, d, "phone-3", "porter.lund", "918273")
	status, _, _ := phone.post("/sign-in", "badge", "B:porter.lund", "pin", "918273")
	require.Equal(t, 303, status)
	for _, route := range server.AllRoutes() {
		key, told := rightOfRoute[route.Pattern]
		require.True(t, told, "%s: say in rightOfRoute which line of the table is asked there, or why none is", route.Pattern)
		if strings.HasPrefix(key, "- ") {
			continue
		}
		_, path, _ := strings.Cut(route.Pattern, " ")
		path = strings.NewReplacer("{name}", "MBY-26-00001-A", "{$}", "").Replace(path)
		if strings.HasPrefix(path, "/v1/proof") {
			path = "/v1/proof/MBY-26-00001"
		}
		status, _, said := phone.get(path)
		require.Equal(t, tracker.ReadRight(key).Roles&tracker.Porters == 0, status == 403, "%s: %d %s", route.Pattern, status, said)
	}
	status, _, said := phone.get("/staff")
	require.Equal(t, 200, status)
	require.NotContains(t, said, "admin.falk", "of people and screens a porter is told nothing")
}
