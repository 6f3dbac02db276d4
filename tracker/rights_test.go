package tracker_test

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// rightByHand is one line of the table that was written by hand.
type rightByHand struct {
	key, special string
	roles        tracker.Roles
	wrong        string // what the wrong role gets
}

// roleLetters are the roles as testdata/rights.tsv writes them.
var roleLetters = []struct {
	letter byte
	role   tracker.Roles
}{{'o', tracker.Operators}, {'c', tracker.Clinicians}, {'p', tracker.Porters}, {'l', tracker.LaboratoryStaff}, {'d', tracker.Coordinators},
	{'q', tracker.QualityLeads}, {'a', tracker.Administrators}}

func rightsByHand(t *testing.T) []rightByHand {
	text, err := os.ReadFile("testdata/rights.tsv")
	require.NoError(t, err)
	var rows []rightByHand
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		fields := strings.Split(strings.TrimSuffix(line, "\n"), "\t")
		require.Len(t, fields, 4, line)
		require.NotEmpty(t, fields[3], "a right has a reason: %s", line)
		row := rightByHand{wrong: fields[2]}
		row.key, row.special, _ = strings.Cut(fields[0], ":")
		require.Len(t, fields[1], len(roleLetters), line)
		for i, r := range roleLetters {
			switch fields[1][i] {
			case r.letter:
				row.roles |= r.role
			case '.':
			default:
				require.Failf(t, "no letter of a role", "%s", line)
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// eventOf is an event of the kind, with what makes it special.
func eventOf(t *testing.T, kind tracker.Kind, special string) *tracker.Event {
	for _, info := range tracker.Kinds() {
		if info.Kind != kind {
			continue
		}
		e := &tracker.Event{Kind: kind, Data: info.New()}
		switch d := e.Data.(type) {
		case *tracker.CustodyTaken:
			d.Place = special
		case *tracker.ResultIssued:
			d.Via = special
		case *tracker.FlagAnswered:
			d.Flag = tracker.FlagKind(special)
		default:
			require.Empty(t, special, "%s has no special case", kind)
		}
		return e
	}
	return nil
}

// TestWhoMayDoWhat holds every role against every kind of event, question and deed.
func TestWhoMayDoWhat(t *testing.T) {
	rules := changedRules(t, func(*protocol.Protocol) {})
	told := map[string]bool{}
	for _, row := range rightsByHand(t) {
		told[row.key] = true
		may := tracker.Readers(row.key, tracker.Name(row.special), tracker.FlagKind(row.special))
		wrong := "refused"
		if e := eventOf(t, tracker.Kind(row.key), row.special); e != nil {
			may = rules.Recorders(e)
			if tracker.Physical(e.Kind) {
				wrong = "flag"
				if tracker.RecordRight(e.Kind).Roles == tracker.Everybody {
					wrong = "taken"
				}
			}
		}
		require.Equal(t, row.wrong, wrong, "%s %s", row.key, row.special)
		for _, r := range roleLetters {
			require.Equal(t, row.roles&r.role != 0, may&r.role != 0, "%s %s by %s", row.key, row.special, r.role)
		}
	}
	for _, info := range tracker.Kinds() {
		require.True(t, told[string(info.Kind)], "%s is missing in the table by hand", info.Kind)
		require.NotZero(t, tracker.RecordRight(info.Kind).Roles, "%s is missing in the table of the code", info.Kind)
	}
	for _, r := range tracker.ReadRights() {
		require.True(t, told[r.Key], "%s is missing in the table by hand", r.Key)
	}
	require.Len(t, tracker.RecordRights(), len(tracker.Kinds()))
	require.Len(t, told, len(tracker.Kinds())+len(tracker.ReadRights()), "and nothing else is in it")
}

// TestEachRightIsExplained: the table goes into the papers, and its words into sentences.
func TestEachRightIsExplained(t *testing.T) {
	for i, r := range append(tracker.RecordRights(), tracker.ReadRights()...) {
		require.NotEmpty(t, r.Doing, r.Key)
		require.NotEmpty(t, r.Why, r.Key)
		require.Equal(t, strings.ToLower(r.Doing[:1]), r.Doing[:1], "%s begins a sentence by itself", r.Key)
		if i < len(tracker.Kinds()) {
			require.Equal(t, string(tracker.Kinds()[i].Kind), r.Key, "in the order of the kinds")
		}
	}
	require.Zero(t, tracker.RecordRight("no.such").Roles)
	require.Zero(t, tracker.ReadRight("no-such").Roles)
}

// TestWhoLacksARightIsToldWhomToAsk: a refusal to staff names the right, the role that somebody has, and who can help.
func TestWhoLacksARightIsToldWhomToAsk(t *testing.T) {
	rules := changedRules(t, func(p *protocol.Protocol) {
		p.Staff = map[string][]string{"porter": {"porter.lund"}, "clinician": {"dr.varga"}, "operator": {"dr.varga", "nurse.osei"}, "quality": {"audit.finch"}}
		p.Contacts = map[string]string{"coordinator": "01632 960 111"}
	})
	lacks := func(kind tracker.Kind, staff string) string {
		right := tracker.RecordRight(kind)
		return rules.Lacks(right.Doing, right.Roles, staff)
	}
	require.Equal(t, "Closing a case is for a clinician or a coordinator, and the protocol has porter.lund as a porter. "+
		"Ask the coordinator (01632 960 111), or the administrator if the lists of staff lack a role.", lacks(tracker.KindCaseClosed, "porter.lund"))
	require.Equal(t, "Issuing a result is for the laboratory, and the protocol has dr.varga as an operator or a clinician. "+
		"Ask the laboratory, or the administrator if the lists of staff lack a role.", lacks(tracker.KindResultIssued, "dr.varga"))
	require.Equal(t, "Adopting a protocol is for those who administer, and no list of the protocol names somebody. Ask the administrator.",
		lacks(tracker.KindProtocolAdopted, "somebody"))
	require.Equal(t, tracker.Operators|tracker.Clinicians, rules.RolesOf("dr.varga"))
	require.Zero(t, rules.RolesOf("somebody"))
	require.Equal(t, tracker.Operators|tracker.Clinicians|tracker.Porters|tracker.QualityLeads, rules.ListedRoles())
	require.Zero(t, changedRules(t, func(*protocol.Protocol) {}).ListedRoles(), "the default lists nobody")
}

// TestRolesAreThoseOfProtocols: what a protocol may list is what rights know.
func TestRolesAreThoseOfProtocols(t *testing.T) {
	require.Equal(t, []string{"operator", "clinician", "porter", "laboratory", "coordinator", "quality", "administrator"}, tracker.Everybody.Keys())
	for _, key := range tracker.Everybody.Keys() {
		role, ok := tracker.ParseRole(key)
		require.True(t, ok)
		require.Equal(t, []string{key}, role.Keys())
		_, err := protocol.Parse([]byte(protocol.Default().Text + "\n" + key + " = [\"somebody\"]\n"))
		require.NoError(t, err, "%s is a role of a protocol", key)
	}
	_, ok := tracker.ParseRole("surgeon")
	require.False(t, ok)
}

// TestWhomNoListNames: lists that are made in part shut nobody out, and where people sign in they let nobody do what is
// somebody else's.
func TestWhomNoListNames(t *testing.T) {
	nobody := changedRules(t, func(*protocol.Protocol) {})
	some := changedRules(t, func(p *protocol.Protocol) {
		p.Staff = map[string][]string{"porter": {"porter.lund"}, "clinician": {"dr.varga"}}
	})
	closing, adopting := tracker.RecordRight(tracker.KindCaseClosed).Roles, tracker.RecordRight(tracker.KindProtocolAdopted).Roles
	for _, strict := range []bool{false, true} {
		require.True(t, nobody.Permits("anybody", adopting, strict), "no lists: everybody may do everything")
		require.True(t, some.Permits("dr.varga", closing, strict))
		require.False(t, some.Permits("porter.lund", closing, strict))
		require.False(t, some.Permits("porter.lund", adopting, strict), "who has a role has what is its own")
		require.True(t, some.Permits("somebody", adopting, strict), "nobody is listed as administrator: set-up is not locked")
		require.True(t, some.Permits("somebody", tracker.Everybody, strict))
		require.Equal(t, !strict, some.Permits("somebody", closing, strict), "a clinician is listed, so closing is theirs")
	}
}
