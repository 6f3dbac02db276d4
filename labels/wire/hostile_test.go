package wire_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/labels/wire"
	"github.com/pottrail/pottrail/labels/wire/wiretest"
)

// hostile are texts that would do harm if they reached a printer as commands. Those with control characters, or that are
// not UTF-8, must not even be drawn.
var hostile = []struct {
	what, text string
	refused    bool
}{
	{"ZPL: a label's start", "^XA", false},
	{"ZPL: its end, and a new one", "^FS^XZ^XA", false},
	{"ZPL: a field", "^FD1^FS", false},
	{"ZPL: printer reset", "~JR", false},
	{"ZPL: nine copies", "^PQ9", false},
	{"ZPL: another caret", "^CC+", false},
	{"ZPL: a graphic", "^GFA,8,8,1,FF", false},
	{"ZPL: another program's braces", "${FN1}$ {", false},
	{"EPL: print nine", "\nP9\n", true},
	{"EPL: its letters alone", "P9 N q9", false},
	{"EPL: a text command", `A1,1,0,1,1,1,N,"x"`, false},
	{"EPL: graphic", "GW0,0,1,1,", false},
	{"TSPL: print nine", "\r\nPRINT 9\r\n", true},
	{"TSPL: its words alone", "PRINT 9", false},
	{"TSPL: clear", "CLS", false},
	{"TSPL: text", `TEXT 1,1,"1",0`, false},
	{"TSPL: a quote left open", `"`, false},
	{"TSPL: escape for status", "\x1b!?", true},
	{"ESC/POS: initialise", "\x1b@", true},
	{"ESC/POS: cut", "\x1dV\x00", true},
	{"ESC/POS: data link escape", "\x10\x04\x01", true},
	{"ESC/POS: the second set of controls", "\u009b1m", true},
	{"PWG: sync word", "RaS2", false},
	{"PWG: packets", "\x80\xff\x81", true},
	{"PWG: letters that look like packets", "ÿþÿþ", false},
	{"PNG: signature", "\x89PNG\r\n\x1a\n", true},
	{"PNG: chunk", "IENDtEXt", false},
	{"PDF: header", "%PDF-1.3", false},
	{"PDF: end of stream", "endstream", false},
	{"PDF: a string's end", ") >> endobj (", false},
	{"PDF: backslash", `\`, false},
	{"PostScript: header", "%!PS-Adobe", false},
	{"PostScript: erase", "erasepage", false},
	{"PJL: exit", "\x1b%-12345X@PJL", true},
	{"PJL: its words alone", "@PJL RESET", false},
	{"a shell", "$(reboot);`x`|&", false},
	{"a format", "%s%n%d{{.}}", false},
	{"a null", "a\x00b", true},
	{"a form feed", "a\fb", true},
	{"a line separator", "a\u2028b", true},
}

// typedPlace is a place on a label for what a person types.
type typedPlace struct {
	layout, what string
	in           func(c *labels.Content) *string
}

// typed are all such places.
var typed = typedPlaces()

func typedPlaces() []typedPlace {
	all := []typedPlace{
		{"pot-50x25", "family name", func(c *labels.Content) *string { return &c.Patient.Family }},
		{"pot-50x25", "given name", func(c *labels.Content) *string { return &c.Patient.Given }},
		{"pot-50x25", "record number", func(c *labels.Content) *string { return &c.Patient.RecordNumber }},
		{"pot-50x25", "organ", func(c *labels.Content) *string { return &c.Organ }},
		{"pot-50x25", "position", func(c *labels.Content) *string { return &c.Position }},
		{"pot-50x25", "medium", func(c *labels.Content) *string { return &c.Medium }},
		{"pot-50x25", "caution", func(c *labels.Content) *string { return &c.Caution }},
		{"pot-50x25", "collector", func(c *labels.Content) *string { return &c.Collector }},
		{"pot-50x25", "studies", func(c *labels.Content) *string { return &c.Studies[0] }},
		{"bag-50x25", "destination", func(c *labels.Content) *string { return &c.To }},
	}
	for _, l := range labels.Layouts() {
		if l.Form == labels.FormPlace || l.Form == labels.FormBadge {
			all = append(all, typedPlace{l.Name, "title", func(c *labels.Content) *string { return &c.Title }},
				typedPlace{l.Name, "detail", func(c *labels.Content) *string { return &c.Detail }})
		}
	}
	return all
}

// languagesFor leaves PNG and PDF, which are slow to make, to the first place.
func languagesFor(place int) []wire.Language {
	if place > 0 {
		return []wire.Language{wire.ZPL, wire.EPL, wire.TSPL, wire.ESCPOS, wire.PWG}
	}
	return wire.Languages()
}

// labelWith is a label with a text in one of the places for what a person types.
func labelWith(t testing.TB, d *labels.Drawer, place int, text string) (*labels.Picture, error) {
	t.Helper()
	l, ok := labels.LayoutNamed(typed[place].layout)
	require.True(t, ok)
	c := contentFor(t, l)
	c.Position = ""
	*typed[place].in(&c) = text
	return d.Draw(l, c, labels.Options{DotsPerMM: 8})
}

// plainCommands are the commands of a label with an ordinary word in each place, for each language.
func plainCommands(t testing.TB, d *labels.Drawer) []map[wire.Language][]byte {
	t.Helper()
	var all []map[wire.Language][]byte
	for place := range typed {
		p, err := labelWith(t, d, place, "Moss")
		require.NoError(t, err, "%s", typed[place].what)
		commands := map[wire.Language][]byte{}
		for _, l := range wire.Languages() {
			commands[l], err = dotsAlone(ours, l, nil, p, "Moss")
			require.NoError(t, err)
		}
		all = append(all, commands)
	}
	return all
}

// encoder is wire.Encode, or a bad one that a test makes.
type encoder func(l wire.Language, p *labels.Picture, name string) ([]byte, error)

func ours(l wire.Language, p *labels.Picture, _ string) ([]byte, error) {
	return wire.Encode(l, p, wire.Setup{GapMM: 3, Created: created})
}

// dotsAlone says what of a hostile name, besides dots, got into a job: nothing, if the job's commands are byte for byte
// those of a plain name's job (any, if these are nil), and a strict reader finds nothing in it but these commands and the
// picture's own dots. It returns the commands.
func dotsAlone(encode encoder, l wire.Language, plain []byte, picture *labels.Picture, name string) ([]byte, error) {
	body, err := encode(l, picture, name)
	if err != nil {
		return nil, err
	}
	job, err := wiretest.Read(l, body)
	if err != nil {
		return nil, err
	}
	if plain != nil && !bytes.Equal(plain, job.Commands) {
		return nil, fmt.Errorf("the commands in %s differ with the name", l)
	}
	if left := len(body) - len(job.Commands) - job.Data; left != 0 && l != wire.PNG && l != wire.PDF {
		return nil, fmt.Errorf("%d bytes in %s are neither command nor dots", left, l)
	}
	return job.Commands, job.Same(picture)
}

// requireDots holds a label with a hostile text to those with an ordinary one.
func requireDots(t require.TestingT, languages []wire.Language, plain map[wire.Language][]byte, p *labels.Picture, text string) {
	for _, l := range languages {
		_, err := dotsAlone(ours, l, plain[l], p, text)
		require.NoError(t, err, "in %s", l)
	}
}

// TestNoNameIsACommand: names and words made of every printer language's commands come out as dots alone, in every language;
// those made of control characters are refused before drawing.
func TestNoNameIsACommand(t *testing.T) {
	d := drawer(t)
	plain := plainCommands(t, d)
	drawn := map[string]bool{}
	for _, test := range hostile {
		t.Run(test.what, func(t *testing.T) {
			for place := range typed {
				text := test.text
				if test.refused {
					text = "x" + text + "x" // white space at the ends would be taken off
				}
				p, err := labelWith(t, d, place, text)
				var character *labels.CharacterError
				var unfit *labels.FitError
				switch {
				case test.refused:
					require.ErrorAs(t, err, &character, "%s", typed[place].what)
					require.NotContains(t, err.Error(), test.text)
					continue
				case errors.As(err, &unfit):
					continue
				}
				require.NoError(t, err, "%s", typed[place].what)
				drawn[test.what] = true
				requireDots(t, languagesFor(place), plain[place], p, text)
			}
			require.Equal(t, !test.refused, drawn[test.what], "drawn in one field at least")
		})
	}
}

// TestNoDrawnNameIsACommand: the same for names put together at random from letters, commands and controls.
func TestNoDrawnNameIsACommand(t *testing.T) {
	d := drawer(t)
	plain := plainCommands(t, d)
	var parts []string
	for _, test := range hostile {
		parts = append(parts, test.text)
	}
	for c := range 256 {
		parts = append(parts, string(rune(c)))
	}
	rapid.Check(t, func(r *rapid.T) {
		name := strings.Join(rapid.SliceOfN(rapid.SampledFrom(parts), 1, 6).Draw(r, "parts"), "")
		place := rapid.IntRange(0, len(typed)-1).Draw(r, "place")
		p, err := labelWith(t, d, place, name)
		if err != nil {
			var character *labels.CharacterError
			var unfit *labels.FitError
			var content *labels.ContentError
			require.True(r, errors.As(err, &character) || errors.As(err, &unfit) || errors.As(err, &content), "%v", err)
			return
		}
		requireDots(r, languagesFor(place), plain[place], p, name)
	})
}

// TestNoNameIsACommandCanFail: an encoder that put a name into a text field, a comment, a header or the document's properties
// would be noticed, even with the most ordinary name.
func TestNoNameIsACommandCanFail(t *testing.T) {
	d := drawer(t)
	halvorsen, err := labelWith(t, d, 0, "Halvorsen")
	require.NoError(t, err)
	moss, err := labelWith(t, d, 0, "Moss")
	require.NoError(t, err)
	before := func(mark, format string) func(body []byte, name string) []byte {
		return func(body []byte, name string) []byte {
			at := bytes.LastIndex(body, []byte(mark))
			return slice(body[:at], fmt.Appendf(nil, format, name), body[at:])
		}
	}
	for _, test := range []struct {
		what     string
		language wire.Language
		spoil    func(body []byte, name string) []byte
	}{
		{"a text field", wire.ZPL, before("^PQ1", "^FO8,8^A0N,20^FD%s^FS")},
		{"a comment", wire.ZPL, before("^XZ", "^FX %s")},
		{"text after the job", wire.ZPL, func(body []byte, name string) []byte { return append(bytes.Clone(body), name...) }},
		{"a text command", wire.EPL, before("P1\n", "A8,8,0,1,1,1,N,%q\n")},
		{"a comment", wire.EPL, before("P1\n", ";%s\n")},
		{"a text command", wire.TSPL, before("PRINT", "TEXT 8,8,\"1\",0,1,1,%q\r\n")},
		{"a comment", wire.TSPL, before("PRINT", "REM %s\r\n")},
		{"a line of text", wire.ESCPOS, before("\x1dV", "%s\n")},
		{"vendor data in the header", wire.PWG, func(body []byte, name string) []byte {
			out := bytes.Clone(body)
			copy(out[4+516:], name)
			return out
		}},
		{"text after the page", wire.PWG, func(body []byte, name string) []byte { return append(bytes.Clone(body), name...) }},
		{"a text chunk", wire.PNG, func(body []byte, name string) []byte {
			data := append([]byte("tEXtTitle\x00"), name...)
			chunk := binary.BigEndian.AppendUint32(nil, uint32(len(data)-4))
			chunk = binary.BigEndian.AppendUint32(append(chunk, data...), crc32.ChecksumIEEE(data))
			return slice(body[:33], chunk, body[33:])
		}},
		{"a document's title", wire.PDF, before("/CreationDate", "/Title (%s)\n")},
		{"a comment", wire.PDF, before("\nstartxref", "\n%%%s")},
	} {
		bad := func(l wire.Language, p *labels.Picture, name string) ([]byte, error) {
			body, err := ours(l, p, name)
			return test.spoil(body, name), err
		}
		commands, err := dotsAlone(ours, test.language, nil, halvorsen, "Halvorsen")
		require.NoError(t, err)
		_, err = dotsAlone(ours, test.language, commands, moss, "Moss")
		require.NoError(t, err)
		commands, err = dotsAlone(bad, test.language, nil, halvorsen, "Halvorsen")
		if err == nil { // the reader takes it, so the difference must tell
			_, err = dotsAlone(bad, test.language, commands, moss, "Moss")
		}
		require.Error(t, err, "%s in %s", test.what, test.language)
	}
}

func slice(parts ...[]byte) []byte { return bytes.Join(parts, nil) }

// FuzzNamesAreDots: any text at all as a name comes out as dots alone, or is refused.
func FuzzNamesAreDots(f *testing.F) {
	for i, test := range hostile {
		f.Add(i%len(typed), test.text)
	}
	d := drawer(f)
	plain := plainCommands(f, d)
	f.Fuzz(func(t *testing.T, place int, text string) {
		place = ((place % len(typed)) + len(typed)) % len(typed)
		p, err := labelWith(t, d, place, text)
		if err != nil {
			return
		}
		requireDots(t, languagesFor(place), plain[place], p, text)
	})
}
