package events

import (
	"fmt"
	"reflect"
	"strings"
	"sync"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// kindPlan is what the codec knows of one kind of event.
type kindPlan struct {
	tracker.KindInfo
	fact     *structPlan
	hasCopy  bool // needs the reader of copies, which also takes numbers
	hasItems bool
}

// structPlan is what the tags of one struct ask of its fields, in the order of the struct.
type structPlan struct {
	fields []fieldPlan
}

// fieldPlan is what the tags of one field ask.
type fieldPlan struct {
	index      int
	name       string
	shape      shape
	must       bool
	mayBeEmpty bool     // required, but an empty list says something
	words      []string // the only ones allowed
	thing      tracker.Thing
	signed     bool        // may be negative
	list       bool        // of shape
	pointer    bool        // to shape
	inner      *structPlan // of shapeStruct
}

// shape is how a value is checked and brought into its canonical form.
type shape byte

const (
	shapeText shape = iota
	shapeName
	shapeID
	shapeDate
	shapeTime
	shapeCopy
	shapeInt
	shapeFloat
	shapeBool
	shapeStruct
)

// kinds has the plan of every kind; it never changes once made.
var kinds = sync.OnceValue(func() map[tracker.Kind]*kindPlan {
	infos := tracker.Kinds()
	plans := make(map[tracker.Kind]*kindPlan, len(infos))
	for _, info := range infos {
		p := &kindPlan{KindInfo: info, hasItems: info.Things != nil}
		p.fact = planStruct(reflect.TypeOf(info.New()).Elem())
		for _, f := range p.fact.fields {
			p.hasCopy = p.hasCopy || f.shape == shapeCopy
		}
		plans[info.Kind] = p
	}
	return plans
})

func planStruct(t reflect.Type) *structPlan {
	p := new(structPlan)
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		plan := fieldPlan{index: i, name: name, must: f.Tag.Get("must") == "present", thing: thingOf(f.Tag.Get("thing"))}
		if words := f.Tag.Get("oneof"); words != "" {
			plan.words = strings.Fields(words)
		}
		// An opened bag with nothing in it is news, and a lost or refused pot is discussed though there is no result;
		// no list at all is a slip.
		plan.mayBeEmpty = t == reflect.TypeFor[tracker.BagOpened]() || t == reflect.TypeFor[tracker.CaseDiscussed]()
		// Only a temperature can be below nothing.
		plan.signed = strings.HasSuffix(name, "_c")
		element := f.Type
		switch element.Kind() {
		case reflect.Pointer:
			plan.pointer, element = true, element.Elem()
		case reflect.Slice:
			plan.list, element = true, element.Elem()
		}
		plan.shape = shapeOf(element)
		if plan.shape == shapeStruct {
			plan.inner = planStruct(element)
		}
		p.fields = append(p.fields, plan)
	}
	return p
}

// shapeOf panics on a type that the codec does not know: a new sort of field needs a decision here, and every test
// that decodes anything shows it.
func shapeOf(t reflect.Type) shape {
	switch t {
	case reflect.TypeFor[tracker.Name]():
		return shapeName
	case reflect.TypeFor[tracker.EventID]():
		return shapeID
	case reflect.TypeFor[tracker.Date]():
		return shapeDate
	case reflect.TypeFor[time.Time]():
		return shapeTime
	case reflect.TypeFor[tracker.Copy]():
		return shapeCopy
	}
	switch t.Kind() {
	case reflect.String:
		return shapeText
	case reflect.Int:
		return shapeInt
	case reflect.Float64:
		return shapeFloat
	case reflect.Bool:
		return shapeBool
	case reflect.Struct:
		return shapeStruct
	}
	panic(fmt.Sprintf("events: the codec has no rule for fields of type %s", t))
}

func thingOf(word string) tracker.Thing {
	for _, t := range []tracker.Thing{tracker.ThingCase, tracker.ThingPot, tracker.ThingPiece, tracker.ThingBag} {
		if t.String() == word {
			return t
		}
	}
	return 0
}

// names lists the members that a struct may have.
func (p *structPlan) names() []string {
	names := make([]string, len(p.fields))
	for i := range p.fields {
		names[i] = p.fields[i].name
	}
	return names
}

// field finds a member, or nil.
func (p *structPlan) field(name string) *fieldPlan {
	for i := range p.fields {
		if p.fields[i].name == name {
			return &p.fields[i]
		}
	}
	return nil
}
