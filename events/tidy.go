package events

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// tidy checks the fields of a struct against their plans and brings names, ids, dates and times into the one spelling
// that they are kept in. The value must be addressable. Why names the need in sentences: "piece.taken needs it".
func (p *structPlan) tidy(v reflect.Value, why string) *fault {
	for i := range p.fields {
		f := &p.fields[i]
		if bad := f.tidy(v.Field(f.index), why); bad != nil {
			return bad.under(f.name)
		}
	}
	return nil
}

func (f *fieldPlan) tidy(v reflect.Value, why string) *fault {
	switch {
	case f.pointer:
		if v.IsNil() {
			if f.must {
				return missing(why)
			}
			return nil
		}
		return f.tidyOne(v.Elem(), why, false)
	case f.list:
		n := v.Len()
		if f.must && n == 0 && (!f.mayBeEmpty || v.IsNil()) {
			return missing(why)
		}
		for i := range n {
			if bad := f.tidyOne(v.Index(i), why, true); bad != nil {
				return bad.at(i)
			}
		}
		return nil
	}
	return f.tidyOne(v, why, f.must)
}

// tidyOne checks one value. An element of a list must not be empty, whether or not the list must be there.
func (f *fieldPlan) tidyOne(v reflect.Value, why string, must bool) *fault {
	switch f.shape {
	case shapeText:
		return f.tidyText(v.String(), why, must)
	case shapeName, shapeID, shapeDate:
		text := v.String()
		if text == "" {
			if must {
				return missing(why)
			}
			return nil
		}
		canonical, bad := f.canonical(text)
		if bad == nil && canonical != text {
			v.SetString(canonical)
		}
		return bad
	case shapeTime:
		t := v.Addr().Interface().(*time.Time)
		if must && t.IsZero() {
			return missing(why)
		}
		*t = homeless(*t)
	case shapeCopy:
		if must && v.Uint() == 0 {
			return missing(why)
		}
	case shapeInt:
		if v.Int() < 0 && !f.signed {
			return &fault{code: CodeBadNumber, detail: "is negative; a count starts at 0"}
		}
	case shapeFloat:
		return f.tidyFloat(v)
	case shapeStruct:
		return f.inner.tidy(v, why)
	}
	return nil
}

func (f *fieldPlan) tidyText(text, why string, must bool) *fault {
	if must && blank(text) {
		return missing(why)
	}
	if f.words != nil && text != "" && !slices.Contains(f.words, text) {
		return oneOf(text, f.words)
	}
	return nil
}

func (f *fieldPlan) tidyFloat(v reflect.Value) *fault {
	x := v.Float()
	switch {
	case math.IsNaN(x) || math.IsInf(x, 0):
		return &fault{code: CodeBadNumber, detail: "is not a number that can be measured"}
	case x < 0 && !f.signed:
		return &fault{code: CodeBadNumber, detail: "is negative; a measure starts at 0"}
	case x == 0 && math.Signbit(x):
		v.SetFloat(0) // -0 and 0 say the same and must be spelled the same
	}
	return nil
}

// canonical is the one spelling of a name, id or date.
func (f *fieldPlan) canonical(text string) (string, *fault) {
	switch f.shape {
	case shapeID:
		id, ok := parseID(text)
		if !ok {
			return "", badID(text)
		}
		return string(id), nil
	case shapeDate:
		d, err := tracker.ParseDate(text)
		if err != nil {
			return "", &fault{code: CodeBadDate, detail: "is " + quote(text) + "; a day like 2026-03-06 is wanted"}
		}
		return string(d), nil
	}
	name, err := tracker.ParseName(text)
	if err != nil {
		return "", badCode(err)
	}
	if f.thing != 0 && name.Thing() != f.thing {
		return "", &fault{code: CodeWrongThing, detail: "is " + string(name) + ", a " + name.Thing().String() + "; the name of a " + f.thing.String() + " is wanted"}
	}
	return string(name), nil
}

// blank reports whether there is nothing to read in a text.
func blank(text string) bool { return strings.TrimSpace(text) == "" }

// homeless keeps the instant and its offset, and forgets which zone the machine that parsed it lives in: with the
// machine's own zone in it, an event decoded twice on two machines would not be the same value.
func homeless(t time.Time) time.Time {
	if t.IsZero() {
		return t.UTC()
	}
	_, offset := t.Zone()
	if offset == 0 {
		return t.UTC()
	}
	return t.In(time.FixedZone("", offset))
}

func badID(text string) *fault {
	return &fault{code: CodeBadID, detail: "is " + quote(text) + "; a UUID like 0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77 is wanted"}
}

// parseID reads a UUID of any version in its usual spelling, in either case.
//
// Source: RFC 9562, section 4 (the text form: 8-4-4-4-12 hexadecimal digits).
func parseID(text string) (tracker.EventID, bool) {
	if len(text) != 36 {
		return "", false
	}
	lower := true
	for i := range len(text) {
		c := text[i]
		switch {
		case i == 8 || i == 13 || i == 18 || i == 23:
			if c != '-' {
				return "", false
			}
		case c >= '0' && c <= '9' || c >= 'a' && c <= 'f':
		case c >= 'A' && c <= 'F':
			lower = false
		default:
			return "", false
		}
	}
	if lower {
		return tracker.EventID(text), true
	}
	return tracker.EventID(strings.ToLower(text)), true
}
