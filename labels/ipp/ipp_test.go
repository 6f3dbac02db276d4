package ipp_test

import (
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/labels/ipp"
)

// wire puts bytes together from hexadecimal digits and, between quotes, letters.
func wire(t testing.TB, parts string) []byte {
	t.Helper()
	var out []byte
	for i, part := range strings.Split(parts, "'") {
		if i%2 == 1 {
			out = append(out, part...)
			continue
		}
		b, err := hex.DecodeString(strings.Join(strings.Fields(part), ""))
		require.NoError(t, err)
		out = append(out, b...)
	}
	return out
}

// TestExamplesOfTheStandard are those of RFC 8010, appendix A, from memory and not from the text: the lay-out of the
// attributes is that of A.1, A.3 and A.7; version and document are ours.
func TestExamplesOfTheStandard(t *testing.T) {
	rows := []struct {
		label string
		bytes string
		want  ipp.Message
	}{
		{"A.1, a job to print", `0101 0002 00000001
			01 47 0012 'attributes-charset' 0005 'utf-8'
			   48 001B 'attributes-natural-language' 0005 'en-us'
			   45 000B 'printer-uri' 002C 'ipp://printer.example.com/ipp/print/pinetree'
			   42 0008 'job-name' 0006 'foobar'
			   22 0016 'ipp-attribute-fidelity' 0001 01
			02 21 0006 'copies' 0004 00000014
			   44 0005 'sides' 0013 'two-sided-long-edge'
			03`,
			ipp.Message{Version: ipp.Version11, Code: 2, ID: 1, Groups: []ipp.Group{
				{Tag: ipp.OperationGroup, Attributes: []ipp.Attribute{
					ipp.Attr("attributes-charset", ipp.Charset("utf-8")),
					ipp.Attr("attributes-natural-language", ipp.NaturalLanguage("en-us")),
					ipp.Attr("printer-uri", ipp.URI("ipp://printer.example.com/ipp/print/pinetree")),
					ipp.Attr("job-name", ipp.Name{Name: "foobar"}),
					ipp.Attr("ipp-attribute-fidelity", ipp.Boolean(true)),
				}},
				{Tag: ipp.JobGroup, Attributes: []ipp.Attribute{
					ipp.Attr("copies", ipp.Integer(20)),
					ipp.Attr("sides", ipp.Keyword("two-sided-long-edge")),
				}},
			}}},
		{"A.3, what the printer does not do", `0101 040B 00000001
			01 47 0012 'attributes-charset' 0005 'utf-8'
			   48 001B 'attributes-natural-language' 0005 'en-us'
			   41 000E 'status-message' 002F 'client-error-attributes-or-values-not-supported'
			05 21 0006 'copies' 0004 00000014
			   10 0005 'sides' 0000
			03`,
			ipp.Message{Version: ipp.Version11, Code: 0x040B, ID: 1, Groups: []ipp.Group{
				{Tag: ipp.OperationGroup, Attributes: []ipp.Attribute{
					ipp.Attr("attributes-charset", ipp.Charset("utf-8")),
					ipp.Attr("attributes-natural-language", ipp.NaturalLanguage("en-us")),
					ipp.Attr("status-message", ipp.Text{Text: "client-error-attributes-or-values-not-supported"}),
				}},
				{Tag: ipp.UnsupportedGroup, Attributes: []ipp.Attribute{
					ipp.Attr("copies", ipp.Integer(20)),
					ipp.Attr("sides", ipp.Unsupported),
				}},
			}}},
		{"A.7, a collection in a collection", `0200 0005 00000001
			02 34 0009 'media-col' 0000
			   4A 0000 000A 'media-size'
			   34 0000 0000
			   4A 0000 000B 'x-dimension'
			   21 0000 0004 00005208
			   4A 0000 000B 'y-dimension'
			   21 0000 0004 00007404
			   37 0000 0000
			   4A 0000 000A 'media-type'
			   44 0000 000A 'stationery'
			   37 0000 0000
			03`,
			ipp.Message{Version: ipp.Version20, Code: 5, ID: 1, Groups: []ipp.Group{
				{Tag: ipp.JobGroup, Attributes: []ipp.Attribute{ipp.Attr("media-col", ipp.Collection{
					ipp.Attr("media-size", ipp.Collection{
						ipp.Attr("x-dimension", ipp.Integer(21000)),
						ipp.Attr("y-dimension", ipp.Integer(29700)),
					}),
					ipp.Attr("media-type", ipp.Keyword("stationery")),
				})}},
			}}},
	}
	for _, row := range rows {
		t.Run(row.label, func(t *testing.T) {
			b := wire(t, row.bytes)
			got, document, err := ipp.Decode(append(bytes.Clone(b), "%!PDF"...))
			require.NoError(t, err)
			require.Equal(t, "%!PDF", string(document), "what follows the message is the document")
			require.Equal(t, row.want, *got)
			again, err := row.want.Encode()
			require.NoError(t, err)
			require.Equal(t, b, again)
		})
	}
}

// TestEveryKindOfValueIsRead holds each kind against its bytes in RFC 8010, section 3.9.
func TestEveryKindOfValueIsRead(t *testing.T) {
	rows := []struct {
		label, bytes string
		want         ipp.Value
	}{
		{"a whole number below nought", "21 0001 'x' 0004 FFFFFFFE", ipp.Integer(-2)},
		{"no", "22 0001 'x' 0001 00", ipp.Boolean(false)},
		{"a number for a word", "23 0001 'x' 0004 00000009", ipp.Enum(9)},
		{"bytes", "30 0001 'x' 0002 00FF", ipp.OctetString("\x00\xff")},
		{"an instant", "31 0001 'x' 000B 07EA 03 06 0E 05 09 02 2B 01 00", ipp.At(time.Date(2026, 3, 6, 14, 5, 9, 2e8, time.FixedZone("", 3600)))},
		{"dots an inch", "32 0001 'x' 0009 000000CB 000000CB 03", ipp.Resolution{Cross: 203, Feed: 203, Unit: ipp.DotsPerInch}},
		{"from to", "33 0001 'x' 0008 00000001 00000063", ipp.Range{Lower: 1, Upper: 99}},
		{"a text in a language", "35 0001 'x' 0008 0002 'cs' 0002 C5BE", ipp.Text{Language: "cs", Text: "ž"}},
		{"a name in a language", "36 0001 'x' 0006 0002 'de' 0000", ipp.Name{Language: "de"}},
		{"a text", "41 0001 'x' 0002 'ok'", ipp.Text{Text: "ok"}},
		{"a name", "42 0001 'x' 0000", ipp.Name{}},
		{"a keyword", "44 0001 'x' 0004 'none'", ipp.Keyword("none")},
		{"an address", "45 0001 'x' 0005 'ipp:/'", ipp.URI("ipp:/")},
		{"the first part of one", "46 0001 'x' 0003 'ipp'", ipp.URIScheme("ipp")},
		{"how text is written", "47 0001 'x' 0005 'utf-8'", ipp.Charset("utf-8")},
		{"a language", "48 0001 'x' 0002 'en'", ipp.NaturalLanguage("en")},
		{"a format", "49 0001 'x' 0010 'image/pwg-raster'", ipp.MIMEMediaType("image/pwg-raster")},
		{"not known", "12 0001 'x' 0000", ipp.Unknown},
		{"no value", "13 0001 'x' 0000", ipp.NoValue},
		{"a collection of nothing", "34 0001 'x' 0000 37 0000 0000", ipp.Collection{}},
		{"a kind of later days", "7F 0001 'x' 0004 40000000", ipp.Opaque{Kind: 0x7F, Bytes: "\x40\x00\x00\x00"}},
	}
	for _, row := range rows {
		t.Run(row.label, func(t *testing.T) {
			b := wire(t, "0200 0000 00000001 04 "+row.bytes+" 03")
			m, _, err := ipp.Decode(b)
			require.NoError(t, err)
			require.Equal(t, []ipp.Value{row.want}, m.First(ipp.PrinterGroup).Get("x").Values)
			again, err := m.Encode()
			require.NoError(t, err)
			require.Equal(t, b, again)
		})
	}
}

// TestWhatCannotBeReadSaysWhere reads broken messages: each error names the byte.
func TestWhatCannotBeReadSaysWhere(t *testing.T) {
	const head = "0200 0000 00000001 "
	deep := strings.Repeat("34 0000 0000 4A 0000 0001 'm' ", ipp.MostDepth)
	rows := []struct {
		label, bytes string
		offset       int
		says         string
	}{
		{"nothing", "", 0, "at least 8 bytes"},
		{"half a head", "0200 00", 0, "at least 8 bytes"},
		{"a number of no request", "0200 0000 00000000 03", 4, "above 0"},
		{"no end", head, 8, "ends without saying so"},
		{"no end after a group", head + "01", 9, "ends without saying so"},
		{"a tag that means nothing", head + "00 03", 8, "0x00 means nothing"},
		{"a value before a group", head + "21 0001 'x' 0004 00000001 03", 8, "before the first group"},
		{"one more value of nothing", head + "01 21 0000 0004 00000001 03", 10, "no attribute before it"},
		{"a length cut off", head + "01 21 00", 10, "length of a name is cut off"},
		{"a name longer than the message", head + "01 21 00FF 'x'", 12, "and 1 follow"},
		{"a name of more than 255", head + "01 21 0100 'x'", 10, "at most 255"},
		{"a name with a newline", head + "01 21 0001 0A 0004 00000001 03", 10, "0x0A stands in a name"},
		{"a length below nought", head + "01 21 0001 'x' 8000 03", 13, "at most 32767"},
		{"a value cut off", head + "01 21 0001 'x' 0004 0000", 15, "and 2 follow"},
		{"a whole number of three bytes", head + "01 21 0001 'x' 0003 000000 03", 13, "4 bytes, not 3"},
		{"neither yes nor no", head + "01 22 0001 'x' 0001 02 03", 13, "neither yes nor no"},
		{"half an instant", head + "01 31 0001 'x' 0002 07EA 03", 13, "11 bytes, not 2"},
		{"a text longer than its value", head + "01 35 0001 'x' 0006 0002 'en' 0003 03", 13, "not a language"},
		{"a text shorter than its value", head + "01 35 0001 'x' 0007 0002 'en' 0000 00 03", 13, "not a language"},
		{"a text in no language", head + "01 35 0001 'x' 0004 0000 0000 03", 13, "not a language"},
		{"no value and yet one", head + "01 12 0001 'x' 0001 00 03", 13, "says that there is no value"},
		{"a member outside", head + "01 4A 0001 'x' 0001 'y' 03", 13, "outside of a collection"},
		{"an end of nothing", head + "01 37 0001 'x' 0000 03", 13, "outside of a collection"},
		{"a collection with a value", head + "01 34 0001 'x' 0001 00 37 0000 0000 03", 13, "0 bytes, not 1"},
		{"a collection without an end", head + "01 34 0001 'x' 0000 03", 15, "has not ended"},
		{"a group within a collection", head + "01 34 0001 'x' 0000 02", 15, "has not ended"},
		{"a member with a name of its own", head + "01 34 0001 'x' 0000 4A 0001 'y'", 16, "none of its own"},
		{"a value of no member", head + "01 34 0001 'x' 0000 21 0000 0004 00000001", 18, "no member before it"},
		{"a member without a value", head + "01 34 0001 'x' 0000 4A 0000 0001 'm' 37 0000 0000", 24, `member "m" has no value`},
		{"a member without a name", head + "01 34 0001 'x' 0000 4A 0000 0000 37 0000 0000", 18, "a name of 0 bytes"},
		{"an end with a value", head + "01 34 0001 'x' 0000 37 0000 0001 00", 18, "end of a collection has a value"},
		{"collections without bottom", head + "01 34 0001 'x' 0000 4A 0000 0001 'm' " + deep, 0, "nested deeper than 8"},
	}
	for _, row := range rows {
		t.Run(row.label, func(t *testing.T) {
			_, _, err := ipp.Decode(wire(t, row.bytes))
			var syntax *ipp.SyntaxError
			require.ErrorAs(t, err, &syntax)
			require.Contains(t, syntax.What, row.says)
			if row.offset > 0 {
				require.Equal(t, row.offset, syntax.Offset)
			}
			require.Contains(t, err.Error(), fmt.Sprintf("byte %d: ", syntax.Offset))
		})
	}
}

func TestWhatCannotBeWrittenIsAnError(t *testing.T) {
	nested := ipp.Collection{}
	for range ipp.MostDepth {
		nested = ipp.Collection{ipp.Attr("m", nested)}
	}
	many := ipp.Attribute{Name: "x"}
	for range ipp.MostValues + 1 {
		many.Values = append(many.Values, ipp.Integer(1))
	}
	rows := []struct {
		label string
		m     ipp.Message
		says  string
	}{
		{"no number", ipp.Message{}, "above 0"},
		{"a value's tag for a group", ipp.Message{ID: 1, Groups: []ipp.Group{{Tag: ipp.TagInteger}}}, "does not begin a group"},
		{"no name", one(ipp.Attr("", ipp.Integer(1))), "0 bytes"},
		{"a long name", one(ipp.Attr(strings.Repeat("x", 256), ipp.Integer(1))), "256 bytes"},
		{"a name with a space", one(ipp.Attr("job name", ipp.Integer(1))), "0x20"},
		{"no value", one(ipp.Attr("x")), "no value"},
		{"nothing for a value", one(ipp.Attr("x", nil)), "cannot be written"},
		{"a long value", one(ipp.Attr("x", ipp.Keyword(strings.Repeat("x", 1<<15)))), "larger than"},
		{"a long language", one(ipp.Attr("x", ipp.Text{Language: strings.Repeat("x", 1<<16)})), "larger than"},
		{"a member without a value", one(ipp.Attr("x", ipp.Collection{ipp.Attr("m")})), `member "m" has no value`},
		{"a member without a name", one(ipp.Attr("x", ipp.Collection{ipp.Attr("", ipp.Integer(1))})), "0 bytes"},
		{"nested too deep", one(ipp.Attr("x", nested)), "nested deeper than 8"},
		{"too many values", one(many), "more than 20000"},
		{"a kind that has a type", one(ipp.Attr("x", ipp.Opaque{Kind: ipp.TagInteger})), "type of its own"},
		{"a group for a value", one(ipp.Attr("x", ipp.Opaque{Kind: 0x02})), "type of its own"},
		{"a value that is none", one(ipp.Attr("x", ipp.OutOfBand(ipp.TagInteger))), "always has a value"},
	}
	for _, row := range rows {
		t.Run(row.label, func(t *testing.T) {
			_, err := row.m.Encode()
			require.ErrorContains(t, err, row.says)
		})
	}
}

// one is a message with one attribute.
func one(a ipp.Attribute) ipp.Message {
	return ipp.Message{Version: ipp.Version20, ID: 1, Groups: []ipp.Group{{Tag: ipp.JobGroup, Attributes: []ipp.Attribute{a}}}}
}

// TestWhatIsWrittenIsReadTheSame draws any messages.
func TestWhatIsWrittenIsReadTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := message().Draw(t, "message")
		b, err := m.Encode()
		require.NoError(t, err)
		got, document, err := ipp.Decode(append(b, "dots"...))
		require.NoError(t, err)
		require.Equal(t, "dots", string(document))
		require.Equal(t, m, *got)

		cut := rapid.IntRange(0, len(b)-1).Draw(t, "cut")
		_, _, err = ipp.Decode(b[:cut])
		require.Error(t, err, "a message cut short anywhere is not taken for a whole one")
	})
}

func message() *rapid.Generator[ipp.Message] {
	return rapid.Custom(func(t *rapid.T) ipp.Message {
		m := ipp.Message{
			Version: ipp.Version(rapid.SliceOfN(rapid.Byte(), 2, 2).Draw(t, "version")),
			Code:    rapid.Uint16().Draw(t, "code"),
			ID:      rapid.Int32Range(1, 1<<31-1).Draw(t, "id"),
		}
		for range rapid.IntRange(0, 4).Draw(t, "groups") {
			g := ipp.Group{Tag: rapid.SampledFrom([]ipp.Tag{1, 2, 4, 5, 6, 15}).Draw(t, "tag")}
			for range rapid.IntRange(0, 5).Draw(t, "attributes") {
				g.Attributes = append(g.Attributes, attribute(t, 3))
			}
			m.Groups = append(m.Groups, g)
		}
		return m
	})
}

func attribute(t *rapid.T, deep int) ipp.Attribute {
	a := ipp.Attribute{Name: rapid.StringMatching(`[a-z][a-z0-9._-]{0,30}`).Draw(t, "name")}
	for range rapid.IntRange(1, 3).Draw(t, "values") {
		a.Values = append(a.Values, value(t, deep))
	}
	return a
}

func value(t *rapid.T, deep int) ipp.Value {
	s := rapid.String().Draw(t, "letters")
	n := rapid.Int32().Draw(t, "number")
	kinds := 20
	if deep == 0 {
		kinds--
	}
	switch rapid.IntRange(1, kinds).Draw(t, "kind") {
	case 1:
		return ipp.Integer(n)
	case 2:
		return ipp.Boolean(n > 0)
	case 3:
		return ipp.Enum(n)
	case 4:
		return ipp.OctetString(rapid.SliceOf(rapid.Byte()).Draw(t, "octets"))
	case 5:
		return ipp.DateTime(rapid.SliceOfN(rapid.Byte(), 11, 11).Draw(t, "instant"))
	case 6:
		return ipp.Resolution{Cross: n, Feed: -n, Unit: ipp.DotsPerCentimetre}
	case 7:
		return ipp.Range{Lower: n, Upper: n / 2}
	case 8:
		return ipp.Text{Language: rapid.StringMatching(`([a-z]{2})?`).Draw(t, "language"), Text: s}
	case 9:
		return ipp.Name{Language: rapid.StringMatching(`([a-z]{2})?`).Draw(t, "language"), Name: s}
	case 10:
		return ipp.Keyword(s)
	case 11:
		return ipp.URI(s)
	case 12:
		return ipp.URIScheme(s)
	case 13:
		return ipp.Charset(s)
	case 14:
		return ipp.NaturalLanguage(s)
	case 15:
		return ipp.MIMEMediaType(s)
	case 16:
		return ipp.Unsupported
	case 17:
		return ipp.NoValue
	case 18:
		return ipp.Opaque{Kind: 0x7F, Bytes: s}
	case 19:
		return ipp.Opaque{Kind: 0x3F, Bytes: s}
	}
	c := ipp.Collection{}
	for range rapid.IntRange(0, 3).Draw(t, "members") {
		c = append(c, attribute(t, deep-1))
	}
	return c
}

// TestAMessageWithoutEndIsGivenUp feeds more than a message may hold.
func TestAMessageWithoutEndIsGivenUp(t *testing.T) {
	long := wire(t, "0200 0000 00000001 04 44 0001 'x'")
	long = append(append(long, 0x7F, 0xFF), make([]byte, 0x7FFF)...)
	for len(long) <= ipp.MostBytes {
		long = append(append(long, 0x44, 0, 0, 0x7F, 0xFF), make([]byte, 0x7FFF)...)
	}
	_, _, err := ipp.Decode(append(long, 0x03))
	require.ErrorContains(t, err, "goes on past 1048576 bytes")

	many := wire(t, "0200 0000 00000001 04 44 0001 'x' 0000")
	many = append(many, bytes.Repeat([]byte{0x44, 0, 0, 0, 0}, ipp.MostValues)...)
	_, _, err = ipp.Decode(append(many, 0x03))
	require.ErrorContains(t, err, "more than 20000 values")
}

func FuzzDecode(f *testing.F) {
	f.Add(wire(f, "0200 0000 00000001 03"))
	f.Add(wire(f, "0200 000B 00000001 01 47 0012 'attributes-charset' 0005 'utf-8' 44 0001 'x' 0001 'a' 44 0000 0001 'b' 03 'dots'"))
	f.Add(wire(f, "0101 0000 7FFFFFFF 04 34 0001 'x' 0000 4A 0000 0001 'm' 34 0000 0000 37 0000 0000 35 0000 0006 0002 'en' 0000 37 0000 0000 12 0001 'y' 0000 03"))
	f.Add(wire(f, "0200 0000 00000001 04 31 0001 'x' 000B 07EA 03 06 0E 05 09 02 2B 01 00 32 0001 'r' 0009 000000CB 000000CB 03 33 0001 'y' 0008 00000001 00000063 03"))
	f.Fuzz(func(t *testing.T, b []byte) {
		m, document, err := ipp.Decode(b)
		if err != nil {
			var syntax *ipp.SyntaxError
			if !errors.As(err, &syntax) || syntax.Offset < 0 || syntax.Offset > len(b) || syntax.What == "" {
				t.Fatalf("an error that does not say where: %v", err)
			}
			return
		}
		again, err := m.Encode()
		if err != nil {
			t.Fatalf("what was read cannot be written: %v", err)
		}
		if !bytes.Equal(again, b[:len(b)-len(document)]) {
			t.Fatalf("read % X, wrote % X", b, again)
		}
		for _, g := range m.Groups {
			for _, a := range g.Attributes {
				for _, v := range a.Values {
					if d, ok := v.(ipp.DateTime); ok {
						if at, err := d.Time(); err == nil && d[6] < 60 && ipp.At(at) != d && (d[8] != '-' || d[9]|d[10] != 0) {
							t.Fatalf("instant % X is read as %s", d[:], at)
						}
					}
				}
				_ = ipp.Reasons(a.Words())
			}
		}
	})
}
