package events

import (
	"strconv"
	"strings"

	"github.com/go-json-experiment/json/jsontext"

	"github.com/pottrail/pottrail/tracker"
)

// readItems reads codes and names; what they must be is known only with the whole envelope.
func (r *reader) readItems(dec *jsontext.Decoder) error {
	if kind := dec.PeekKind(); kind != '[' {
		if _, err := dec.ReadValue(); err != nil {
			return err
		}
		r.bad = wrongKind(kind, "a list")
		return nil
	}
	if _, err := dec.ReadToken(); err != nil {
		return err
	}
	items := make([]tracker.Item, 0, 1)
	for dec.PeekKind() != ']' {
		raw, err := dec.ReadValue()
		if err != nil {
			return err
		}
		if raw.Kind() != '"' {
			r.bad = wrongKind(raw.Kind(), "a code or name as text").at(len(items))
			return nil
		}
		item, err := tracker.ParseItem(string(r.unquote(raw)))
		if err != nil {
			r.bad = badCode(err).at(len(items))
			return nil
		}
		if len(items) == MaxItems {
			r.bad = &fault{code: CodeTooLarge, detail: "has more than " + strconv.Itoa(MaxItems) + " things; split the event"}
			return nil
		}
		items = append(items, item)
	}
	if len(items) > 0 {
		r.event.Items = items
	}
	_, err := dec.ReadToken()
	return err
}

// finishItems checks the items against kind and clinic.
func (r *reader) finishItems() *fault {
	e := r.event
	if !r.plan.hasItems {
		if len(e.Items) > 0 {
			return (&fault{code: CodeWrongThing, detail: "must be left out: " + string(e.Kind) + " is about no single thing"}).under("items")
		}
		return nil
	}
	if len(e.Items) == 0 {
		return missing(string(e.Kind) + " is about " + things(r.plan.Things)).under("items")
	}
	for i, item := range e.Items {
		if bad := r.checkItem(item); bad != nil {
			return bad.at(i).under("items")
		}
	}
	return repeated(e.Items).under("items")
}

func (r *reader) checkItem(item tracker.Item) *fault {
	e := r.event
	if owner := item.Name.Clinic(); owner != e.Clinic {
		return &fault{code: CodeWrongClinic, detail: "is " + string(item.Name) + ", which belongs to clinic " + owner +
			"; the event says clinic " + e.Clinic + ", and an event is about one clinic's things"}
	}
	thing := item.Name.Thing()
	for _, allowed := range r.plan.Things {
		if thing == allowed {
			return nil
		}
	}
	return &fault{code: CodeWrongThing, detail: "is " + string(item.Name) + ", a " + thing.String() + "; " + string(e.Kind) + " is about " + things(r.plan.Things)}
}

// repeated finds the second mention of one thing, whichever of its copies was scanned.
func repeated(items []tracker.Item) *fault {
	again := func(name tracker.Name, i int) *fault {
		return (&fault{code: CodeDuplicateItem, detail: "is " + string(name) + " again; name each thing once"}).at(i)
	}
	const few = 16 // below it, looking back is quicker than a set
	if len(items) <= few {
		for i := range items {
			for j := range i {
				if items[j].Name == items[i].Name {
					return again(items[i].Name, i)
				}
			}
		}
		return nil
	}
	seen := make(map[tracker.Name]struct{}, len(items))
	for i, item := range items {
		if _, ok := seen[item.Name]; ok {
			return again(item.Name, i)
		}
		seen[item.Name] = struct{}{}
	}
	return nil
}

// things is what a kind may be about, for sentences: "a case, a pot or a piece".
func things(list []tracker.Thing) string {
	words := make([]string, len(list))
	for i, t := range list {
		words[i] = "a " + t.String()
	}
	if len(words) == 1 {
		return words[0]
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " or " + words[last]
}
