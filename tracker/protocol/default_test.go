package protocol_test

import (
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// The tables here are written from page 3 of the contract, not from default.toml.

func keysOf[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

func words(text string) []string { return slices.Sorted(slices.Values(strings.Fields(text))) }

// TestKeysOfTheDefault: contract page 3, keys of the default protocol; events from outside use them.
func TestKeysOfTheDefault(t *testing.T) {
	p := protocol.Default()
	require.Equal(t, "Europe/London", p.Zone)
	require.Equal(t, "gb-england-wales", p.Calendars[p.Calendar].Region)
	for what, table := range map[string]struct{ got, want []string }{
		"media":      {keysOf(p.Media), words("formalin saline rpmi dry michel glutaraldehyde ethanol slides-fixed slides-dried vial bouin")},
		"studies":    {keysOf(p.Studies), words("histology stains receptors sequencing flow culture tb karyotype electron immunofluorescence crystals cytology thyroglobulin")},
		"priorities": {keysOf(p.Priority), words("routine urgent next-day")},
		"organs":     {keysOf(p.Organs), words("breast axillary-node node thyroid soft-tissue other")},
		"roles":      {keysOf(p.Roles), words("room hatch fridge vehicle laboratory")},
		"outcomes":   {keysOf(p.Outcomes), words("discharged review repeat surgery treatment referred withdrawn transferred lost-contact died not-done")},
		"looks":      {keysOf(p.Looks), words("firm-white mixed fatty fragmented grey-brown blood-only pus fluid")},
		"carriers":   {keysOf(p.Carriers), words("cassette tube slide foam loose")},
		"limits":     {keysOf(p.Limits), protocol.LimitKeys()},
	} {
		require.Equal(t, table.want, table.got, what)
	}
	roles := map[string]string{}
	for key, place := range p.Places {
		roles[key] = place.Role
	}
	require.Equal(t, map[string]string{"room-1": "room", "room-2": "room", "hatch": "hatch", "fridge": "fridge", "van": "vehicle",
		"lab-reception": "laboratory", "lab-processor": "laboratory"}, roles)
	require.Empty(t, p.Runs, "the default has no processor runs")
	require.Empty(t, p.Contacts, "the default knows nobody's number")
}

// TestAMediumOrStudyThatIsNotKnownSuitsNothing: the table itself is held in TestPublishedMedia.
func TestAMediumOrStudyThatIsNotKnownSuitsNothing(t *testing.T) {
	p := protocol.Default()
	for _, pair := range [][2]string{{"custard", "histology"}, {"formalin", "astrology"}, {"", ""}} {
		_, ok := p.Suits(pair[0], pair[1])
		require.False(t, ok, "%v: the protocol does not know it", pair)
	}
}

// TestNumbersOfTheDefault: contract page 3, defaults and the flag table. One line a number.
func TestNumbersOfTheDefault(t *testing.T) {
	p := protocol.Default()
	var fixing []string
	for key, m := range p.Media {
		if m.Fixing {
			fixing = append(fixing, key)
		}
	}
	slices.Sort(fixing)
	require.Equal(t, words("formalin glutaraldehyde ethanol slides-fixed vial bouin"), fixing)

	limit := func(l *protocol.Limit) string {
		if l == nil {
			return "-"
		}
		return l.Span.String()
	}
	for study, want := range map[string]struct{ fixation, window, fresh, target, adds, after string }{
		"histology":          {"60 min, only today", "-", "-", "-", "-", "-"},
		"stains":             {"60 min, only today", "-", "-", "-", "2 working days", "-"},
		"receptors":          {"60 min", "6 h to 72 h", "-", "-", "-", "2 working days"},
		"sequencing":         {"60 min, only today", "6 h to 48 h", "-", "-", "-", "-"},
		"flow":               {"-", "-", "24 h", "-", "-", "-"},
		"culture":            {"-", "-", "24 h, 2 to 8 °C if longer than 2 h", "-", "-", "-"},
		"tb":                 {"-", "-", "24 h, 2 to 8 °C if longer than 2 h", "42 days", "-", "-"},
		"karyotype":          {"-", "-", "24 h", "-", "-", "-"},
		"electron":           {"-", "-", "-", "-", "-", "-"},
		"immunofluorescence": {"-", "-", "michel 5 days, saline 24 h", "-", "-", "-"},
		"crystals":           {"-", "-", "-", "-", "-", "-"},
		"cytology":           {"-", "-", "-", "-", "-", "-"},
		"thyroglobulin":      {"-", "-", "-", "-", "-", "-"},
	} {
		s := p.Studies[study]
		fixation, window, fresh := limit(s.ToFixation), "-", "-"
		if s.OnlyToday {
			fixation += ", only today"
		}
		if w := s.Window; w != nil {
			window = w.Min.String() + " to " + w.Max.String()
		}
		if f := s.Fresh; f != nil {
			var parts []string
			if !f.Span.IsZero() {
				parts = append(parts, f.Span.String())
			}
			for _, medium := range keysOf(f.Media) {
				parts = append(parts, medium+" "+f.Media[medium].String())
			}
			if !f.Warm.IsZero() {
				require.Equal(t, [2]float64{2, 8}, [2]float64{f.MinC, f.MaxC}, study)
				parts = append(parts, "2 to 8 °C if longer than "+f.Warm.String())
			}
			fresh = strings.Join(parts, ", ")
		}
		require.Equal(t, want.fixation, fixation, "%s: time to fixation", study)
		require.Equal(t, want.window, window, "%s: window", study)
		require.Equal(t, want.fresh, fresh, "%s: fresh limit", study)
		require.Equal(t, want.target, limit(s.Target), "%s: own target", study)
		require.Equal(t, want.adds, limit(s.Adds), "%s: adds", study)
		require.Equal(t, want.after, limit(s.AfterFinal), "%s: addendum", study)
		require.Equal(t, study == "histology" || study == "cytology", s.Default, "%s: answered by a final without studies", study)
	}

	for organ, want := range map[string]struct {
		pieces map[string]int
		counts string
		sided  bool
	}{
		"breast":        {map[string]int{"any": 4, "calcification": 6}, "cores", true},
		"axillary-node": {map[string]int{"any": 3}, "cores", true},
		"node":          {map[string]int{"any": 3}, "cores", false},
		"thyroid":       {map[string]int{"any": 2}, "passes", false},
		"soft-tissue":   {map[string]int{"any": 4}, "cores", false},
		"other":         {nil, "", false},
	} {
		o := p.Organs[organ]
		require.Equal(t, want.pieces, o.Pieces, organ)
		require.Equal(t, want.counts, o.Counts, organ)
		require.Equal(t, want.sided, o.Sided, "%s: page 2, side", organ)
	}

	for priority, want := range map[string][]string{
		"routine":  {"final 10 days receipt"},
		"urgent":   {"final 7 days receipt"},
		"next-day": {"provisional 1 working day receipt", "final 10 days receipt"},
	} {
		var got []string
		for _, name := range p.TargetsOf(priority) {
			target := p.Targets[name]
			got = append(got, target.Stage+" "+target.Span.String()+" "+target.From)
		}
		require.Equal(t, want, got, priority)
	}
	require.Less(t, p.Priority["urgent"].Rank, p.Priority["routine"].Rank)
	require.True(t, p.Priority["urgent"].Urgent)
	require.False(t, p.Priority["routine"].Urgent)

	for role, want := range map[string]string{"room": "2 h", "hatch": "4 h", "vehicle": "4 h", "fridge": "24 h", "laboratory": "1 working day"} {
		require.Equal(t, want, p.Roles[role].Hold.String(), role)
	}
	limits := 0
	for key, want := range map[string]string{
		protocol.LimitFixativeWatch: "10 min", protocol.LimitFixativeNow: "20 min", protocol.LimitLoadedNow: "60 min",
		protocol.LimitCheckBefore: "60 min", protocol.LimitLabelLeft: "2 h", protocol.LimitRoomOpen: "30 min", protocol.LimitClocks: "2 min",
		protocol.LimitPhone: "2 h", protocol.LimitNotAtLab: "1 working day", protocol.LimitNoReceipt: "14 days",
		protocol.LimitUnread: "2 working days", protocol.LimitUnreadSerious: "1 working day", protocol.LimitTellWatch: "3 working days",
		protocol.LimitTellToday: "5 working days", protocol.LimitLostClinician: "4 h", protocol.LimitAhead: "5 min",
		protocol.LimitSkew: "2 min", protocol.LimitUnknown: "2 h", protocol.LimitNotDone: "1 day", protocol.LimitCollect: "30 min",
		protocol.LimitCollectNone: "4 h", protocol.LimitCollectWorse: "60 min", protocol.LimitForecastNow: "60 min",
		protocol.LimitFreshNow: "60 min", protocol.LimitCritical: "4 h", protocol.LimitPlan: "10 working days",
		protocol.LimitUnfinished: "20 working days",
	} {
		require.Equal(t, want, p.Limits[key].Span.String(), key)
		limits++
	}
	require.Len(t, protocol.LimitKeys(), limits, "each limit is in this table")
	require.Equal(t, 10.0, p.Fixative.Ratio)
	require.Equal(t, words("axillary-node breast node"), words(strings.Join(p.Looks["fatty"].PoorIn, " ")), "fat is poor in breast and node")
	for _, look := range words("pus fluid") {
		require.Equal(t, words("culture tb"), words(strings.Join(p.Looks[look].GoodFor, " ")), look)
	}
	for look, l := range p.Looks {
		require.Equal(t, slices.Contains(words("grey-brown blood-only pus fluid"), look), l.Poor, look)
	}
	for carrier, c := range p.Carriers {
		require.Equal(t, slices.Contains(words("cassette tube slide"), carrier), c.Labeled, carrier)
	}
}

// TestDefaultTravelsInAnEvent: the text of a protocol is in one event of at most 64 KiB.
func TestDefaultTravelsInAnEvent(t *testing.T) {
	quoted, err := json.Marshal(protocol.Default().Text)
	require.NoError(t, err)
	require.Less(t, len(quoted), 48<<10, "leaves room for a clinic's own places and contacts")
	require.Less(t, len(protocol.Default().Text), protocol.MaxBytes*2/3, "a third of what a file may have is the clinic's")
}
