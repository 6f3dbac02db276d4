package labels_test

import (
	"bytes"
	"flag"
	"fmt"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

var update = flag.Bool("update", false, "write the pictures in testdata anew; look at each before committing it")

// TestGoldenLabels holds each layout to a picture that a person has looked at.
func TestGoldenLabels(t *testing.T) {
	d := drawer(t)
	for _, l := range labels.Layouts() {
		for _, dots := range []int{8, 12} {
			golden(t, d, fmt.Sprintf("%s-%d", l.Name, dots), l, contentFor(t, l), labels.Options{DotsPerMM: dots})
		}
	}
	for _, l := range labels.Layouts() {
		if l.Form == labels.FormDowntime {
			// Nothing on it is long; but what is asked differs with the thing.
			for name, asked := range map[tracker.Name]string{"MBY-26-00501": "case", "MBY-26-00501-A03": "piece"} {
				if c := (labels.Content{Code: code(t, name, '1')}); l.WidthMM >= 50 {
					golden(t, d, l.Name+"-"+asked+"-8", l, c, labels.Options{DotsPerMM: 8})
				}
			}
			continue
		}
		for _, dots := range []int{8, 12} {
			golden(t, d, fmt.Sprintf("%s-long-%d", l.Name, dots), l, longContent(t, l), labels.Options{DotsPerMM: dots})
		}
	}
	for script, name := range map[string][2]string{
		"latin": {"Łukaszewicz-Čapková", "Þórður"}, "greek": {"Παπαδοπούλου", "Ευαγγελία"},
		"cyrillic": {"Щербаковская", "Ольга"}, "vietnamese": {"Nguyễn", "Thị Ánh Tuyết"},
	} {
		for _, on := range []string{"pot-50x25", "piece-22x15"} {
			l := layout(t, on)
			c := contentFor(t, l)
			c.Patient.Family, c.Patient.Given = name[0], name[1]
			golden(t, d, on+"-"+script+"-8", l, c, labels.Options{DotsPerMM: 8})
		}
	}
	short := contentFor(t, layout(t, "pot-50x25"))
	short.Position = "2 o'clock"
	short.Code = code(t, "MBY-26-00417-Q", 'Z')
	golden(t, d, "pot-50x25-reprint-8", layout(t, "pot-50x25"), short, labels.Options{DotsPerMM: 8})
	golden(t, d, "pot-50x25-preview-8", layout(t, "pot-50x25"), short, labels.Options{DotsPerMM: 8, Preview: true})
}

// longContent is a content as crowded as a day brings it.
func longContent(t testing.TB, l labels.Layout) labels.Content {
	c := contentFor(t, l)
	switch l.Form {
	case labels.FormBag:
		c.To = "Tarn Road laboratory, night hatch"
		return c
	case labels.FormPlace:
		c.Key, c.Title, c.Detail = "marram-bay.ultrasound-2.dirty-utility", "Dirty utility by ultrasound room 2", "Marram Bay clinic, first floor, next to the lift"
		return c
	case labels.FormBadge:
		c.Key, c.Title, c.Detail = "dr.papadopoulou-featherstone", "Konstantina Papadopoulou-Featherstone", "consultant radiologist, breast"
		return c
	case labels.FormDowntime:
		return c
	}
	c.Patient.Family, c.Patient.Given = "Featherstone-Ångström", "Ærøskøbing Charlotte"
	c.Patient.NationalNumber = "943 476 5919"
	c.Side, c.Organ, c.Position = "right", "axillary node", "level II, 120 mm from nipple"
	c.Medium, c.Caution = "neutral buffered formalin 10 %", "toxic"
	c.Studies, c.Collector = []string{"histology", "receptors", "sequencing"}, ""
	return c
}

func golden(t *testing.T, d *labels.Drawer, name string, l labels.Layout, c labels.Content, o labels.Options) {
	t.Run(name, func(t *testing.T) {
		p, err := d.Draw(l, c, o)
		require.NoError(t, err)
		file := filepath.Join("testdata", name+".png")
		if *update {
			var b bytes.Buffer
			require.NoError(t, labels.WritePNG(&b, p))
			require.NoError(t, os.MkdirAll("testdata", 0o755))
			require.NoError(t, os.WriteFile(file, b.Bytes(), 0o644))
		}
		kept, err := os.ReadFile(file)
		require.NoErrorf(t, err, "run the test with -update, and look at the picture")
		want, err := png.Decode(bytes.NewReader(kept))
		require.NoError(t, err)
		require.Equal(t, want.Bounds(), p.Bounds())
		differ := 0
		for y := range p.Height {
			for x := range p.Width {
				if gray, _, _, _ := want.At(x, y).RGBA(); (gray == 0) != p.Black(x, y) {
					differ++
				}
			}
		}
		require.Zerof(t, differ, "dots differ from %s; if that is meant, run with -update and look at it", file)
	})
}

// TestSameContentSameDots: drawing twice, by one drawer or another, gives the same picture.
func TestSameContentSameDots(t *testing.T) {
	l := layout(t, "pot-50x25")
	c := contentFor(t, l)
	d := drawer(t)
	first, err := d.Draw(l, c, labels.Options{DotsPerMM: 12})
	require.NoError(t, err)
	again, err := d.Draw(l, c, labels.Options{DotsPerMM: 12})
	require.NoError(t, err)
	other, err := drawer(t).Draw(l, c, labels.Options{DotsPerMM: 12})
	require.NoError(t, err)
	require.Equal(t, first.Bits, again.Bits)
	require.Equal(t, first.Bits, other.Bits)
}

// TestManyAtOnce: one drawer serves several goroutines (meant for the race detector).
func TestManyAtOnce(t *testing.T) {
	d := drawer(t)
	done := make(chan error)
	const workers = 4
	for i := range workers {
		go func() {
			l := labels.Layouts()[i]
			c := contentFor(t, l)
			for range 20 {
				if _, err := d.Draw(l, c, labels.Options{DotsPerMM: 8 + i}); err != nil {
					done <- err
					return
				}
			}
			done <- nil
		}()
	}
	for range workers {
		require.NoError(t, <-done)
	}
}

// TestOtherStock: a form fits itself to larger stock and refuses smaller.
func TestOtherStock(t *testing.T) {
	d := drawer(t)
	for _, test := range []struct {
		form   labels.Form
		w, h   float64
		thing  tracker.Thing
		refuse bool
	}{
		{labels.FormPot, 70, 40, tracker.ThingPot, false},
		{labels.FormPot, 49.9, 25, 0, true},
		{labels.FormPiece, 22, 14, 0, true},
		{labels.FormSlide, 25.4, 25.4, tracker.ThingPiece, false},
		{labels.FormBag, 211, 60, 0, true},
		{labels.FormPot, nan(), 25, 0, true},
		{"wristband", 50, 25, 0, true},
	} {
		l, err := labels.NewLayout(test.form, test.w, test.h)
		if test.refuse {
			require.Errorf(t, err, "%s %g × %g", test.form, test.w, test.h)
			continue
		}
		require.NoError(t, err)
		require.Equal(t, test.thing, l.Thing)
		c := contentFor(t, l)
		p, err := d.Draw(l, c, labels.Options{DotsPerMM: 8})
		require.NoError(t, err)
		require.Equal(t, symbolText(l, c), readByZXing(t, p))
	}
	_, err := d.Draw(labels.Layout{}, potContent(t), labels.Options{DotsPerMM: 8})
	require.Error(t, err)
}

func nan() float64 { zero := 0.0; return zero / zero }
