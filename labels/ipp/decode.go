package ipp

import (
	"encoding/binary"
	"fmt"
)

// SyntaxError says what cannot be read, and where.
type SyntaxError struct {
	Offset int // bytes before it
	What   string
}

// Error says both.
func (e *SyntaxError) Error() string { return fmt.Sprintf("byte %d: %s", e.Offset, e.What) }

// Decode reads a message, and returns what follows it: the document of a request, and nothing in most answers. Its error is
// a [SyntaxError]. It takes what [Message.Encode] writes and nothing else, but for attributes that stand twice.
func Decode(b []byte) (m *Message, document []byte, err error) {
	d := decoder{b: b}
	m = new(Message)
	head, ok := d.take(8)
	if !ok {
		return nil, nil, d.failed("a message has at least 8 bytes, here are %d", len(b))
	}
	m.Version = Version(head[:2])
	m.Code = binary.BigEndian.Uint16(head[2:])
	if m.ID = int32(binary.BigEndian.Uint32(head[4:])); m.ID <= 0 {
		d.at = 4
		return nil, nil, d.failed("request id %d: it must be above 0", m.ID)
	}
	for {
		tag, err := d.tag()
		switch {
		case err != nil:
			return nil, nil, err
		case tag == endOfAttributes:
			return m, b[d.at:], nil
		case tag.group():
			m.Groups = append(m.Groups, Group{Tag: tag})
			continue
		case tag < 0x10:
			d.at--
			return nil, nil, d.failed("tag %s means nothing", tag)
		case len(m.Groups) == 0:
			d.at--
			return nil, nil, d.failed("an attribute stands before the first group")
		}
		if err := d.attribute(&m.Groups[len(m.Groups)-1], tag); err != nil {
			return nil, nil, err
		}
	}
}

type decoder struct {
	b      []byte
	at     int
	values int
	depth  int
}

func (d *decoder) failed(format string, args ...any) error {
	return &SyntaxError{Offset: d.at, What: fmt.Sprintf(format, args...)}
}

// take returns the next n bytes.
func (d *decoder) take(n int) ([]byte, bool) {
	if n > len(d.b)-d.at {
		return nil, false
	}
	d.at += n
	return d.b[d.at-n : d.at], true
}

func (d *decoder) tag() (Tag, error) {
	if d.at >= MostBytes {
		return 0, d.failed("the message goes on past %d bytes", MostBytes)
	}
	t, ok := d.take(1)
	if !ok {
		return 0, d.failed("the message ends without saying so")
	}
	return Tag(t[0]), nil
}

// field reads a length and as many bytes.
func (d *decoder) field(what string, most int) ([]byte, error) {
	at := d.at
	length, ok := d.take(2)
	if !ok {
		return nil, d.failed("the length of a %s is cut off", what)
	}
	n := int(binary.BigEndian.Uint16(length))
	if n > most {
		d.at = at
		return nil, d.failed("a %s of %d bytes, of at most %d", what, n, most)
	}
	content, ok := d.take(n)
	if !ok {
		return nil, d.failed("a %s of %d bytes, and %d follow", what, n, len(d.b)-d.at)
	}
	return content, nil
}

// attribute reads an attribute or one more value of the last one.
func (d *decoder) attribute(g *Group, tag Tag) error {
	at := d.at
	name, err := d.field("name", mostName)
	if err != nil {
		return err
	}
	more := len(name) == 0
	if more && len(g.Attributes) == 0 {
		d.at = at
		return d.failed("one more value, and no attribute before it")
	}
	if !more {
		if err := goodName(string(name)); err != nil {
			d.at = at
			return d.failed("%v", err)
		}
		g.Attributes = append(g.Attributes, Attribute{Name: string(name)})
	}
	v, err := d.value(tag)
	if err != nil {
		return err
	}
	last := &g.Attributes[len(g.Attributes)-1]
	last.Values = append(last.Values, v)
	return nil
}

// value reads what stands behind a tag and a name.
func (d *decoder) value(tag Tag) (Value, error) {
	at := d.at
	content, err := d.field("value", mostValue)
	if err != nil {
		return nil, err
	}
	if d.values++; d.values > MostValues {
		return nil, d.failed("more than %d values", MostValues)
	}
	if tag == TagCollection && len(content) == 0 {
		return d.collection()
	}
	v, wrong := plain(tag, content)
	if wrong != "" {
		d.at = at
		return nil, d.failed("%s", wrong)
	}
	return v, nil
}

// collection reads members up to the end of the collection that has just begun.
func (d *decoder) collection() (Value, error) {
	if d.depth++; d.depth > MostDepth {
		return nil, d.failed("collections are nested deeper than %d", MostDepth)
	}
	defer func() { d.depth-- }()
	c := Collection{}
	for {
		tag, err := d.tag()
		if err != nil {
			return nil, err
		}
		if tag < 0x10 {
			d.at--
			return nil, d.failed("tag %s stands in a collection that has not ended", tag)
		}
		at := d.at
		switch name, err := d.field("name", mostName); {
		case err != nil:
			return nil, err
		case len(name) != 0:
			d.at = at
			return nil, d.failed("a name of %d bytes in a collection: it has none of its own", len(name))
		}
		switch tag {
		case memberName, endCollection:
			if len(c) > 0 && len(c[len(c)-1].Values) == 0 {
				return nil, d.failed("member %q has no value", c[len(c)-1].Name)
			}
			at := d.at
			name, err := d.field("value", mostValue)
			if err != nil {
				return nil, err
			}
			if tag == endCollection {
				if len(name) != 0 {
					d.at = at
					return nil, d.failed("the end of a collection has a value")
				}
				return c, nil
			}
			if err := goodName(string(name)); err != nil {
				d.at = at
				return nil, d.failed("%v", err)
			}
			c = append(c, Attribute{Name: string(name)})
			continue
		}
		if len(c) == 0 {
			return nil, d.failed("a value, and no member before it")
		}
		v, err := d.value(tag)
		if err != nil {
			return nil, err
		}
		c[len(c)-1].Values = append(c[len(c)-1].Values, v)
	}
}
