package ipp

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// The bounds of a message, in both directions. The protocol's own is the length of a value (RFC 8010, section 3.1: a signed
// 16-bit number); the others are ours: far above what printers send.
const (
	MostBytes  = 1 << 20 // of an encoded message, without a document
	MostValues = 20_000  // in one message, members of collections included
	MostDepth  = 8       // of collections in collections
	mostName   = 255     // octets of an attribute's name: it is a keyword (RFC 8011, section 5.1.4)
	mostValue  = math.MaxInt16
)

// errBounds is wrapped where a message is larger than what is carried here.
var errBounds = errors.New("larger than a message may be")

// Encode writes a message down. What [Decode] would not read back the same is an error.
func (m *Message) Encode() ([]byte, error) {
	if m.ID <= 0 {
		return nil, fmt.Errorf("request id %d: it must be above 0", m.ID)
	}
	e := encoder{b: make([]byte, 0, 512)}
	e.b = append(e.b, m.Version[0], m.Version[1])
	e.b = binary.BigEndian.AppendUint16(e.b, m.Code)
	e.b = binary.BigEndian.AppendUint32(e.b, uint32(m.ID))
	for _, g := range m.Groups {
		if !g.Tag.group() {
			return nil, fmt.Errorf("tag %s does not begin a group", g.Tag)
		}
		e.b = append(e.b, byte(g.Tag))
		for _, a := range g.Attributes {
			if err := e.attribute(a); err != nil {
				return nil, fmt.Errorf("attribute %q: %w", a.Name, err)
			}
		}
	}
	e.b = append(e.b, byte(endOfAttributes))
	if len(e.b) > MostBytes {
		return nil, fmt.Errorf("%d bytes: %w", len(e.b), errBounds)
	}
	return e.b, nil
}

type encoder struct {
	b      []byte
	values int
	depth  int
}

func (e *encoder) attribute(a Attribute) error {
	if err := goodName(a.Name); err != nil {
		return err
	}
	if len(a.Values) == 0 {
		return errors.New("it has no value")
	}
	for i, v := range a.Values {
		name := a.Name
		if i > 0 {
			name = "" // one more value of the same attribute
		}
		if err := e.value(name, v); err != nil {
			return err
		}
	}
	return nil
}

// value writes a tag, a name and a value.
func (e *encoder) value(name string, v Value) error {
	if e.values++; e.values > MostValues {
		return fmt.Errorf("more than %d values: %w", MostValues, errBounds)
	}
	if c, nested := v.(Collection); nested {
		return e.collection(name, c)
	}
	content, err := content(v)
	if err != nil {
		return err
	}
	if len(content) > mostValue {
		return fmt.Errorf("a value of %d bytes: %w", len(content), errBounds)
	}
	e.field(v.tag(), name, content)
	return nil
}

func (e *encoder) collection(name string, c Collection) error {
	if e.depth++; e.depth > MostDepth {
		return fmt.Errorf("collections nested deeper than %d: %w", MostDepth, errBounds)
	}
	defer func() { e.depth-- }()
	e.field(TagCollection, name, nil)
	for _, member := range c {
		if err := goodName(member.Name); err != nil {
			return err
		}
		if len(member.Values) == 0 {
			return fmt.Errorf("member %q has no value", member.Name)
		}
		e.field(memberName, "", []byte(member.Name))
		for _, v := range member.Values {
			if err := e.value("", v); err != nil {
				return fmt.Errorf("member %q: %w", member.Name, err)
			}
		}
	}
	e.field(endCollection, "", nil)
	return nil
}

func (e *encoder) field(tag Tag, name string, content []byte) {
	e.b = append(e.b, byte(tag))
	e.b = binary.BigEndian.AppendUint16(e.b, uint16(len(name)))
	e.b = append(e.b, name...)
	e.b = binary.BigEndian.AppendUint16(e.b, uint16(len(content)))
	e.b = append(e.b, content...)
}

// content writes a value's own bytes down (RFC 8010, section 3.9).
func content(v Value) ([]byte, error) {
	number := func(ns ...int32) []byte {
		var b []byte
		for _, n := range ns {
			b = binary.BigEndian.AppendUint32(b, uint32(n))
		}
		return b
	}
	switch v := v.(type) {
	case Integer:
		return number(int32(v)), nil
	case Enum:
		return number(int32(v)), nil
	case Boolean:
		if v {
			return []byte{1}, nil
		}
		return []byte{0}, nil
	case OctetString:
		return []byte(v), nil
	case DateTime:
		return v[:], nil
	case Resolution:
		return append(number(v.Cross, v.Feed), byte(v.Unit)), nil
	case Range:
		return number(v.Lower, v.Upper), nil
	case Text:
		return spoken(v.Language, v.Text), nil
	case Name:
		return spoken(v.Language, v.Name), nil
	case OutOfBand:
		if !v.tag().outOfBand() {
			return nil, fmt.Errorf("tag %s always has a value", v.tag())
		}
		return nil, nil
	case Opaque:
		if known(v.Kind) {
			return nil, fmt.Errorf("tag %s has a type of its own", v.Kind)
		}
		return []byte(v.Bytes), nil
	}
	if s, ok := letters(v); ok {
		return []byte(s), nil
	}
	return nil, fmt.Errorf("a value of type %T cannot be written", v)
}

// spoken writes letters down, with their language if there is one.
func spoken(language, s string) []byte {
	if language == "" {
		return []byte(s)
	}
	b := binary.BigEndian.AppendUint16(nil, uint16(len(language)))
	b = append(b, language...)
	b = binary.BigEndian.AppendUint16(b, uint16(len(s)))
	return append(b, s...)
}

// goodName refuses what is no name of an attribute: empty, too long, or with anything but visible ASCII.
func goodName(name string) error {
	if name == "" || len(name) > mostName {
		return fmt.Errorf("a name of %d bytes: it has 1 to %d", len(name), mostName)
	}
	for _, c := range []byte(name) {
		if c <= ' ' || c >= 0x7F {
			return fmt.Errorf("byte 0x%02X stands in a name", c)
		}
	}
	return nil
}
