package daemon

import (
	"context"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/web"
	"github.com/pottrail/pottrail/tracker"
)

// doors are all methods by which somebody outside comes at what is recorded, by name.
func doors() map[string]reflect.Type {
	found := map[string]reflect.Type{}
	for _, door := range []reflect.Type{reflect.TypeFor[ask.Service](), reflect.TypeFor[ask.Local](), reflect.TypeFor[web.Board](), reflect.TypeFor[web.Live]()} {
		for i := range door.NumMethod() {
			m := door.Method(i)
			if m.Type.NumIn() > 0 && m.Type.In(0) == reflect.TypeFor[context.Context]() {
				found[m.Name] = m.Type
			}
		}
	}
	return found
}

// knock calls a method with a request of nothing, or the one given, and gives its error.
func knock(house any, ctx context.Context, name string, request any) (any, error) {
	method := reflect.ValueOf(house).MethodByName(name)
	in := []reflect.Value{reflect.ValueOf(ctx)}
	for i := 1; i < method.Type().NumIn(); i++ {
		value := reflect.Zero(method.Type().In(i))
		if request != nil {
			value = reflect.ValueOf(request)
		}
		in = append(in, value)
	}
	out := method.Call(in)
	err, _ := out[len(out)-1].Interface().(error)
	return out[0].Interface(), err
}

// keyOfDoor says which line of the table of rights is asked at each door.
var keyOfDoor = map[string]string{
	"Record": "", // each event by itself: TestEveryRoleEveryKind
	"Case":   tracker.MaySeeCase, "Pot": tracker.MaySeePot, "Flags": tracker.MaySeeFlags, "Chase": tracker.MaySeeChase, "Codes": tracker.MaySeeCodes,
	"Proof": tracker.MaySeeProof, "Events": tracker.MaySeeEvents, "Board": tracker.MaySeeBoard, "Changes": tracker.MaySeeBoard,
	"Open": tracker.MayOpen, "Labels": tracker.MayPrint, "Print": tracker.MayPrint, "Reserve": tracker.MayReserve, "Bind": tracker.MayBind,
	"Protocol": tracker.MaySeeProtocol, "Checkpoint": tracker.MaySeeCheckpoint, "Refused": tracker.MaySeeRefused,
	"FindPeople": tracker.MayFindPeople, "Forget": tracker.MayForget, "Reads": tracker.MaySeeReads, "RotateKey": tracker.MayRotateKey,
	"Printers": tracker.MaySeePrinters, "Jobs": tracker.MaySeePrinters, "TestPrinter": tracker.MayTendPrinters, "Settle": tracker.MayTendPrinters, "CallOff": tracker.MayTendPrinters,
	"Staff": tracker.MayManageStaff, "AddStaff": tracker.MayManageStaff, "SetPIN": tracker.MayManageStaff, "RemoveStaff": tracker.MayManageStaff, "UnlockStaff": tracker.MayManageStaff, "SetUpLink": tracker.MayManageStaff, "EnrolStation": tracker.MayManageStations, "Stations": tracker.MayManageStations, "RemoveStation": tracker.MayManageStations, "Sessions": tracker.MayManageStaff, "EndSession": tracker.MayManageStaff, "Doubts": tracker.MaySeeDoubts,
	"AddClient": tracker.MayManageStations, "RemoveClient": tracker.MayManageStations, "ListClients": tracker.MayManageStations,
}

// noPatience ends whatever waits.
func noPatience(t *testing.T, a ask.Actor) context.Context {
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
	t.Cleanup(cancel)
	return ask.WithActor(ctx, a)
}

// TestEveryDoorIsGuarded: with nobody signed in no method answers, whichever it is.
func TestEveryDoorIsGuarded(t *testing.T) {
	r := staffed(t)
	r.service.vouch = &gate{people: everybodySetUp()}
	all := doors()
	require.Greater(t, len(all), 25)
	for name := range all {
		for _, a := range []ask.Actor{{}, {Way: ask.WayOpen}} {
			_, err := knock(guarded{r.service}, noPatience(t, a), name, nil)
			require.Equal(t, ask.Unknown, ask.KindOf(err), "%s answers nobody: give it its own method in one of the guard files, which asks for a right", name)
		}
		_, known := keyOfDoor[name]
		require.True(t, known, "%s: say in keyOfDoor which line of the table it asks", name)
	}
	require.Len(t, keyOfDoor, len(all))
	_, err := knock(r.service, t.Context(), "Flags", nil)
	require.NoError(t, err, "the twin: what is not guarded is seen to answer")
}

// rolesByHand reads which roles the table that was written by hand gives to a key.
func rolesByHand(t *testing.T) map[string]string {
	text, err := os.ReadFile("../../../tracker/testdata/rights.tsv")
	require.NoError(t, err)
	letters := map[string]string{}
	for line := range strings.Lines(string(text)) {
		if fields := strings.Split(line, "\t"); len(fields) == 4 {
			letters[fields[0]] = fields[1]
		}
	}
	return letters
}

// letterOf is the letter of a role in that table.
var letterOf = map[string]string{"operator": "o", "clinician": "c", "porter": "p", "laboratory": "l", "coordinator": "d", "quality": "q", "administrator": "a"}

// TestEveryRoleAtEveryDoor holds what each role is answered to the table by hand, as somebody who is signed in and as an account.
func TestEveryRoleAtEveryDoor(t *testing.T) {
	r := staffed(t)
	r.service.vouch = &gate{people: everybodySetUp()}
	hand := rolesByHand(t)
	for name, key := range keyOfDoor {
		if key == "" {
			continue
		}
		for role, staff := range listed {
			may := strings.Contains(hand[key], letterOf[role])
			for _, a := range []ask.Actor{{Way: ask.WaySession, Staff: staff, Station: "desk-1"}, {Way: ask.WayAccount, Role: role, Account: "theirs"}} {
				_, err := knock(guarded{r.service}, noPatience(t, a), name, nil)
				missing := err != nil && ask.As(err).Code == "right-missing"
				require.Equal(t, !may, missing, "%s by %s: %v", name, role, err)
				if missing {
					require.Equal(t, ask.Forbidden, ask.KindOf(err))
					require.Contains(t, err.Error(), "Ask the ")
				}
			}
		}
		_, err := knock(guarded{r.service}, noPatience(t, ask.Actor{Way: ask.WayOwner}), name, nil)
		require.False(t, err != nil && ask.As(err).Code == "right-missing", "%s: the owner of the folder", name)
		_, err = knock(guarded{r.service}, noPatience(t, ask.Actor{Way: ask.WayStation, Station: "phone-3"}), name, nil)
		require.Equal(t, tracker.ReadRight(key).Roles != tracker.Everybody, ask.KindOf(err) == ask.Unknown, "%s: a station alone is told what everybody is", name)
		_, err = knock(guarded{r.service}, noPatience(t, ask.Actor{Way: ask.WaySession, Staff: "somebody.new", Station: "desk-1"}), name, nil)
		require.Equal(t, tracker.ReadRight(key).Roles != tracker.Everybody, err != nil && ask.As(err).Code == "right-missing", "%s: who is on no list", name)
	}
}

// TestAPorterIsShownWhatIsOnTheWay, and neither lesion nor result; an administrator what is wrong with the record.
func TestAPorterIsShownWhatIsOnTheWay(t *testing.T) {
	r := staffed(t)
	r.service.vouch = &gate{people: everybodySetUp()}
	g := guarded{r.service}
	porter := noPatience(t, ask.Actor{Way: ask.WaySession, Staff: listed["porter"], Station: "phone-3"})
	administrator := noPatience(t, ask.Actor{Way: ask.WaySession, Staff: listed["administrator"], Station: "desk-1"})
	missing := func(err error) bool { return err != nil && ask.As(err).Code == "right-missing" }
	for _, kind := range tracker.FlagCatalog() {
		_, err := g.Flags(porter, ask.Request{Kind: string(kind.Kind)})
		require.Equal(t, tracker.FlagSeers(kind.Kind)&tracker.Porters == 0, missing(err), "%s", kind.Kind)
		_, err = g.Flags(administrator, ask.Request{Kind: string(kind.Kind)})
		require.Equal(t, tracker.FlagSeers(kind.Kind)&tracker.Administrators == 0, missing(err), "%s", kind.Kind)
	}
	_, err := g.Case(porter, ask.Request{Name: "MBY-26-00012-Z"})
	require.Equal(t, "not-known", ask.As(err).Code, "a bag would be shown")
	_, err = g.Case(porter, ask.Request{Name: r.pot})
	require.True(t, missing(err))
}

// TestACodeTellsAPorterNothingOfResults: how bad a thing is, is told of the flags that one may see.
func TestACodeTellsAPorterNothingOfResults(t *testing.T) {
	r := staffed(t)
	name := tracker.Name(r.pot).Case()
	result := anEvent(tracker.KindResultIssued, time.Now().Add(-40*time.Hour), "clerk.ilves", "lab", &tracker.ResultIssued{Stage: tracker.StageFinal, Category: "B5b", Critical: true}, name)
	require.True(t, r.record(t, ask.Actor{}, result)[0].OK)
	r.service.vouch = &gate{people: everybodySetUp()}
	worst := func(role string) tracker.Severity {
		answer, err := guarded{r.service}.Codes(noPatience(t, ask.Actor{Way: ask.WaySession, Staff: listed[role], Station: "desk-1"}), ask.Request{Name: string(name)})
		require.NoError(t, err)
		return answer.Worst
	}
	require.Equal(t, tracker.Now, worst("clinician"), "critical and not seen")
	require.NotEqual(t, tracker.Now, worst("porter"))
}

// TestWhoAsksInAnothersName is told so; the owner of the folder must name somebody who is set up.
func TestWhoAsksInAnothersName(t *testing.T) {
	r := staffed(t)
	r.service.vouch = &gate{people: everybodySetUp()}
	g := guarded{r.service}
	find := func(a ask.Actor, by, station string) string {
		_, err := g.FindPeople(noPatience(t, a), ask.FindRequest{Family: "HALVORSEN", BirthDate: "1961-02-14", By: by, Station: station, Why: "asked whether the result is back"})
		if err == nil {
			return ""
		}
		require.NotContains(t, err.Error(), "HALVORSEN")
		return ask.As(err).Code
	}
	desk, owner := ask.Actor{Way: ask.WaySession, Staff: "desk.moor", Station: "desk-1"}, ask.Actor{Way: ask.WayOwner}
	require.Empty(t, find(desk, "desk.moor", "desk-1"))
	require.Equal(t, "not-signed-in", find(desk, "dr.varga", "desk-1"))
	require.Equal(t, "not-signed-in", find(desk, "desk.moor", "desk-2"))
	require.Empty(t, find(owner, "desk.moor", "anywhere"))
	require.Equal(t, "right-missing", find(owner, "porter.lund", "anywhere"), "the owner vouches for who it is, and the protocol says what they may")
	require.Equal(t, "not-signed-in", find(owner, "ghost", "anywhere"))
	reads, err := r.service.Reads(t.Context(), ask.ReadsRequest{})
	require.NoError(t, err)
	require.Len(t, reads.Reads, 2, "who was shown nothing read nothing")
}

// TestOfSeveralClinicsEachIsToldItsOwn: who chases at one clinic and carries at another sees the list of the first.
func TestOfSeveralClinicsEachIsToldItsOwn(t *testing.T) {
	r := staffed(t)
	now := time.Now()
	other := adopting(now.Add(-time.Hour), "lead.roth", withStaff("porter = [\"desk.moor\"]\ncoordinator = [\"desk.lindahl\"]\nadministrator = [\"lead.roth\"]\n"))
	other.Clinic = "HCX"
	opened := sampleOf(t, tracker.Kinds()[0], "desk.lindahl")
	opened.Clinic, opened.Items[0].Name = "HCX", "HCX-26-00001"
	taken := anEvent(tracker.KindPieceTaken, now.Add(-30*time.Hour), "dr.njoku", "room-1", &tracker.PieceTaken{Lesion: "L1", What: "core"}, "HCX-26-00001-A01")
	taken.Clinic = "HCX"
	ours := anEvent(tracker.KindPieceTaken, now.Add(-30*time.Hour), "dr.varga", "room-1", &tracker.PieceTaken{Lesion: "L1", What: "core"}, "MBY-26-00001-A01")
	for _, v := range r.record(t, ask.Actor{}, other, opened, taken, ours) {
		require.True(t, v.OK, "%v", v.Error)
	}
	r.service.vouch = &gate{people: everybodySetUp()}
	g := guarded{r.service}
	at := func(staff string) context.Context {
		return noPatience(t, ask.Actor{Way: ask.WaySession, Staff: staff, Station: "desk-1"})
	}
	seen := func(staff string) (clinics []string) {
		flags, err := g.Flags(at(staff), ask.Request{Under: true})
		require.NoError(t, err)
		require.Len(t, flags.Under, len(flags.Flags))
		for i, f := range flags.Flags {
			require.Equal(t, f.Kind, flags.Under[i].Kind)
			clinics = append(clinics, f.Item.Clinic())
		}
		board, err := g.Board(at(staff))
		require.NoError(t, err)
		for _, j := range board.Open {
			require.Contains(t, clinics, j.Summary.Name.Clinic())
		}
		changes, _, err := g.Changes(at(staff), 1, 500)
		require.NoError(t, err)
		for _, c := range changes {
			require.Equal(t, slices.Contains(clinics, c.Clinic), len(c.JSON) > 0)
		}
		slices.Sort(clinics)
		return slices.Compact(clinics)
	}
	require.Equal(t, []string{"MBY"}, seen("desk.moor"))
	require.Equal(t, []string{"HCX"}, seen("desk.lindahl"))
	_, err := g.Flags(at("desk.moor"), ask.Request{Clinic: "HCX"})
	require.Equal(t, "right-missing", ask.As(err).Code)
	_, err = g.Case(at("desk.moor"), ask.Request{Name: "HCX-26-00001"})
	require.Equal(t, "right-missing", ask.As(err).Code)
	_, err = g.Events(at("desk.moor"), ask.Request{})
	require.Equal(t, "right-missing", ask.As(err).Code, "all clinics' at once")
	_, err = g.Events(at("desk.moor"), ask.Request{Clinic: "MBY"})
	require.NoError(t, err)
	_, err = g.Reads(at("lead.roth"), ask.ReadsRequest{})
	require.NoError(t, err)
}

// holdsPatient reports whether a type shows who somebody is.
func holdsPatient(t reflect.Type, seen map[reflect.Type]bool) bool {
	if seen[t] {
		return false
	}
	seen[t] = true
	switch t.Kind() {
	case reflect.Pointer, reflect.Slice, reflect.Array, reflect.Map:
		return holdsPatient(t.Elem(), seen)
	case reflect.Struct:
		if t == reflect.TypeFor[ask.Patient]() || t == reflect.TypeFor[ask.Refused]() {
			return true
		}
		for i := range t.NumField() {
			if holdsPatient(t.Field(i).Type, seen) {
				return true
			}
		}
	}
	return false
}

// TestWhatShowsAPatientIsNoted: each method whose answer can show who somebody is notes that it did, with who asked, and no
// question of HTTP or NATS has such an answer.
func TestWhatShowsAPatientIsNoted(t *testing.T) {
	r := staffed(t)
	by, station := "desk.moor", "desk-1"
	blank := "MBY-" + time.Now().Format("06") + "-00009-A"
	why := "asked whether the result is back"
	shows := map[string]any{
		"Labels":     ask.LabelsRequest{By: by, Station: station, Items: []string{r.pot}, Preview: true},
		"FindPeople": ask.FindRequest{Family: "HALVORSEN", BirthDate: "1961-02-14", By: by, Station: station, Why: why},
		"Forget":     ask.ForgetRequest{Case: r.pot, By: by, Station: station, Why: "asked to be forgotten", Look: true},
		"Bind":       ask.BindRequest{Label: blank, By: by, Station: station},
		"Refused":    ask.RefusedRequest{By: by, Station: station},
	}
	require.True(t, r.record(t, ask.Actor{}, anEvent(tracker.KindLabelPrinted, time.Now().Add(-time.Hour), "nurse.osei", "room-2", &tracker.LabelPrinted{Copy: '1', Layout: "downtime"}, tracker.Name(blank)))[0].OK)
	for name, method := range doors() {
		answer := method.Out(0)
		if !holdsPatient(answer, map[reflect.Type]bool{}) {
			require.NotContains(t, shows, name)
			continue
		}
		require.Contains(t, shows, name, "%s can show who somebody is: note who is shown whom, and call it here", name)
		before, err := r.service.Reads(t.Context(), ask.ReadsRequest{})
		require.NoError(t, err)
		_, err = knock(guarded{r.service}, t.Context(), name, shows[name])
		require.NoError(t, err, name)
		after, err := r.service.Reads(t.Context(), ask.ReadsRequest{})
		require.NoError(t, err)
		require.Greater(t, len(after.Reads), len(before.Reads), "%s showed somebody and nothing is noted", name)
		require.Equal(t, by, after.Reads[0].By, name)
		require.Equal(t, station, after.Reads[0].Station, name)
	}
	for i := range reflect.TypeFor[ask.Service]().NumMethod() {
		m := reflect.TypeFor[ask.Service]().Method(i)
		require.False(t, holdsPatient(m.Type.Out(0), map[reflect.Type]bool{}), "%s goes over HTTP and NATS", m.Name)
	}
	require.True(t, holdsPatient(reflect.TypeFor[ask.FindAnswer](), map[reflect.Type]bool{}), "the twin: it is seen deep inside")
}
