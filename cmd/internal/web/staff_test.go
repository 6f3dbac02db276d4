package web_test

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/canary"
	"github.com/pottrail/pottrail/cmd/internal/web"
)

// office answers what the page of people and screens asks, and notes what is done there.
type office struct {
	ask.Local
	done []string
	err  error
}

func (o *office) Staff(context.Context, ask.StaffListRequest) (*ask.StaffAnswer, error) {
	return &ask.StaffAnswer{Staff: []ask.StaffMember{
		{Key: "nurse.osei", Added: noon, AddedBy: "admin.falk"},
		{Key: "porter.lund", Added: noon, AddedBy: "admin.falk", Locked: []ask.Lock{{Station: "room-2", Wrong: 10, Last: noon, Opens: noon.Add(15 * time.Minute)}}},
		{Key: "lab.ito", Added: noon, AddedBy: "admin.falk", NoPIN: true}}}, o.err
}

func (o *office) Stations(context.Context, ask.StationsRequest) (*ask.StationsAnswer, error) {
	return &ask.StationsAnswer{Stations: []ask.Station{{Key: "room-2", Clinic: "MBY", Place: "room-2", Shared: true, Enrolled: noon, By: "admin.falk"}}}, o.err
}

func (o *office) Sessions(context.Context, ask.SessionsRequest) (*ask.SessionsAnswer, error) {
	return &ask.SessionsAnswer{Sessions: []ask.SessionShown{{Number: 7, Staff: "porter.lund", Station: "hatch", Since: noon, Last: noon, Idle: noon.Add(3 * time.Minute), Ends: noon.Add(12 * time.Hour)},
		{Number: 8, Staff: "nurse.osei", Station: "room-2", Since: noon, Last: noon, Ends: noon.Add(12 * time.Hour)}}}, o.err
}

func (o *office) Doubts(context.Context, ask.DoubtsRequest) (*ask.DoubtsAnswer, error) {
	return &ask.DoubtsAnswer{Doubts: []ask.Doubt{{Event: "x", Kind: "custody.taken", By: "porter.lund", At: noon, Station: "hatch", Why: "porter.lund was not signed in at hatch when this happened."}}}, o.err
}

func (o *office) Reads(context.Context, ask.ReadsRequest) (*ask.ReadsAnswer, error) {
	return &ask.ReadsAnswer{Reads: []ask.Read{{At: noon, By: "coordinator.wahl", Station: "desk-1", How: "find", Why: "the daily call"}}}, o.err
}

func (o *office) EndSession(_ context.Context, r ask.EndSessionRequest) (*ask.SessionsAnswer, error) {
	o.done = append(o.done, fmt.Sprintf("%+v", r))
	return &ask.SessionsAnswer{}, o.err
}

func (o *office) UnlockStaff(_ context.Context, r ask.StaffRequest) (*ask.StaffAnswer, error) {
	o.done = append(o.done, fmt.Sprintf("%+v", r))
	return &ask.StaffAnswer{}, o.err
}

func (o *office) EnrolStation(_ context.Context, r ask.EnrolStationRequest) (*ask.LinkAnswer, error) {
	o.done = append(o.done, fmt.Sprintf("%+v", r))
	return &ask.LinkAnswer{Link: "http://desk:4460/enrol#k3y-of-the-link", Until: noon, Name: r.Key}, o.err
}

// staffed is a server with an office, and somebody who is signed in at it.
func staffed(t *testing.T, log slog.Handler) (*web.Server, *office, *house, *browser) {
	t.Helper()
	f, in, o := newFake(), newHouse(), &office{}
	f.board = board()
	s, err := web.New(web.Options{Service: f, Local: o, SignIn: in, Board: f, Live: f, Health: f, Log: slog.New(log), Version: "v9.9.9"})
	require.NoError(t, err)
	b := newBrowser(s.Pages()).at("key-of-room-2")
	b.signIn(t, "nurse.osei", "271828")
	return s, o, in, b
}

func TestPeopleAndScreensAreListed(t *testing.T) {
	_, o, _, b := staffed(t, slog.DiscardHandler)
	body := b.get("/staff").Body.String()
	for _, want := range []string{"porter.lund", "locked at room-2 after 10 wrong PINs", "needs a new PIN: pottrail staff pin lab.ito", "was not signed in at hatch", "the daily call", "yours", "shared"} {
		require.Contains(t, body, want)
	}
	o.err = &ask.Error{Kind: ask.Forbidden, Code: "right-missing", Text: "Managing staff is for administrators. Ask admin.falk."}
	w := b.get("/staff")
	require.Equal(t, 200, w.Code)
	require.Equal(t, 5, strings.Count(w.Body.String(), "Ask admin.falk."), "each part says who may see it")
	require.NotContains(t, w.Body.String(), "porter.lund")
}

func TestWhatAPasserByMustNotDoNeedsThePIN(t *testing.T) {
	for name, c := range map[string]struct {
		fields      []string
		asks, done  string
		afterwards  string
		afterStatus int
	}{
		"ending a session": {[]string{"do", "end", "key", "7", "at", "porter.lund"}, "End this session of porter.lund?", "{Number:7 By:nurse.osei Station:room-2}", "", 303},
		"unlocking":        {[]string{"do", "unlock", "key", "porter.lund"}, "Let porter.lund try a PIN again?", "{Key:porter.lund PIN:[secret] At: By:nurse.osei Station:room-2}", "", 303},
		"enrolling": {[]string{"do", "enrol", "key", "hatch", "clinic", "mby", "place", "hatch", "shared", "yes"}, "enrols a screen as hatch?",
			"{Key:hatch Clinic:MBY Place:hatch Shared:true By:nurse.osei Station:room-2}", "/enrol#k3y-of-the-link", 200},
	} {
		t.Run(name, func(t *testing.T) {
			_, o, in, b := staffed(t, slog.DiscardHandler)
			w := b.post("/staff", c.fields...)
			require.Equal(t, 200, w.Code)
			require.Contains(t, w.Body.String(), c.asks)
			require.Contains(t, w.Body.String(), `name="pin"`)
			in.wrong = true
			w = b.post("/staff", append(c.fields, "pin", "000000")...)
			require.Equal(t, 401, w.Code)
			require.Contains(t, w.Body.String(), `id="pin-wrong"`)
			require.NotContains(t, w.Body.String(), "000000")
			require.Empty(t, o.done, "without the PIN nothing is done")
			in.wrong = false
			w = b.post("/staff", append(c.fields, "pin", "271828")...)
			require.Equal(t, c.afterStatus, w.Code, w.Body.String())
			require.Equal(t, []string{c.done}, o.done)
			require.Contains(t, w.Body.String(), c.afterwards)
			require.NotContains(t, w.Header().Get("Location"), "#", "a link stands in no address of ours")
			o.err = &ask.Error{Kind: ask.Forbidden, Code: "right-missing", Text: "That is for administrators. Ask admin.falk."}
			w = b.post("/staff", append(c.fields, "pin", "271828")...)
			require.Equal(t, 403, w.Code)
			require.Contains(t, w.Body.String(), "Ask admin.falk.")
		})
	}
	_, o, _, b := staffed(t, slog.DiscardHandler)
	for _, bad := range [][]string{{"do", "erase", "key", "x", "pin", "271828"}, {"do", "end", "key", "seven", "pin", "271828"}, {"do", "unlock", "pin", "271828"}, {"do", "unlock", "key", "<b>x", "pin", "271828"}, {"pin", "271828"}} {
		require.Equal(t, 400, b.post("/staff", bad...).Code, bad)
	}
	require.Empty(t, o.done)
}

var (
	anInput   = regexp.MustCompile(`<input [^>]*>`)
	attribute = regexp.MustCompile(`([a-z-]+)="([^"]*)"`)
	aForm     = regexp.MustCompile(`(?s)<form .*?</form>`)
)

func attributes(tag string) map[string]string {
	out := map[string]string{}
	for _, a := range attribute.FindAllStringSubmatch(tag, -1) {
		out[a[1]] = a[2]
	}
	return out
}

// pagesWithForms are all pages of somebody who is signed in, and those on the way in, with mistakes made.
func pagesWithForms(t *testing.T) map[string]string {
	t.Helper()
	_, _, in, b := staffed(t, slog.DiscardHandler)
	out := map[string]string{}
	for _, target := range []string{"/", "/case/MBY-26-00417", "/staff", "/sign-in", "/enrol", "/set-up", "/set-up/done"} {
		out[target] = b.get(target).Body.String()
	}
	out["confirm"] = b.post("/staff", "do", "unlock", "key", "porter.lund").Body.String()
	out["wrong badge"] = b.post("/sign-in").Body.String()
	out["wrong PIN"] = b.post("/sign-in", "badge", "x", "pin", "0").Body.String()
	out["wrong link"] = b.post("/enrol", "token", "0").Body.String()
	out["no screen"] = newBrowser(b.h).get("/sign-in").Body.String()
	in.inForce = false
	out["first run"] = b.get("/set-up").Body.String()
	for _, field := range []string{"token", "staff", "pin", "again", "station"} {
		fields := []string{}
		for _, f := range []string{"token", "staff", "pin", "again", "station"} {
			if f != field {
				fields = append(fields, f, "x")
			}
		}
		out["first run without "+field] = b.post("/set-up", fields...).Body.String()
	}
	return out
}

// WCAG 2.2: 1.3.1, 1.3.5, 3.3.1, 3.3.2, 4.1.2.
func TestEveryFieldHasItsLabelAndItsMistake(t *testing.T) {
	fields := 0
	for page, body := range pagesWithForms(t) {
		require.Contains(t, body, `<html lang="en"`, page)
		require.Contains(t, body, `<main id="main">`, page)
		require.Equal(t, 1, strings.Count(body, "<h1>"), page)
		ids := map[string]int{}
		for _, m := range regexp.MustCompile(` id="([^"]+)"`).FindAllStringSubmatch(body, -1) {
			ids[m[1]]++
			require.Equal(t, 1, ids[m[1]], "%s: the id %s stands twice", page, m[1])
		}
		for _, tag := range anInput.FindAllString(body, -1) {
			a := attributes(tag)
			if a["type"] == "hidden" {
				continue
			}
			fields++
			if a["type"] != "checkbox" {
				require.Contains(t, body, `<label for="`+a["id"]+`">`, "%s: %s", page, tag)
				require.NotEmpty(t, a["autocomplete"], "%s: %s", page, tag)
			}
			for _, id := range strings.Fields(a["aria-describedby"]) {
				require.NotZero(t, ids[id], "%s: %s is described by nothing", page, tag)
			}
			require.Equal(t, a["aria-invalid"] == "true", ids[a["id"]+"-wrong"] == 1, "%s: a mistake is said at its field: %s", page, tag)
			if a["type"] == "password" {
				require.Empty(t, a["value"], page)
				require.NotContains(t, tag, "onpaste", page)
			}
		}
		if strings.Contains(page, "wrong") || strings.Contains(page, "without") {
			require.Contains(t, body, `role="alert"`, page)
		}
		require.LessOrEqual(t, strings.Count(body, " autofocus"), 1, page)
	}
	require.Greater(t, fields, 40)
}

// Nothing that is typed ever stands in an address: each form is a POST, none leads on with what was typed, and no log has it.
func TestWhatIsTypedStandsInNoAddressAndNoLog(t *testing.T) {
	words := canary.New("Zyxwhistle", "1931-08-23", "ZQ-9407713", "943 476 5919", "9434765919")
	typed := "Zyxwhistle 1931-08-23 ZQ-9407713 943 476 5919"
	var log bytes.Buffer
	forms := 0
	for page, body := range pagesWithForms(t) {
		for _, form := range aForm.FindAllString(body, -1) {
			forms++
			a := attributes(form[:strings.Index(form, ">")])
			require.Equal(t, "post", a["method"], "%s: %s", page, form)
			require.Regexp(t, `^/[a-z-]+$`, a["action"], page)
			for _, state := range []bool{true, false} {
				_, _, in, b := staffed(t, slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug}))
				in.inForce = state
				v := url.Values{}
				for _, tag := range anInput.FindAllString(form, -1) {
					v.Set(attributes(tag)["name"], typed)
				}
				w := b.send("POST", a["action"], v.Encode())
				require.Empty(t, canary.Found(words.Search(page, []byte(fmt.Sprint(w.Header())))))
				// and in the address of what came of it
				for _, link := range regexp.MustCompile(`(?:href|action|src)="([^"]*)"`).FindAllStringSubmatch(w.Body.String(), -1) {
					require.Empty(t, canary.Found(words.Search(page, []byte(link[1]))))
				}
			}
		}
	}
	require.Greater(t, forms, 15)
	require.Empty(t, canary.Found(words.Search("log", log.Bytes())))
	require.NotEmpty(t, canary.Found(words.Search("control", []byte("GET /sign-in?badge="+url.QueryEscape(typed)))), "it would be found")
}

// Fields in an address are none: a link cannot sign anybody in, or out.
func TestALinkSendsNoForm(t *testing.T) {
	_, o, in, b := staffed(t, slog.DiscardHandler)
	in.hashed = 0
	for _, target := range []string{"/sign-in?badge=nurse.osei&pin=271828", "/staff?do=end&key=7&pin=271828", "/enrol?token=link-of-hatch", "/sign-out"} {
		require.NotEqual(t, 500, b.get(target).Code)
	}
	require.Equal(t, 404, b.get("/sign-out").Code)
	require.Equal(t, 400, b.send("POST", "/sign-in?badge=nurse.osei&pin=271828", "").Code)
	require.Equal(t, 415, b.send("POST", "/sign-in", `{"badge":"nurse.osei"}`, "Content-Type", "application/json").Code)
	require.Equal(t, 415, b.send("POST", "/sign-in", "badge=nurse.osei", "Content-Type", "text/plain").Code)
	require.Equal(t, 400, b.send("POST", "/staff", "do=end&key=7&key=8&pin=271828").Code, "which of two is meant is not guessed")
	require.Zero(t, in.hashed)
	require.Empty(t, o.done)
	require.Contains(t, in.links, ask.Secret("link-of-hatch"))
	require.Equal(t, http.StatusOK, b.get("/").Code, "and is signed in still")
}
