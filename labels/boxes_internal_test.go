package labels

import (
	"fmt"
	"image"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// contents are ordinary contents for a layout and ones as full as contents get.
func contents(t *testing.T, l Layout) []Content {
	t.Helper()
	thing := l.Thing
	switch l.Form {
	case FormPlace:
		return []Content{{Key: "a", Title: "A"}, {Key: "hatch", Title: "Laboratory hatch", Detail: "Tarn Road, ground floor"},
			{Key: strings.Repeat("abcdefgh", 8), Title: "Histopathology specimen reception", Detail: "Tarn Road laboratory, lower ground floor, behind the second fire door, bell B"}}
	case FormBadge:
		return []Content{{Key: "q", Title: "Q"}, {Key: "nurse.osei", Title: "Abena Osei", Detail: "nurse"},
			{Key: strings.Repeat("abcdefgh", 8), Title: "Konstantina-Maria Papadopoulou-Ångström", Detail: "consultant radiologist, lead for breast"}}
	case FormDowntime:
		var all []Content
		for _, name := range []tracker.Name{"QQQ-26-00417", "QQQ-26-00417-Q", "QQQ-26-00417-Q99"} {
			if name.Thing() != tracker.ThingPiece && l.WidthMM < DowntimeWideMM {
				continue
			}
			code, err := tracker.MakeCode(name, 'Q')
			require.NoError(t, err)
			all = append(all, Content{Code: code})
		}
		return all
	}
	names := map[tracker.Thing]tracker.Name{tracker.ThingCase: "QQQ-26-00417", tracker.ThingPot: "QQQ-26-00417-Q",
		tracker.ThingPiece: "QQQ-26-00417-Q99", tracker.ThingBag: "QQQ-26-00012-Z"}
	code, err := tracker.MakeCode(names[thing], 'Q')
	require.NoError(t, err)
	at := time.Date(2026, 3, 6, 15, 31, 0, 0, time.UTC)
	if thing == tracker.ThingBag {
		return []Content{{Code: code, Printed: at}, {Code: code, Printed: at, To: "Tarn Road laboratory, hatch"}}
	}
	return []Content{
		{Code: code, Patient: Patient{Family: "Å", BirthDate: "2000-02-20", RecordNumber: "1"}, Organ: "thyroid", Medium: "RPMI", Printed: at},
		{Code: code, Patient: Patient{Family: "Halvorsen", Given: "Ingrid", BirthDate: "1961-02-14", RecordNumber: "40118223"},
			Organ: "breast", Side: "left", Position: "2 o'clock", Medium: "10 % formalin", Caution: "toxic", Studies: []string{"flow"}, Collector: "nurse.osei", Printed: at},
		{Code: code, Patient: Patient{Family: "Nguyễn-Ångström-Çelik-Jørgensen", Given: "Thị Ánh Ýrr", BirthDate: "2000-08-28", RecordNumber: "40118223", NationalNumber: "943 476 5919"},
			Organ: "axillary lymph node", Side: "bilateral", Position: "level II, 120 mm from nipple, q.v.", Medium: "Phosphate-buffered saline",
			Caution: "toxic", Studies: []string{"histology", "receptors"}, Collector: "dr.papadopoulou.j", Printed: at},
	}
}

// TestEveryWordInItsBox: nothing leaves its box or the label, no two boxes overlap, and every black dot belongs to one
// of them; measured on the dots.
func TestEveryWordInItsBox(t *testing.T) {
	d, err := NewDrawer()
	require.NoError(t, err)
	all := Layouts()
	for _, size := range []struct {
		form Form
		w, h float64
	}{{FormPot, 70, 40}, {FormPiece, 30, 20}, {FormSlide, 25.4, 25.4}, {FormCase, 90, 40}, {FormBag, 100, 60},
		{FormCase, 210, 210}, {FormPot, 100, 150}, {FormPlace, 150, 100}, {FormBadge, 60, 90}, {FormDowntime, 210, 210}, {FormDowntime, 60, 25},
		{FormDowntime, 30, 22}, {FormDowntime, 40, 60}, {FormPot, 51.3, 27.7}, {FormSlide, 26.1, 24.9}} {
		l, err := NewLayout(size.form, size.w, size.h)
		require.NoError(t, err)
		all = append(all, l)
	}
	for _, l := range all {
		for i, c := range contents(t, l) {
			for _, dots := range []int{8, 11, 12, 24} {
				if l.WidthMM > 110 && dots > 12 {
					continue // nothing new, for much work
				}
				for _, preview := range []bool{false, true} {
					t.Run(fmt.Sprintf("%s, content %d, at %d", l.Name, i, dots), func(t *testing.T) {
						p, err := d.Draw(l, c, Options{DotsPerMM: dots, Preview: preview})
						require.NoError(t, err)
						requireInBoxes(t, p)
					})
				}
			}
		}
	}
}

// requireInBoxes measures on the dots: all ink is in its box, no two boxes overlap, and no black dot belongs to nothing.
func requireInBoxes(t require.TestingT, p *Picture) {
	for i, r := range p.runs {
		require.Truef(t, r.ink.In(r.box), "%s: ink %v, box %v", r.slot, r.ink, r.box)
		require.Truef(t, r.box.In(p.Bounds()), "%s: box %v leaves the label", r.slot, r.box)
		for _, other := range p.runs[:i] {
			require.Falsef(t, r.box.Overlaps(other.box), "%s %v and %s %v", r.slot, r.box, other.slot, other.box)
		}
	}
	if p.Symbol != nil {
		requireQuiet(t, p, p.Symbol.Quiet(), image.Rect(p.Symbol.X, p.Symbol.Y, p.Symbol.X+p.Symbol.Modules*p.Symbol.ModuleDots, p.Symbol.Y+p.Symbol.Modules*p.Symbol.ModuleDots))
	}
	if b := p.Linear; b != nil {
		requireQuiet(t, p, b.Quiet(), image.Rect(b.X, b.Y, b.X+b.Modules*b.ModuleDots, b.Y+b.Height))
	}
	for _, r := range p.runs {
		p.fill(r.ink, white)
	}
	require.Equal(t, make([]byte, len(p.Bits)), p.Bits, "a black dot belongs to nothing, or padding is black")
}

// requireQuiet asks that a quiet zone is on the label and white but for what it is around.
func requireQuiet(t require.TestingT, p *Picture, zone, of image.Rectangle) {
	require.Truef(t, zone.In(p.Bounds()), "the quiet zone %v leaves the label", zone)
	for y := zone.Min.Y; y < zone.Max.Y; y++ {
		for x := zone.Min.X; x < zone.Max.X; x++ {
			if p.Black(x, y) && !image.Pt(x, y).In(of) {
				require.Failf(t, "quiet zone", "dot %d, %d is black", x, y)
			}
		}
	}
}

// TestRequiredWordsAreNeverSmall: name, second identifier and code have capitals of 2.0 mm at least, the least stated at
// MinRequiredMM; all else of SmallestMM.
func TestRequiredWordsAreNeverSmall(t *testing.T) {
	d, err := NewDrawer()
	require.NoError(t, err)
	for _, l := range Layouts() {
		for _, c := range contents(t, l) {
			for _, dots := range []int{8, 12, 24} {
				p, err := d.Draw(l, c, Options{DotsPerMM: dots})
				require.NoError(t, err)
				requireLeastHeights(t, p)
			}
		}
	}
}

func requireLeastHeights(t require.TestingT, p *Picture) {
	required := map[string]bool{"name": true, "given name": true, "identifiers": true, "second number": true, "code": true, "piece": true, "title": true}
	for _, r := range p.runs {
		for _, s := range r.spans {
			if s.text == "" {
				continue
			}
			high := float64(s.setting.cap) / float64(p.DotsPerMM)
			least := SmallestMM
			introduction := s.span.cap != 0 // "born", and the copy, which is small by the contract
			if required[r.slot] && !introduction {
				least = MinRequiredMM
			}
			require.GreaterOrEqualf(t, high+1e-9, least, "%q in %s of %s at %d", s.text, r.slot, p.Layout, p.DotsPerMM)
		}
	}
}

// TestCapitalsAreWholeDots: what is set at so many dots is so many dots high, in every typeface; this also holds the
// share of the capitals that sizes are made from against the fonts themselves.
func TestCapitalsAreWholeDots(t *testing.T) {
	f, err := newFonts()
	require.NoError(t, err)
	for face := range typefaces {
		for high := 11; high <= 80; high++ {
			s := f.set(setting{face, high})
			for _, r := range "HEFLT" {
				g := s.glyph(r)
				require.Equalf(t, high, g.height, "%c in typeface %d", r, face)
				require.Equal(t, -high, g.top)
			}
		}
	}
}

// TestNameStandsTopLeft: the patient's name is always top left (CLSI AUTO12-A), and on a pot it is the largest of the
// words about the patient.
func TestNameStandsTopLeft(t *testing.T) {
	d, err := NewDrawer()
	require.NoError(t, err)
	for _, l := range Layouts() {
		if !l.hasPatient() {
			continue
		}
		p, err := d.Draw(l, contents(t, l)[1], Options{DotsPerMM: 8})
		require.NoError(t, err)
		at := slices.IndexFunc(p.runs, func(r run) bool { return r.slot == "name" })
		name := p.runs[at]
		for i, r := range p.runs {
			require.Falsef(t, i != at && r.box.Min.Y <= name.box.Min.Y && r.box.Min.X <= name.box.Min.X, "%s stands before the name", r.slot)
		}
		if l.Thing == tracker.ThingPot {
			for _, r := range p.runs {
				if r.slot == "identifiers" {
					require.Greater(t, name.spans[0].setting.cap, r.spans[1].setting.cap)
				}
			}
		}
	}
}

// TestEveryPredefinedLayoutIsMade: Layouts leaves none out, and each is found by its name.
func TestEveryPredefinedLayoutIsMade(t *testing.T) {
	var names []string
	for _, l := range Layouts() {
		names = append(names, l.Name)
		found, ok := LayoutNamed(l.Name)
		require.True(t, ok)
		require.Equal(t, l.WidthMM, found.WidthMM)
	}
	require.Equal(t, []string{"pot-50x25", "pot-50.8x25.4", "piece-22x15", "slide-24x24", "request-50x25", "request-100x40", "bag-50x25",
		"place-50x25", "place-70x50", "badge-50x25", "badge-80x50", "downtime-70x50", "downtime-50x50", "downtime-50x25", "downtime-24x24", "downtime-22x15"}, names)
	_, ok := LayoutNamed("pot-1x1")
	require.False(t, ok)
	for thing, name := range map[tracker.Thing]string{tracker.ThingPot: "pot-50x25", tracker.ThingPiece: "piece-22x15", tracker.ThingCase: "request-50x25", tracker.ThingBag: "bag-50x25"} {
		l, ok := DefaultLayout(thing)
		require.True(t, ok)
		require.Equal(t, name, l.Name)
	}
	_, ok = DefaultLayout(0)
	require.False(t, ok)
}
