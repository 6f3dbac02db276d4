package ipp

import (
	"encoding/binary"
	"fmt"
)

// lengths are those of the kinds that have a fixed one, in bytes (RFC 8010, section 3.9).
var lengths = map[Tag]int{
	TagInteger: 4, TagEnum: 4, TagBoolean: 1, TagDateTime: 11, TagResolution: 9, TagRange: 8, TagCollection: 0,
}

// plain reads the bytes of a value that has no members; wrong says why they cannot be read.
func plain(tag Tag, b []byte) (v Value, wrong string) {
	if n, fixed := lengths[tag]; fixed && len(b) != n {
		return nil, fmt.Sprintf("a value with tag %s has %d bytes, not %d", tag, n, len(b))
	}
	number := func(at int) int32 { return int32(binary.BigEndian.Uint32(b[at:])) }
	switch tag {
	case TagInteger:
		return Integer(number(0)), ""
	case TagEnum:
		return Enum(number(0)), ""
	case TagBoolean:
		if b[0] > 1 {
			return nil, fmt.Sprintf("0x%02X is neither yes nor no", b[0])
		}
		return Boolean(b[0] == 1), ""
	case TagDateTime:
		return DateTime(b), ""
	case TagResolution:
		return Resolution{Cross: number(0), Feed: number(4), Unit: ResolutionUnit(b[8])}, ""
	case TagRange:
		return Range{Lower: number(0), Upper: number(4)}, ""
	case TagTextWithLanguage, TagNameWithLanguage:
		language, s, ok := inLanguage(b)
		if !ok {
			return nil, fmt.Sprintf("%d bytes are not a language and letters in it", len(b))
		}
		if tag == TagTextWithLanguage {
			return Text{language, s}, ""
		}
		return Name{language, s}, ""
	case memberName, endCollection:
		return nil, fmt.Sprintf("tag %s stands outside of a collection", tag)
	}
	if tag.outOfBand() {
		if len(b) != 0 {
			return nil, fmt.Sprintf("tag %s says that there is no value, and %d bytes follow", tag, len(b))
		}
		return OutOfBand(tag), ""
	}
	return lettersOf(tag, string(b)), ""
}

// lettersOf makes a value of letters, or one of a kind that is not known.
func lettersOf(tag Tag, s string) Value {
	switch tag {
	case TagOctetString:
		return OctetString(s)
	case TagText:
		return Text{Text: s}
	case TagName:
		return Name{Name: s}
	case TagKeyword:
		return Keyword(s)
	case TagURI:
		return URI(s)
	case TagURIScheme:
		return URIScheme(s)
	case TagCharset:
		return Charset(s)
	case TagNaturalLanguage:
		return NaturalLanguage(s)
	case TagMIMEMediaType:
		return MIMEMediaType(s)
	}
	return Opaque{Kind: tag, Bytes: s}
}

// known reports whether values with a tag have a type of their own, or the tag none at all.
func known(tag Tag) bool {
	if _, fixed := lengths[tag]; fixed || tag < 0x20 {
		return true
	}
	switch tag {
	case TagTextWithLanguage, TagNameWithLanguage, memberName, endCollection:
		return true
	}
	_, opaque := lettersOf(tag, "").(Opaque)
	return !opaque
}

// inLanguage parts a language from the letters in it: each has its length before it, and nothing follows.
func inLanguage(b []byte) (language, s string, ok bool) {
	part := func() (string, bool) {
		if len(b) < 2 {
			return "", false
		}
		n := int(binary.BigEndian.Uint16(b))
		if n > len(b)-2 {
			return "", false
		}
		s := string(b[2 : 2+n])
		b = b[2+n:]
		return s, true
	}
	language, first := part()
	s, second := part()
	return language, s, first && second && language != "" && len(b) == 0
}
