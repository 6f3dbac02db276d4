package ipp

import (
	"encoding/binary"
	"fmt"
	"strings"
	"time"
)

// Value is one value of an attribute. Which types there are is fixed by RFC 8010, section 3.9: those in this file, and
// [Opaque] for what later standards add.
type Value interface {
	// tag says of what kind the value is; that it is not exported keeps the list closed.
	tag() Tag
}

// Whole numbers, yes or no, and numbers that stand for words.
type (
	// Integer is a whole number.
	Integer int32
	// Boolean is yes or no.
	Boolean bool
	// Enum is a number that stands for a word, such as a [JobState].
	Enum int32
)

// Strings with a meaning that no language changes.
type (
	// OctetString is bytes without a meaning of their own.
	OctetString string
	// Keyword is a word of the protocol: "media-empty".
	Keyword string
	// URI is the address of a printer or a job.
	URI string
	// URIScheme is the first part of an address: "ipps".
	URIScheme string
	// Charset names how text is written: "utf-8".
	Charset string
	// NaturalLanguage names a language: "en".
	NaturalLanguage string
	// MIMEMediaType names a format of documents: "image/pwg-raster".
	MIMEMediaType string
)

// Text is a sentence for people; Language is empty if it is that of the whole message.
type Text struct{ Language, Text string }

// Name is what people call something; Language is empty if it is that of the whole message.
type Name struct{ Language, Name string }

// DateTime is an instant as RFC 2579 writes it, in 11 octets. They are kept as they came: see [DateTime.Time].
type DateTime [11]byte

// Resolution is dots per unit across the paper's way and along it.
type Resolution struct {
	Cross, Feed int32
	Unit        ResolutionUnit
}

// ResolutionUnit is a length that dots are counted in.
type ResolutionUnit int8

// The units.
const (
	DotsPerInch       ResolutionUnit = 3
	DotsPerCentimetre ResolutionUnit = 4
)

// Range is all whole numbers from Lower to Upper, both included.
type Range struct{ Lower, Upper int32 }

// Collection is a value with attributes of its own, in order.
type Collection []Attribute

// OutOfBand says why there is no value.
type OutOfBand Tag

// The reasons for there being no value.
const (
	Unsupported OutOfBand = 0x10
	Unknown     OutOfBand = 0x12
	NoValue     OutOfBand = 0x13
)

// Opaque is a value of a kind that this package does not know, kept as it came.
type Opaque struct {
	Kind  Tag
	Bytes string
}

// The tags of each type.
func (Integer) tag() Tag         { return TagInteger }
func (Boolean) tag() Tag         { return TagBoolean }
func (Enum) tag() Tag            { return TagEnum }
func (OctetString) tag() Tag     { return TagOctetString }
func (Keyword) tag() Tag         { return TagKeyword }
func (URI) tag() Tag             { return TagURI }
func (URIScheme) tag() Tag       { return TagURIScheme }
func (Charset) tag() Tag         { return TagCharset }
func (NaturalLanguage) tag() Tag { return TagNaturalLanguage }
func (MIMEMediaType) tag() Tag   { return TagMIMEMediaType }
func (DateTime) tag() Tag        { return TagDateTime }
func (Resolution) tag() Tag      { return TagResolution }
func (Range) tag() Tag           { return TagRange }
func (Collection) tag() Tag      { return TagCollection }
func (o OutOfBand) tag() Tag     { return Tag(o) }
func (o Opaque) tag() Tag        { return o.Kind }

// tag depends on whether a language is given.
func (t Text) tag() Tag {
	if t.Language != "" {
		return TagTextWithLanguage
	}
	return TagText
}

// tag depends on whether a language is given.
func (n Name) tag() Tag {
	if n.Language != "" {
		return TagNameWithLanguage
	}
	return TagName
}

// At writes an instant down, to a tenth of a second, in the offset that it has.
func At(t time.Time) DateTime {
	var d DateTime
	binary.BigEndian.PutUint16(d[:], uint16(t.Year()))
	d[2], d[3], d[4], d[5], d[6] = byte(t.Month()), byte(t.Day()), byte(t.Hour()), byte(t.Minute()), byte(t.Second())
	d[7] = byte(t.Nanosecond() / 1e8)
	_, offset := t.Zone()
	d[8] = '+'
	if offset < 0 {
		d[8], offset = '-', -offset
	}
	d[9], d[10] = byte(offset/3600), byte(offset/60%60)
	return d
}

// Time reads the instant. Clocks in printers are often not set, so fields out of their range are an error here and not
// when a message is decoded.
func (d DateTime) Time() (time.Time, error) {
	year := int(binary.BigEndian.Uint16(d[:]))
	in := func(b, low, high byte) bool { return b >= low && b <= high }
	if !in(d[2], 1, 12) || !in(d[3], 1, 31) || !in(d[4], 0, 23) || !in(d[5], 0, 59) || !in(d[6], 0, 60) || !in(d[7], 0, 9) ||
		d[8] != '+' && d[8] != '-' || !in(d[9], 0, 14) || !in(d[10], 0, 59) {
		return time.Time{}, fmt.Errorf("date and time % X: a field is out of its range", d[:])
	}
	offset := int(d[9])*3600 + int(d[10])*60
	if d[8] == '-' {
		offset = -offset
	}
	t := time.Date(year, time.Month(d[2]), int(d[3]), int(d[4]), int(d[5]), int(d[6]), int(d[7])*1e8, time.FixedZone("", offset))
	if t.Day() != int(d[3]) && d[6] != 60 {
		return time.Time{}, fmt.Errorf("date and time % X: no such day in that month", d[:])
	}
	return t, nil
}

// letters returns what a value says in letters; ok is false if it is of another kind.
func letters(v Value) (s string, ok bool) {
	switch v := v.(type) {
	case Text:
		return v.Text, true
	case Name:
		return v.Name, true
	case Keyword:
		return string(v), true
	case URI:
		return string(v), true
	case URIScheme:
		return string(v), true
	case Charset:
		return string(v), true
	case NaturalLanguage:
		return string(v), true
	case MIMEMediaType:
		return string(v), true
	}
	return "", false
}

// Clean makes a printer's own words fit to stand in a sentence: one line of at most 120 letters, nothing that steers a
// screen.
func Clean(s string) string {
	const most = 120
	s = strings.Join(strings.FieldsFunc(strings.ToValidUTF8(s, "?"), func(r rune) bool { return r <= ' ' || r == 0x7F || r >= 0x80 && r < 0xA1 }), " ")
	s = strings.Map(func(r rune) rune {
		if r >= 0x200B && r <= 0x200F || r >= 0x2028 && r <= 0x202E || r >= 0x2066 && r <= 0x2069 || r == 0xFEFF {
			return -1
		}
		return r
	}, s)
	if runes := []rune(s); len(runes) > most {
		return string(runes[:most-1]) + "…"
	}
	return s
}
