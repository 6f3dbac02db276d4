package tracker

import (
	"strconv"
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// clock is an instant for people in the clinic's zone: "Fri 6 Mar 15:42", with seconds when there are any.
func (k *checking) clock(t time.Time) string {
	local := t.In(k.r.zone)
	if local.Second() != 0 {
		return local.Format("Mon 2 Jan 15:04:05")
	}
	return local.Format("Mon 2 Jan 15:04")
}

// span is elapsed time for people.
func span(d time.Duration) string { return protocol.FormatElapsed(d.Truncate(time.Second)) }

// potWord is how a sentence calls a pot: "Pot A".
func potWord(n Name) string { return "Pot " + n.Letter() }

// pieceWord is how a sentence calls a piece: "Core 03 of pot A".
func pieceWord(s *Piece) string {
	what := s.What
	if what == "" {
		what = "piece"
	}
	number := strconv.Itoa(s.Name.PieceNumber())
	if len(number) == 1 {
		number = "0" + number
	}
	return capital(what) + " " + number + " of pot " + s.Pot.Letter()
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// studyWord is what people call a study; the key when the protocol does not know it.
func (k *checking) studyWord(key string) string {
	if name := k.r.p.Studies[key].Name; name != "" {
		return name
	}
	return key
}

func (k *checking) mediumWord(key string) string {
	if name := k.r.p.Media[key].Name; name != "" {
		return name
	}
	return key
}

func (k *checking) placeWord(key string) string {
	if name := k.r.p.Places[key].Name; name != "" {
		return name
	}
	return key
}

// ring says whom to call, with the number if the protocol has one: "the laboratory (01-440 220)".
func (k *checking) ring(role string) string {
	if contact := k.r.p.Contacts[role]; contact != "" {
		return "the " + role + " (" + contact + ")"
	}
	return "the " + role
}

// day is a day for people in the clinic's zone: "Sat 7 Mar".
func (k *checking) day(t time.Time) string { return t.In(k.r.zone).Format("Mon 2 Jan") }

// dayOf is the midnight that begins an instant's day in the clinic's zone.
func (k *checking) dayOf(t time.Time) time.Time {
	local := t.In(k.r.zone)
	return time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, k.r.zone)
}

// ringPlace says whom to call about a place.
func (k *checking) ringPlace(place string) string {
	if contact := k.r.p.Places[place].Contact; contact != "" {
		return k.placeWord(place) + " (" + contact + ")"
	}
	return k.placeWord(place)
}

// and joins words for people: "a", "a and b", "a, b and c".
func and(words []string) string {
	switch len(words) {
	case 0:
		return ""
	case 1:
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// wentAlong is what to do first while a scan may still be to come.
const wentAlong = "If it went along, scan it where it is now. "
