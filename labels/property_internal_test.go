package labels

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/tracker"
)

// letters that names are made of: Latin with the accents of many languages, Vietnamese, Greek, Cyrillic; and what stands
// between them.
var letters = []string{
	"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz",
	"ÀÁÂÃÄÅÆÇÈÉÊËÌÍÎÏÐÑÒÓÔÕÖØÙÚÛÜÝÞßàáâãäåæçèéêëìíîïðñòóôõöøùúûüýþÿĀāĂăĄąĆćČčĎďĐđĘęĚěĞğĢģĪīİıĶķĻļŁłŃńŇňŐőŒœŔŕŘřŚśŞşŠšŢţŤťŮůŰűŲųŹźŻżŽžȘșȚț",
	"ẠạẢảẤấẦầẨẩẪẫẬậẮắẰằẲẳẴẵẶặẸẹẺẻẼẽẾếỀềỂểỄễỆệỈỉỊịỌọỎỏỐốỒồỔổỖỗỘộỚớỜờỞởỠỡỢợỤụỦủỨứỪừỬửỮữỰựỲỳỴỵỶỷỸỹ",
	"ΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩαβγδεζηθικλμνξοπρςστυφχψωΆΈΉΊΌΎΏάέήίόύώϊϋΐΰ",
	"АБВГДЕЖЗИЙКЛМНОПРСТУФХЦЧШЩЪЫЬЭЮЯабвгдежзийклмнопрстуфхцчшщъыьэюяЁёЂђЄєІіЇїЈјЉљЊњЋћЌќЎўЏџҐґ",
}

// words draws text of some letters of one script, with separators in it.
func drawnText(r *rapid.T, label string, most int) string {
	script := []rune(rapid.SampledFrom(letters).Draw(r, label+" script"))
	separators := []rune{' ', '-', '\'', '’', '.'}
	n := rapid.IntRange(1, most).Draw(r, label+" length")
	var b strings.Builder
	for range n {
		if rapid.IntRange(0, 9).Draw(r, label+" kind") == 0 {
			b.WriteRune(rapid.SampledFrom(separators).Draw(r, label))
		} else {
			b.WriteRune(rapid.SampledFrom(script).Draw(r, label))
		}
	}
	return b.String()
}

// TestLawAWholeLabelOrASentence: whatever somebody is called and whatever is taken from where, there is either a label on
// which all that is required stands wholly and large enough, nothing touches anything else and the quiet zones are white,
// or a sentence that names what is wrong and nobody.
func TestLawAWholeLabelOrASentence(t *testing.T) {
	d, err := NewDrawer()
	require.NoError(t, err)
	names := map[tracker.Thing]tracker.Name{tracker.ThingCase: "QQQ-26-00417", tracker.ThingPot: "MBY-26-00417-Q", tracker.ThingPiece: "HCX-26-00417-W99"}
	var all []Layout
	for _, l := range Layouts() {
		if l.hasPatient() {
			all = append(all, l)
		}
	}
	rapid.Check(t, func(r *rapid.T) {
		l := rapid.SampledFrom(all).Draw(r, "layout")
		if rapid.Bool().Draw(r, "other stock") {
			known, _ := l.Form.known()
			other, err := NewLayout(l.Form, float64(rapid.IntRange(int(known.least[0])*10, 1200).Draw(r, "width"))/10, float64(rapid.IntRange(int(known.least[1])*10, 1000).Draw(r, "height"))/10)
			require.NoError(r, err)
			l = other
		}
		code, err := tracker.MakeCode(names[l.Thing], tracker.Copy(rapid.SampledFrom([]byte("1Q")).Draw(r, "copy")))
		require.NoError(r, err)
		number := rapid.StringMatching(`[0-9A-Z]{1,12}( [0-9]{1,4})?`)
		c := Content{Code: code, Printed: time.Date(2026, 3, 6, 15, 31, 0, 0, time.UTC),
			Patient: Patient{Family: drawnText(r, "family", 34), BirthDate: "2000-08-28", RecordNumber: number.Draw(r, "record")},
			Organ:   drawnText(r, "organ", 24), Medium: drawnText(r, "medium", 34),
			Side: rapid.SampledFrom([]string{"", "left", "right", "both sides", "midline"}).Draw(r, "side")}
		if rapid.Bool().Draw(r, "has a given name") {
			c.Patient.Given = drawnText(r, "given", 24)
		}
		if rapid.Bool().Draw(r, "has a national number") {
			c.Patient.NationalNumber = number.Draw(r, "national")
		}
		if rapid.Bool().Draw(r, "has a position") {
			c.Position = drawnText(r, "position", 40)
		}
		if rapid.Bool().Draw(r, "has a caution") {
			c.Caution = "toxic"
		}
		if rapid.Bool().Draw(r, "has a collector") {
			c.Collector = drawnText(r, "collector", 20)
		}
		p, err := d.Draw(l, c, Options{DotsPerMM: rapid.SampledFrom([]int{8, 11, 12, 16, 20, 23, 24}).Draw(r, "dots")})
		if err != nil {
			require.Nil(r, p)
			requireSentence(r, err, c.Patient)
			return
		}
		requireLeastHeights(r, p)
		requireWhole(r, p, c)
		requireInBoxes(r, p)
	})
}

// requireSentence asks for one of the three kinds of error, which names no patient.
func requireSentence(t require.TestingT, err error, p Patient) {
	var character *CharacterError
	var fit *FitError
	var content *ContentError
	require.Truef(t, errors.As(err, &character) || errors.As(err, &fit) || errors.As(err, &content), "%v", err)
	for _, of := range []string{p.Family, p.Given, p.RecordNumber, p.NationalNumber} {
		if len([]rune(strings.TrimSpace(of))) > 6 {
			require.NotContains(t, err.Error(), of)
		}
	}
}

// requireWhole asks that what must never be shortened is there in full: birth date and a number, code, side; on a pot
// organ, position, medium; and of the name eight characters, or all of it.
func requireWhole(t require.TestingT, p *Picture, c Content) {
	said := texts(p)
	c, err := c.prepared()
	require.NoError(t, err)
	require.Contains(t, said["identifiers"], string(c.Patient.BirthDate))
	thing := c.Code.Name().Thing()
	if thing != tracker.ThingPiece {
		require.Contains(t, said["identifiers"], c.Patient.RecordNumber)
		require.Contains(t, said["code"], string(c.Code.Name().Case()))
	}
	if thing == tracker.ThingCase {
		require.Contains(t, said["identifiers"]+said["second number"], c.Patient.NationalNumber)
	}
	if thing == tracker.ThingPot {
		require.Contains(t, said["site"], c.Organ)
		require.Contains(t, said["site"], strings.ToUpper(c.Side))
		require.Contains(t, said["site"]+said["position"], c.Position)
		require.Contains(t, said["medium"], c.Medium)
		require.Contains(t, said["time taken and collector"], c.Collector)
		require.Contains(t, said["printed"], "2026-03-06 15:31")
	} else if thing == tracker.ThingPiece {
		require.Contains(t, said["side"], strings.ToUpper(c.Side))
	}
	name := []rune(strings.ReplaceAll(said["name"]+said["given name"], " ", ""))
	require.GreaterOrEqual(t, len(name), min(leastFamily, len([]rune(strings.ReplaceAll(c.Patient.Family, " ", "")))))
}
