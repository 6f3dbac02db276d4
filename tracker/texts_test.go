package tracker_test

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// notForPeople is what no sentence of a flag may hold: times and numbers as programs write them, names of things by their
// numbers, spans without units, what a template left behind.
var notForPeople = map[string]*regexp.Regexp{
	"a date for programs":      regexp.MustCompile(`\d{4}-\d{2}-\d{2}|\d{2}:\d{2}(:\d{2})?(Z|[+-]\d{2}:)`),
	"a time without its day":   regexp.MustCompile(`(^|[^:\d])(?:[^a-z]|[^c-y])\b(at|since|by|until|from) \d{1,2}:\d{2}`),
	"a span without its unit":  regexp.MustCompile(`\b\d+(h|m|s|d|wd|m0s|h0m0s)\b`),
	"what a template left":     regexp.MustCompile(`%!|<nil>|\bnil\b|0001-01|\{\{|\[\]`),
	"two spaces, or one amiss": regexp.MustCompile(`  | [.,;]|\.\.|[?!]\.|^ | $`),
	"an abbreviation":          regexp.MustCompile(`(?i)\b(e\.g|i\.e|approx|resp|incl|min\.|hrs?|TAT|FNA|CNB|FFPE|IHC|LIS)\b`),
	"an age":                   regexp.MustCompile(`(?i)\bago\b|so far|for \d+ (h|min|days?) now`),
	"a field's name":           regexp.MustCompile(`[a-z]_[a-z]`),
}

// speaksOfNames are the kinds whose thing nobody knows by anything but its number.
var speaksOfNames = map[tracker.FlagKind]bool{tracker.FlagUnknownItem: true, tracker.FlagCustodyBroken: true,
	tracker.FlagBagShort: true, tracker.FlagBagExtra: true, tracker.FlagBagUnfit: true} // a bag holds pots of several cases

// TestTextsReadWell holds every sentence of every flag in all stories against what people can read in a corridor.
func TestTextsReadWell(t *testing.T) {
	keys := keysNobodySays(protocol.Default())
	seen := map[tracker.FlagKind]map[string]bool{}
	for _, path := range scenarioFiles(t) {
		sc := readScenarioFile(t, path)
		for i, s := range sc.steps {
			if s.expect == nil || s.faulty {
				continue
			}
			all, _ := sc.judge(lineOf{t, path}, sc.steps[:i], s)
			for _, f := range all {
				if seen[f.Kind] == nil {
					seen[f.Kind] = map[string]bool{}
				}
				for _, sentence := range []string{f.Text, f.Remedy} {
					if seen[f.Kind][sentence] {
						continue
					}
					seen[f.Kind][sentence] = true
					readable(t, f.Flag, sentence, keys)
				}
			}
		}
	}
	require.Greater(t, len(seen), 30, "stories raise most kinds")
}

func readable(t *testing.T, f tracker.Flag, sentence string, keys *regexp.Regexp) {
	t.Helper()
	for what, pattern := range notForPeople {
		if found := pattern.FindString(sentence); found != "" {
			t.Errorf("%s holds %s, %q: %s", f.Kind, what, found, sentence)
		}
	}
	if found := keys.FindString(sentence); found != "" && f.Kind != tracker.FlagProtocolGap {
		t.Errorf("%s says a key of the protocol, %q, in place of its name: %s", f.Kind, found, sentence)
	}
	if strings.Contains(sentence, "MBY-26-") && !speaksOfNames[f.Kind] {
		t.Errorf("%s says a number that the list shows already: %s", f.Kind, sentence)
	}
	if first := sentence[:1]; first != strings.ToUpper(first) {
		t.Errorf("%s begins small: %s", f.Kind, sentence)
	}
	if !strings.HasSuffix(sentence, ".") && !strings.HasSuffix(sentence, "?") {
		t.Errorf("%s does not end: %s", f.Kind, sentence)
	}
}

// keysNobodySays are keys of a protocol that have another name for people.
func keysNobodySays(p *protocol.Protocol) *regexp.Regexp {
	var words []string
	add := func(key, name string) {
		if name != "" && name != key && strings.Contains(key, "-") && !strings.Contains(name, key) {
			words = append(words, regexp.QuoteMeta(key))
		}
	}
	for key, v := range p.Media {
		add(key, v.Name)
	}
	for key, v := range p.Studies {
		add(key, v.Name)
	}
	for key, v := range p.Places {
		add(key, v.Name)
	}
	for key, v := range p.Organs {
		add(key, v.Name)
	}
	for key, v := range p.Looks {
		add(key, v.Name)
	}
	for key, v := range p.Priority {
		add(key, v.Name)
	}
	return regexp.MustCompile(`\b(` + strings.Join(words, "|") + `)\b`)
}
