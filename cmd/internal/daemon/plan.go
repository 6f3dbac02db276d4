package daemon

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// potLetters are the letters that a case's pots may have, in order.
const potLetters = "ABCDEFGHJKLMNPQRSTUVWXY"

// usualCarrier is how pieces travel unless a request or, for pots that are worked out here, the medium says otherwise. Source: contract page 3, defaults, pieces.
const usualCarrier = "cassette"

// planPots works out which pots a request needs: for each lesion the fewest media that are right for its studies, so
// that what needs fresh tissue has its own pot before anyone fills one with formalin. Why says it in words, by letter.
func planPots(p *protocol.Protocol, lesions []tracker.Lesion, studies [][]string) (pots []tracker.PlannedPot, why map[string]string, err error) {
	why = map[string]string{}
	for i, lesion := range lesions {
		if len(studies[i]) == 0 {
			return nil, nil, &ask.Error{Kind: ask.Invalid, Code: "missing-field", Field: fmt.Sprintf("lesions[%d].studies", i),
				Text: fmt.Sprintf("lesion %s: say which studies are wanted, or give the pots", lesion.Key)}
		}
		groups, err := groupStudies(p, studies[i])
		if err != nil {
			err.Field = fmt.Sprintf("lesions[%d].studies", i)
			return nil, nil, err
		}
		for n, group := range groups {
			if len(pots) == len(potLetters) {
				return nil, nil, &ask.Error{Kind: ask.Invalid, Code: "too-many-pots", Field: "lesions",
					Text: fmt.Sprintf("a case has at most %d pots: open a second case for some of the lesions", len(potLetters))}
			}
			pot := tracker.PlannedPot{Pot: string(potLetters[len(pots)]), Lesion: lesion.Key, Medium: group.medium, Studies: group.studies,
				Pieces: 1, Carrier: or(p.Media[group.medium].Carrier, usualCarrier)}
			if n == 0 {
				pot.Pieces = piecesFor(p, lesion)
			}
			why[pot.Pot] = group.why(p)
			pots = append(pots, pot)
		}
	}
	return pots, why, nil
}

// studyGroup is the studies that one pot can serve.
type studyGroup struct {
	medium  string
	studies []string
}

func (g studyGroup) why(p *protocol.Protocol) string {
	name := p.Media[g.medium].Name
	if p.Media[g.medium].Fixing {
		return name + " is right for " + strings.Join(g.studies, ", ")
	}
	return strings.Join(g.studies, ", ") + " must not be fixed: " + name
}

// groupStudies chooses media one by one: always the one that is right for most of the studies still without a pot;
// among equals the one that stands first in the protocol.
func groupStudies(p *protocol.Protocol, studies []string) ([]studyGroup, *ask.Error) {
	left := slices.Clone(studies)
	media := slices.SortedFunc(maps.Keys(p.Media), func(a, b string) int {
		return cmp.Or(cmp.Compare(p.Line("media."+a), p.Line("media."+b)), cmp.Compare(a, b))
	})
	var groups []studyGroup
	for len(left) > 0 {
		best := studyGroup{}
		for _, medium := range media {
			serves := studyGroup{medium: medium}
			for _, study := range left {
				if suit, known := p.Suits(medium, study); known && suit == protocol.Right {
					serves.studies = append(serves.studies, study)
				}
			}
			if len(serves.studies) > len(best.studies) {
				best = serves
			}
		}
		if len(best.studies) == 0 {
			return nil, &ask.Error{Kind: ask.Invalid, Code: "unknown-study", Text: fmt.Sprintf(
				"no medium of the protocol is right for %s: give the pots yourself, or mend the protocol", strings.Join(left, ", "))}
		}
		groups = append(groups, best)
		left = slices.DeleteFunc(left, func(s string) bool { return slices.Contains(best.studies, s) })
	}
	// The fixed pot comes first: it holds most pieces.
	slices.SortStableFunc(groups, func(a, b studyGroup) int {
		return fixedFirst(p.Media[a.medium].Fixing) - fixedFirst(p.Media[b.medium].Fixing)
	})
	return groups, nil
}

func fixedFirst(fixing bool) int {
	if fixing {
		return 0
	}
	return 1
}

// piecesFor is how many pieces a lesion calls for, 0 when the protocol does not say.
func piecesFor(p *protocol.Protocol, l tracker.Lesion) int {
	pieces := p.Organs[l.Organ].Pieces
	if n, ok := pieces[l.Target]; ok && l.Target != "" {
		return n
	}
	return pieces["any"]
}

// labelsFor lists what the room needs labels for: each pot, and each planned piece whose carrier has a label.
func labelsFor(p *protocol.Protocol, name tracker.Name, pots []tracker.PlannedPot) ([]tracker.Name, error) {
	var names []tracker.Name
	for _, plan := range pots {
		pot, err := name.WithPot(plan.Pot)
		if err != nil {
			return nil, err
		}
		names = append(names, pot)
		carrier := plan.Carrier
		if carrier == "" {
			carrier = usualCarrier
		}
		if !p.Carriers[carrier].Labeled {
			continue
		}
		for n := 1; n <= plan.Pieces; n++ {
			piece, err := pot.WithPiece(n)
			if err != nil {
				return nil, err
			}
			names = append(names, piece)
		}
	}
	return names, nil
}
