package daemon

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"regexp"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/demo"
)

// workload is the invented network cut into stories that have nothing to do with each other: a bag with all the cases
// that ever had a pot in it. Each can be told again and again of other clinics, with ids and times of its own, so any
// number of clients can send real cases, every case's events in their order.
type workload struct {
	stories []story
	network *demo.Network
}

// story is the events of cases that share bags, in order.
type story []template

// template is the spelling of an event with what differs from telling to telling cut out.
type template struct {
	kind  tracker.Kind
	at    time.Time
	parts []part
}

// part is a stretch of text: as it is, or to be spelled anew.
type part struct {
	is   spelling
	text string
	at   time.Time // of an instant
}

type spelling uint8

const (
	asIs      spelling = iota
	ofClinic           // a clinic's key
	ofName             // a name as people read it: another clinic, another year
	ofCode             // a code as scanned: the same, and a check character to fit
	ofID               // the id of an event
	ofInstant          // an instant, as far from the event's own as it was
)

var cut = regexp.MustCompile(`"clinic":"([A-Z0-9]{3})"` +
	`|\b([A-Z][A-Z0-9]{2}-[0-9]{2}-[0-9]{5})` +
	`|"([A-Z][A-Z0-9]{2}[0-9]{7}[A-Z0-9]{5})"` +
	`|"([0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12})"` +
	`|"([0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:.]+(?:Z|[+-][0-9]{2}:[0-9]{2}))"`)

// leastStory leaves out cases that were opened and had not begun.
const leastStory = 20

func newWorkload(b testing.TB) *workload {
	zone, err := time.LoadLocation(demoZone)
	require.NoError(b, err)
	network, err := demo.Generate(demo.Options{Seed: 12, Now: time.Date(2026, 3, 6, 15, 0, 0, 0, zone), Zone: zone})
	require.NoError(b, err)
	up := map[tracker.Name]tracker.Name{}
	var top func(n tracker.Name) tracker.Name
	top = func(n tracker.Name) tracker.Name {
		if up[n] == "" || up[n] == n {
			return n
		}
		up[n] = top(up[n])
		return up[n]
	}
	for _, e := range network.Events {
		for _, n := range tracker.WatchedBy(e) {
			up[top(n)] = top(tracker.WatchedBy(e)[0])
		}
	}
	told := map[tracker.Name]story{}
	var order []tracker.Name
	for _, e := range network.Events {
		watched := tracker.WatchedBy(e)
		if len(watched) == 0 {
			continue // a protocol: these clinics keep the default
		}
		n := top(watched[0])
		if told[n] == nil {
			order = append(order, n)
		}
		told[n] = append(told[n], cutUp(b, e))
	}
	w := &workload{network: network}
	for _, n := range order {
		if len(told[n]) >= leastStory {
			w.stories = append(w.stories, told[n])
		}
	}
	return w
}

func cutUp(b testing.TB, e *tracker.Event) template {
	t := template{kind: e.Kind, at: e.At}
	text := string(events.Encode(e))
	from := 0
	for _, m := range cut.FindAllStringSubmatchIndex(text, -1) {
		for group := 1; group <= int(ofInstant); group++ {
			lo, hi := m[2*group], m[2*group+1]
			if lo < 0 {
				continue
			}
			t.parts = append(t.parts, part{text: text[from:lo]})
			p := part{is: spelling(group), text: text[lo:hi]}
			if p.is == ofInstant {
				at, err := time.Parse(time.RFC3339, p.text)
				require.NoError(b, err)
				p.at = at
			}
			t.parts = append(t.parts, p)
			from = hi
		}
	}
	t.parts = append(t.parts, part{text: text[from:]})
	return t
}

// teller tells stories of one clinic, a few at a time, each told anew in another year when it comes round again.
type teller struct {
	w      *workload
	clinic string
	first  int // story
	begun  int // stories
	lanes  []lane
	turn   int
	at     time.Time // of the last event
	told   uint64
	unsent [][]byte
}

// lane is a story being told.
type lane struct {
	left story
	year int
	ids  map[string]string // of events that were told, as they were in the story
}

// atOnce is how many stories of a clinic go on at once: some ten cases.
const atOnce = 2

// newTeller makes the n-th clinic's.
func (w *workload) newTeller(n int) *teller {
	const digits = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	clinic := string([]byte{'A' + byte(n/(36*36)), digits[n/36%36], digits[n%36]})
	return &teller{w: w, clinic: clinic, first: n * 7, lanes: make([]lane, atOnce)}
}

// back takes what was not sent, in order, to give it again.
func (t *teller) back(unsent [][]byte) { t.unsent = append(unsent, t.unsent...) }

// next gives the next event as it is sent. Each happens now: what it raises is what a case on its way raises, not what
// has been overdue for weeks.
func (t *teller) next() []byte {
	if len(t.unsent) > 0 {
		event := t.unsent[0]
		t.unsent = t.unsent[1:]
		return event
	}
	t.turn++
	l := &t.lanes[t.turn%len(t.lanes)]
	if len(l.left) == 0 {
		n := t.first + t.begun
		t.begun++
		*l = lane{left: t.w.stories[n%len(t.w.stories)], year: n / len(t.w.stories) % 100, ids: map[string]string{}}
	}
	e := l.left[0]
	l.left = l.left[1:]
	const step = 100 * time.Microsecond // so that they have an order
	if t.at = t.at.Add(step); t.at.Before(time.Now()) {
		t.at = time.Now().Truncate(step)
	}
	var out bytes.Buffer
	for _, p := range e.parts {
		switch p.is {
		case asIs:
			out.WriteString(p.text)
		case ofClinic:
			out.WriteString(t.clinic)
		case ofName:
			out.WriteString(t.rename(p.text, l.year))
		case ofCode:
			out.WriteString(t.recode(p.text, l.year))
		case ofID:
			if l.ids[p.text] == "" {
				l.ids[p.text] = t.id()
			}
			out.WriteString(l.ids[p.text])
		case ofInstant:
			out.WriteString(t.at.Add(p.at.Sub(e.at)).Format(time.RFC3339Nano))
		}
	}
	return out.Bytes()
}

func (t *teller) rename(name string, year int) string {
	old, err := strconv.Atoi(name[4:6])
	if err != nil {
		return name
	}
	return fmt.Sprintf("%s-%02d-%s", t.clinic, (old+year)%100, name[7:])
}

func (t *teller) recode(text string, year int) string {
	old, err := tracker.ParseCode(text)
	if err != nil {
		return text // of somebody else's label, as in the story
	}
	code, err := tracker.MakeCode(tracker.Name(t.rename(string(old.Name()), year)), old.Copy())
	if err != nil {
		return text
	}
	return code.String()
}

// id is a UUIDv7 of the instant, as clients make them; RFC 9562, 5.7.
func (t *teller) id() string {
	t.told++
	sum := sha256.Sum256(fmt.Appendf(nil, "%s %d", t.clinic, t.told))
	h := hex.EncodeToString(sum[:])
	ms := t.at.UnixMilli()
	return fmt.Sprintf("%08x-%04x-7%s-8%s-%s", ms>>16, ms&0xffff, h[:3], h[3:6], h[6:18])
}
