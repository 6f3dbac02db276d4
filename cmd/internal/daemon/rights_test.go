package daemon

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/demo"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// gate is sign-in for tests: who is set up, and who was signed in where and when.
type gate struct {
	off    bool
	people []string
	signed []signed
	doubts []doubt
	broken error
}

type signed struct {
	staff, station string
	from, to       time.Time
}

func (g *gate) InForce() bool { return !g.off }

func (g *gate) Known(staff string) (bool, error) {
	for _, key := range g.people {
		if key == staff {
			return true, g.broken
		}
	}
	return false, g.broken
}

func (g *gate) WasSignedIn(staff, station string, at time.Time) (bool, error) {
	for _, s := range g.signed {
		if s.staff == staff && s.station == station && !at.Before(s.from) && !at.After(s.to) {
			return true, g.broken
		}
	}
	return false, g.broken
}

func (g *gate) noteDoubts(doubts ...doubt) error {
	g.doubts = append(g.doubts, doubts...)
	return g.broken
}

// listed are the people of the tests, by role. The last is set up and on no list.
var listed = map[string]string{"operator": "nurse.osei", "clinician": "dr.varga", "porter": "porter.lund", "laboratory": "clerk.ilves",
	"coordinator": "desk.moor", "quality": "audit.finch", "administrator": "lead.roth"}

func everybodySetUp() []string {
	all := []string{"porter.brek", "somebody.new"}
	for _, key := range listed {
		all = append(all, key)
	}
	return all
}

// withStaff is the default protocol with lists of staff.
func withStaff(lists string) string { return protocol.Default().Text + "\n" + lists }

func someStaff() string {
	var out strings.Builder
	for role, key := range listed {
		out.WriteString(role + " = [\"" + key + "\"]\n")
	}
	return out.String()
}

func anEvent(kind tracker.Kind, at time.Time, by, station string, data tracker.Fact, items ...tracker.Name) *tracker.Event {
	e := &tracker.Event{ID: tracker.EventID(uuid.Must(uuid.NewV7()).String()), Kind: kind, Clinic: "MBY", At: at, By: by, Station: station, Data: data}
	for _, n := range items {
		e.Items = append(e.Items, tracker.Item{Name: n})
	}
	return e
}

func adopting(at time.Time, by, text string) *tracker.Event {
	sum := sha256.Sum256([]byte(text))
	return anEvent(tracker.KindProtocolAdopted, at, by, "desk-1", &tracker.ProtocolAdopted{SHA256: hex.EncodeToString(sum[:]), Text: text})
}

// record sends events as one array in somebody's name.
func (r *room) record(t require.TestingT, a ask.Actor, list ...*tracker.Event) []events.Verdict {
	lines := make([][]byte, len(list))
	for i, e := range list {
		lines[i] = events.Encode(e)
	}
	got, err := r.service.Record(ask.WithActor(context.Background(), a), ask.Recording{Data: append(append([]byte{'['}, bytes.Join(lines, []byte{','})...), ']')})
	require.NoError(t, err)
	require.Len(t, got.Verdicts, len(list))
	return got.Verdicts
}

// refusedAs is the code of a refusal, "" for what was recorded.
func refusedAs(v events.Verdict) string {
	if v.OK {
		return ""
	}
	return string(v.Error.Code)
}

// staffed is a room whose clinic adopted lists of staff two hours ago, before which there was a case.
func staffed(t *testing.T) *room {
	r := newRoom(t)
	require.True(t, r.record(t, ask.Actor{}, adopting(time.Now().Add(-2*time.Hour), "lead.roth", withStaff(someStaff())))[0].OK)
	return r
}

const caseOne = tracker.Name("MBY-26-00001")

// TestTheDemoRefusesNothing: what the invented network does, those do whose part it is.
func TestTheDemoRefusesNothing(t *testing.T) {
	r := newRoom(t)
	zone, err := time.LoadLocation(demoZone)
	require.NoError(t, err)
	network, err := demo.Generate(demo.Options{Seed: 7, Weeks: 4, Now: time.Now(), Zone: zone})
	require.NoError(t, err)
	refused := map[string]int{}
	for from := 0; from < len(network.Events); from += 200 {
		for i, v := range r.record(t, ask.Actor{}, network.Events[from:min(from+200, len(network.Events))]...) {
			if !v.OK {
				refused[string(network.Events[from+i].Kind)+" by "+network.Events[from+i].By+": "+v.Error.Text]++
			}
		}
	}
	require.Empty(t, refused)
	require.Greater(t, len(network.Events), 1000)
}

// TestEveryRoleEveryKind sends every kind in the name of every role and holds the verdict to the table.
func TestEveryRoleEveryKind(t *testing.T) {
	r := staffed(t)
	rules := r.service.rules("MBY")
	for _, info := range tracker.Kinds() {
		for role, by := range listed {
			e := sampleOf(t, info, by)
			v := r.record(t, ask.Actor{}, e)[0]
			has, _ := tracker.ParseRole(role)
			want := ""
			if !tracker.Physical(info.Kind) && rules.Recorders(e)&has == 0 {
				want = "right-missing"
			}
			if got := refusedAs(v); want != "" || got == "right-missing" {
				require.Equal(t, want, got, "%s by %s", info.Kind, role)
			}
			if want != "" {
				require.Equal(t, "by", v.Error.Field)
				require.Contains(t, v.Error.Text, "Ask the ")
				require.Contains(t, v.Error.Text, "the protocol has "+by+" as ")
			}
		}
		require.Empty(t, refusedAs(r.record(t, ask.Actor{}, sampleOf(t, info, "somebody.new"))[0]), "%s by whom no list names, while nobody signs in", info.Kind)
	}
}

// sampleOf is an event of the kind with what its data must have.
func sampleOf(t require.TestingT, info tracker.KindInfo, by string) *tracker.Event {
	at := time.Now().Add(-time.Minute)
	id := tracker.EventID(uuid.Must(uuid.NewV7()).String())
	data := info.New()
	switch d := data.(type) {
	case *tracker.CaseOpened:
		*d = tracker.CaseOpened{Patient: "ref", Priority: "routine", Lesions: []tracker.Lesion{{Key: "L1", Organ: "thyroid"}}, Pots: []tracker.PlannedPot{{Pot: "A", Lesion: "L1", Medium: "formalin", Studies: []string{"histology"}}}}
	case *tracker.CaseAmended:
		d.Why = "corrected"
	case *tracker.PatientChecked:
		d.Identifiers = []string{"name", "birth-date"}
	case *tracker.LabelPrinted:
		d.Copy = '1'
	case *tracker.LabelSpoiled:
		d.Copy, d.Why = '1', "crumpled"
	case *tracker.LabelBound:
		d.To = "MBY-26-00002"
	case *tracker.PieceTaken:
		d.Lesion, d.What = "L1", "core"
	case *tracker.PotFilled:
		d.Medium = "formalin"
	case *tracker.SpecimenImaged:
		d.Calcium = "seen"
	case *tracker.AdequacyChecked:
		yes := true
		d.Lesion, d.Adequate = "L1", &yes
	case *tracker.MarkerPlaced:
		d.Lesion = "L1"
	case *tracker.PotSealed:
		d.ReadBackWith = "patient"
	case *tracker.ProcedureEnded:
		d.Outcome = "done"
	case *tracker.RoomCleared:
		d.Room = "room-1"
	case *tracker.PotRelabelled:
		d.New, d.Why, d.Witness = "MBY-26-00001-B", "swapped", "dr.varga"
	case *tracker.BagPacked:
		d.Pots = []tracker.Name{"MBY-26-00001-A"}
	case *tracker.BagOpened:
		d.Pots = []tracker.Name{"MBY-26-00001-A"}
	case *tracker.CustodyTaken:
		d.Place = "hatch"
	case *tracker.LabAccessioned:
		d.Number = "T-1"
	case *tracker.LabQueried:
		d.Why = "unclear"
	case *tracker.LabRefused:
		d.Why = "leaked"
	case *tracker.LabReferred:
		d.To = "fell-end"
	case *tracker.LabReturned:
		d.To = "fell-end"
	case *tracker.StudiesAdded:
		d.Studies = []string{"receptors"}
	case *tracker.ResultIssued:
		d.Stage = tracker.StageFinal
	case *tracker.ResultSeen:
		d.Results = []tracker.EventID{id}
	case *tracker.CaseDiscussed:
		d.Results, d.Concordance, d.Plan = []tracker.EventID{id}, "concordant", "discharge"
	case *tracker.PatientTold:
		d.Results, d.How = []tracker.EventID{id}, "telephone"
	case *tracker.CaseClosed:
		d.Outcome = "discharged"
	case *tracker.CaseReopened:
		d.Why = "a question"
	case *tracker.ClockPaused:
		d.Why, d.Until = "waits", at.Add(time.Hour)
	case *tracker.ClockResumed:
		d.Why = "goes on"
	case *tracker.ChaseLogged:
		d.Asked = "where is it"
	case *tracker.FlagAnswered:
		d.Flag, d.Done = tracker.FlagDiscordant, "talked"
	case *tracker.NoteAdded:
		d.Text = "a note"
	case *tracker.EventStruck:
		d.Event, d.Why = id, "wrong"
	case *tracker.ProtocolAdopted:
		return adopting(at, by, withStaff(someStaff()))
	}
	names := map[tracker.Thing]tracker.Name{tracker.ThingCase: caseOne, tracker.ThingPot: "MBY-26-00001-A", tracker.ThingPiece: "MBY-26-00001-A01", tracker.ThingBag: "MBY-26-00012-Z"}
	e := anEvent(info.Kind, at, by, "room-1", data, names[info.Things[0]])
	decoded, err := events.Decode(events.Encode(e))
	require.NoError(t, err, "%s", info.Kind)
	return decoded
}

// TestAPorterOpensNoCase, neither as an event nor at the desk; no number is lost by it.
func TestAPorterOpensNoCase(t *testing.T) {
	r := staffed(t)
	request := ask.OpenRequest{Clinic: "MBY", By: "porter.lund", Station: "desk", Patient: ask.Patient{Family: "Ruddock", Given: "Ann", BirthDate: "1970-01-02", RecordNumber: "R-1"},
		Lesions: []ask.OpenLesion{{Organ: "thyroid", Studies: []string{"cytology"}}}}
	_, err := r.service.Open(t.Context(), request)
	require.Equal(t, ask.Forbidden, ask.KindOf(err))
	require.Equal(t, "right-missing", ask.As(err).Code)
	request.By = "desk.moor"
	opened, err := r.service.Open(t.Context(), request)
	require.NoError(t, err)
	require.True(t, strings.HasSuffix(string(opened.Case), "-00002"), "%s", opened.Case)
}

// TestRightsAreThoseOfTheTime: whoever might close a case when it was closed, closed it, whatever came since; and the other
// way round.
func TestRightsAreThoseOfTheTime(t *testing.T) {
	r := newRoom(t)
	now := time.Now()
	was := "coordinator = [\"desk.moor\"]\nporter = [\"porter.lund\"]\n"
	is := "coordinator = [\"porter.lund\"]\nporter = [\"desk.moor\"]\n"
	closed := func(ago time.Duration, by string) *tracker.Event {
		return anEvent(tracker.KindCaseClosed, now.Add(-ago), by, "desk-1", &tracker.CaseClosed{Outcome: "discharged"}, caseOne)
	}
	first := adopting(now.Add(-4*time.Hour), "lead.roth", withStaff(was))
	verdicts := r.record(t, ask.Actor{}, closed(5*time.Hour, "porter.lund"), first, closed(3*time.Hour, "porter.lund"), closed(3*time.Hour, "desk.moor"))
	require.Empty(t, refusedAs(verdicts[0]), "nobody was listed")
	require.Empty(t, refusedAs(verdicts[1]))
	require.Equal(t, "right-missing", refusedAs(verdicts[2]), "the protocol before it in the same request is in force")
	require.Empty(t, refusedAs(verdicts[3]))
	for i, v := range r.record(t, ask.Actor{}, adopting(now.Add(-2*time.Hour), "lead.roth", withStaff(is)), closed(3*time.Hour, "desk.moor"), closed(time.Hour, "porter.lund")) {
		require.Empty(t, refusedAs(v), "%d", i)
	}
	verdicts = r.record(t, ask.Actor{}, closed(3*time.Hour, "porter.lund"), closed(time.Hour, "desk.moor"), closed(-24*time.Hour, "desk.moor"))
	for _, v := range verdicts {
		require.Equal(t, "right-missing", refusedAs(v))
	}
	require.Empty(t, refusedAs(r.record(t, ask.Actor{}, closed(5*time.Hour, "desk.moor"))[0]), "before any lists")
	refused, err := r.service.people.refused()
	require.NoError(t, err)
	require.Len(t, refused.Refused, 4, "what was refused is kept")
}

// TestARepeatOutlivesTheRight: an event that is recorded is recorded, also for whoever asks again.
func TestARepeatOutlivesTheRight(t *testing.T) {
	r := newRoom(t)
	now := time.Now()
	e := anEvent(tracker.KindCaseClosed, now.Add(-time.Hour), "porter.lund", "desk-1", &tracker.CaseClosed{Outcome: "discharged"}, caseOne)
	first := r.record(t, ask.Actor{}, e)[0]
	require.True(t, first.OK)
	require.True(t, r.record(t, ask.Actor{}, adopting(now.Add(-2*time.Hour), "lead.roth", withStaff(someStaff())))[0].OK, "as it turns out, in force before")
	require.Equal(t, first, r.record(t, ask.Actor{}, e)[0])
	other := *e
	other.Data = &tracker.CaseClosed{Outcome: "review"}
	require.Equal(t, "different-content", refusedAs(r.record(t, ask.Actor{}, &other)[0]))
}

// TestWhatOnlySomeMaySayOnlyTheyTakeBack: who may strike a slip of the hand may not therefore strike a result.
func TestWhatOnlySomeMaySayOnlyTheyTakeBack(t *testing.T) {
	r := staffed(t)
	at := time.Now().Add(-time.Minute)
	result := anEvent(tracker.KindResultIssued, at, "clerk.ilves", "lab", &tracker.ResultIssued{Stage: tracker.StageFinal}, caseOne)
	taken := anEvent(tracker.KindPieceTaken, at, "nurse.osei", "room-1", &tracker.PieceTaken{Lesion: "L1", What: "core"}, "MBY-26-00001-A01")
	for _, v := range r.record(t, ask.Actor{}, result, taken) {
		require.True(t, v.OK)
	}
	strike := func(target *tracker.Event, by string) events.Verdict {
		return r.record(t, ask.Actor{}, anEvent(tracker.KindEventStruck, at.Add(time.Second), by, "desk-1", &tracker.EventStruck{Event: target.ID, Why: "wrong"}, target.Items[0].Name))[0]
	}
	require.Empty(t, refusedAs(strike(taken, "nurse.osei")))
	require.Empty(t, refusedAs(strike(taken, "lead.roth")), "done with a borrowed badge")
	require.Equal(t, "right-missing", refusedAs(strike(taken, "porter.lund")))
	for _, by := range []string{"nurse.osei", "dr.varga", "desk.moor", "lead.roth"} {
		v := strike(result, by)
		require.Equal(t, "right-missing", refusedAs(v), by)
		require.Contains(t, v.Error.Text, "Striking such an event (issuing a result) is for the laboratory")
	}
	require.Empty(t, refusedAs(strike(result, "clerk.ilves")))
}

// TestALateQueue: the porter signs out in the basement, another signs in, and the queue is sent.
func TestALateQueue(t *testing.T) {
	r := staffed(t)
	now := time.Now()
	g := &gate{people: everybodySetUp(), signed: []signed{{"porter.lund", "phone-3", now.Add(-90 * time.Minute), now.Add(-30 * time.Minute)}, {"porter.brek", "phone-3", now.Add(-10 * time.Minute), now.Add(time.Minute)}}}
	r.service.vouch = g
	brek := ask.Actor{Way: ask.WaySession, Staff: "porter.brek", Station: "phone-3"}
	phone := ask.Actor{Way: ask.WayStation, Station: "phone-3"}
	scan := func(ago time.Duration, by, station string) *tracker.Event {
		return anEvent(tracker.KindCustodyTaken, now.Add(-ago), by, station, &tracker.CustodyTaken{Place: "van"}, "MBY-26-00001-A")
	}
	for _, a := range []ask.Actor{brek, phone} {
		require.True(t, r.record(t, a, scan(time.Hour, "porter.lund", "phone-3"))[0].OK)
		require.True(t, r.record(t, a, scan(5*time.Minute, "porter.brek", "phone-3"))[0].OK)
	}
	require.True(t, r.record(t, phone, scan(-24*time.Hour, "porter.brek", "phone-3"))[0].OK)
	require.Empty(t, g.doubts, "both were signed in when it happened; a clock that is ahead is taken as now")

	odd := map[string]*tracker.Event{
		"lund was not signed in any more":           scan(20*time.Minute, "porter.lund", "phone-3"),
		"somebody else's name":                      scan(time.Hour, "dr.varga", "phone-3"),
		"another station than it comes from":        scan(5*time.Minute, "porter.brek", "phone-4"),
		"a name that nobody has":                    scan(time.Hour, "ghost", "phone-3"),
		"a clock ahead is as now, when lund is not": scan(-24*time.Hour, "porter.lund", "phone-3"),
	}
	for name, e := range odd {
		for _, a := range []ask.Actor{brek, phone} {
			g.doubts = nil
			require.True(t, r.record(t, a, e)[0].OK, "%s: recorded all the same", name)
			if a == brek {
				require.Len(t, g.doubts, 1, name)
				require.Equal(t, e.ID, g.doubts[0].event.ID)
				require.NotEmpty(t, g.doubts[0].why)
			} else {
				require.Empty(t, g.doubts, "%s: sent again it is not doubted anew", name)
			}
		}
	}
	r.record(t, brek, scan(40*time.Minute, "porter.brek", "phone-3"))
	require.Empty(t, g.doubts, "who is signed in vouches for what they did before, too")
}

// TestWhatIsNotDoneByHandNeedsSomebodyWhoVouches, and a time that is sent is not believed alone.
func TestWhatIsNotDoneByHandNeedsSomebodyWhoVouches(t *testing.T) {
	r := staffed(t)
	now := time.Now()
	g := &gate{people: everybodySetUp(), signed: []signed{{"desk.moor", "desk-1", now.Add(-time.Hour), now}, {"porter.lund", "phone-3", now.Add(-time.Hour), now}}}
	r.service.vouch = g
	session := func(staff, station string) ask.Actor {
		return ask.Actor{Way: ask.WaySession, Staff: staff, Station: station}
	}
	account := func(role string) ask.Actor {
		return ask.Actor{Way: ask.WayAccount, Role: role, Account: "their system"}
	}
	rows := []struct {
		name        string
		actor       ask.Actor
		ago         time.Duration
		by, station string
		want        string
	}{
		{"the coordinator at her desk", session("desk.moor", "desk-1"), 5 * time.Minute, "desk.moor", "desk-1", ""},
		{"her queue, sent by the station", ask.Actor{Way: ask.WayStation, Station: "desk-1"}, 5 * time.Minute, "desk.moor", "desk-1", ""},
		{"at another station", session("desk.moor", "desk-2"), 5 * time.Minute, "desk.moor", "desk-1", "not-signed-in"},
		{"in another's name", session("porter.lund", "phone-3"), 5 * time.Minute, "desk.moor", "phone-3", "not-signed-in"},
		{"the porter", session("porter.lund", "phone-3"), 5 * time.Minute, "porter.lund", "phone-3", "right-missing"},
		{"the porter, by a clock of before there were lists", session("porter.lund", "phone-3"), 48 * time.Hour, "porter.lund", "phone-3", "right-missing"},
		{"the coordinator, of before she signed in", session("desk.moor", "desk-1"), 48 * time.Hour, "desk.moor", "desk-1", ""},
		{"on no list, where others are", session("somebody.new", "desk-1"), 0, "somebody.new", "desk-1", "right-missing"},
		{"the owner of the folder, in her name", ask.Actor{Way: ask.WayOwner}, 5 * time.Minute, "desk.moor", "anywhere", ""},
		{"in the porter's", ask.Actor{Way: ask.WayOwner}, 5 * time.Minute, "porter.lund", "anywhere", "right-missing"},
		{"in the name of nobody", ask.Actor{Way: ask.WayOwner}, 3 * time.Hour, "ghost", "anywhere", "not-signed-in"},
		{"an account that stands for coordinators", account("coordinator"), 5 * time.Minute, "desk.moor", "theirs", ""},
		{"one that stands for the laboratory", account("laboratory"), 5 * time.Minute, "desk.moor", "theirs", "right-missing"},
		{"one that stands for nobody", account(""), 5 * time.Minute, "desk.moor", "theirs", "right-missing"},
		{"in the name of nobody", account("coordinator"), 3 * time.Hour, "ghost", "theirs", "not-signed-in"},
	}
	for _, row := range rows {
		e := anEvent(tracker.KindCaseClosed, now.Add(-row.ago), row.by, row.station, &tracker.CaseClosed{Outcome: "discharged"}, caseOne)
		v := r.record(t, row.actor, e)[0]
		require.Equal(t, row.want, refusedAs(v), "%s", row.name)
		if row.want == "not-signed-in" {
			require.Contains(t, v.Error.Text, "Sign in and do it again.", row.name)
		}
	}
	require.Empty(t, g.doubts, "what was refused is not doubted too")
}

// TestAVerdictTellsAPorterNothingOfLesions: whoever may see a case is told all that a scan raised, a porter what is on the way;
// sent again by somebody else it is whole.
func TestAVerdictTellsAPorterNothingOfLesions(t *testing.T) {
	r := staffed(t)
	now := time.Now()
	r.service.vouch = &gate{people: everybodySetUp(), signed: []signed{{"porter.lund", "phone-3", now.Add(-time.Hour), now}}}
	one := 1
	sealed := anEvent(tracker.KindPotSealed, now.Add(-time.Minute), "porter.lund", "phone-3", &tracker.PotSealed{ReadBackWith: "nurse.osei", Pieces: &one}, tracker.Name(r.pot))
	told := func(a ask.Actor) (kinds []tracker.FlagKind) {
		v := r.record(t, a, sealed)[0]
		require.True(t, v.OK)
		for _, f := range v.Raised {
			kinds = append(kinds, f.Kind)
		}
		return kinds
	}
	all := []tracker.FlagKind{tracker.FlagPiecesFew, tracker.FlagRoleDoubtful}
	require.Equal(t, all[1:], told(ask.Actor{Way: ask.WaySession, Staff: "porter.lund", Station: "phone-3"}), "that it is not his to do he is told")
	require.Equal(t, all[1:], told(ask.Actor{Way: ask.WayStation, Station: "phone-3"}))
	require.Equal(t, all[1:], told(ask.Actor{Way: ask.WayAccount, Role: "porter"}))
	require.Equal(t, all, told(ask.Actor{Way: ask.WayOwner}))
	require.Equal(t, all, told(ask.Actor{Way: ask.WayAccount, Role: "operator"}))
	require.Equal(t, all, told(ask.Actor{Way: ask.WaySession, Staff: "nurse.osei", Station: "room-1"}))
}

// TestAnAccountVouchesForWhatItsRoleDoesByHand, whoever is named, and for nothing else that is done by hand.
func TestAnAccountVouchesForWhatItsRoleDoesByHand(t *testing.T) {
	r := staffed(t)
	g := &gate{people: everybodySetUp()}
	r.service.vouch = g
	theirs := ask.Actor{Way: ask.WayAccount, Role: "laboratory", Account: "their-system"}
	at := time.Now().Add(-time.Minute)
	number := anEvent(tracker.KindLabAccessioned, at, "their-robot", "theirs", &tracker.LabAccessioned{Number: "T-1"}, "MBY-26-00001-A")
	require.True(t, r.record(t, theirs, number)[0].OK)
	require.Empty(t, g.doubts, "nobody of ours, and the laboratory's to do")
	sealed := anEvent(tracker.KindPotSealed, at, "nurse.osei", "room-1", &tracker.PotSealed{ReadBackWith: "patient"}, "MBY-26-00001-A")
	require.True(t, r.record(t, theirs, sealed)[0].OK)
	require.Len(t, g.doubts, 1)
	require.Contains(t, g.doubts[0].why, "This account stands for the role laboratory, and sealing a pot is for an operator or a clinician.")
}

// TestFromNobodyNothingIsTaken: neither recorded nor refused, so that it stays with its sender.
func TestFromNobodyNothingIsTaken(t *testing.T) {
	r := staffed(t)
	r.service.vouch = &gate{people: everybodySetUp()}
	before, _ := r.ledger.Last()
	e := anEvent(tracker.KindPotFound, time.Now(), "porter.lund", "phone-3", &tracker.PotFound{}, "MBY-26-00001-A")
	for _, a := range []ask.Actor{{}, {Way: ask.WayOpen}} {
		_, err := r.service.Record(ask.WithActor(t.Context(), a), ask.Recording{Data: events.Encode(e)})
		require.Equal(t, ask.Unknown, ask.KindOf(err))
		_, err = r.service.Record(ask.WithActor(t.Context(), a), ask.Recording{Data: []byte("no event at all")})
		require.Equal(t, ask.Unknown, ask.KindOf(err))
	}
	after, _ := r.ledger.Last()
	require.Equal(t, before, after)
	refused, err := r.service.people.refused()
	require.NoError(t, err)
	require.Empty(t, refused.Refused)
	r.service.vouch = &gate{off: true}
	require.True(t, r.record(t, ask.Actor{}, e)[0].OK, "until somebody is set up it is as ever")
}

// TestLawWhatIsDoneByHandIsNeverLost: whoever scans it, whenever, however it comes in, as long as it comes from somebody.
func TestLawWhatIsDoneByHandIsNeverLost(t *testing.T) {
	r := staffed(t)
	now := time.Now()
	var kinds []tracker.KindInfo
	for _, info := range tracker.Kinds() {
		if tracker.Physical(info.Kind) {
			kinds = append(kinds, info)
		}
	}
	require.Greater(t, len(kinds), 25)
	people := append(everybodySetUp(), "ghost")
	stations := []string{"room-1", "phone-3", "nowhere"}
	rapid.Check(t, func(t *rapid.T) {
		g := &gate{people: everybodySetUp()}
		for range rapid.IntRange(0, 3).Draw(t, "sessions") {
			from := now.Add(-time.Duration(rapid.IntRange(0, 300).Draw(t, "minutes ago")) * time.Minute)
			g.signed = append(g.signed, signed{rapid.SampledFrom(people).Draw(t, "who"), rapid.SampledFrom(stations).Draw(t, "where"), from, from.Add(time.Hour)})
		}
		g.off = rapid.Bool().Draw(t, "nobody is set up")
		if rapid.IntRange(0, 9).Draw(t, "the list of doubts fails") == 0 {
			defer func(f vouching) { r.service.vouch = f }(r.service.vouch)
			r.service.vouch = forgetful{g}
		} else {
			r.service.vouch = g
		}
		a := ask.Actor{Way: rapid.SampledFrom([]ask.Way{ask.WayOwner, ask.WaySession, ask.WayStation, ask.WayAccount}).Draw(t, "way")}
		switch a.Way {
		case ask.WaySession, ask.WayStation:
			a.Station = rapid.SampledFrom(stations).Draw(t, "station")
			if a.Way == ask.WaySession {
				a.Staff = rapid.SampledFrom(people).Draw(t, "staff")
			}
		case ask.WayAccount:
			a.Role = rapid.SampledFrom([]string{"", "porter", "laboratory", "surgeon"}).Draw(t, "role")
		}
		e := sampleOf(t, rapid.SampledFrom(kinds).Draw(t, "kind"), rapid.SampledFrom(people).Draw(t, "by"))
		e.Station = rapid.SampledFrom(stations).Draw(t, "entered at")
		e.At = now.Add(-time.Duration(rapid.IntRange(-600, 6000).Draw(t, "at")) * time.Minute)
		before, _ := r.ledger.Last()
		v := r.record(t, a, e)[0]
		require.True(t, v.OK, "%v", v.Error)
		after, _ := r.ledger.Last()
		require.Equal(t, before+1, after)
		if g.off {
			require.Empty(t, g.doubts)
		}
	})
}

// forgetful cannot write doubts down.
type forgetful struct{ *gate }

func (forgetful) noteDoubts(...doubt) error { return errors.New("the disk is full") }
