package protocol

import "slices"

// Suit says how well a medium serves a study.
type Suit int

// How well a medium serves a study.
const (
	Wrong Suit = iota // it cannot
	Loss              // it serves, with loss
	Right
)

// String is "right", "with loss" or "wrong".
func (s Suit) String() string {
	switch s {
	case Right:
		return "right"
	case Loss:
		return "with loss"
	}
	return "wrong"
}

// Suits says how well a medium serves a study; ok is false when the protocol does not know one of the two, and then the
// answer means nothing.
func (p *Protocol) Suits(medium, study string) (s Suit, ok bool) {
	m, known := p.Media[medium]
	if _, knownStudy := p.Studies[study]; !known || !knownStudy {
		return Wrong, false
	}
	switch {
	case slices.Contains(m.Serves, study):
		return Right, true
	case slices.Contains(m.Loss, study):
		return Loss, true
	}
	return Wrong, true
}
