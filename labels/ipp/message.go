package ipp

// Message is a request or an answer. What a document holds follows the encoded message and is no part of it.
type Message struct {
	Version Version
	Code    uint16 // an [Operation] in a request, a [Status] in an answer
	ID      int32  // of the request, and of the answer to it; above 0
	Groups  []Group
}

// Version is the version of the protocol: major, minor.
type Version [2]byte

// Versions that are spoken here. A printer that knows only 1.1 says so, and is then asked again.
var (
	Version20 = Version{2, 0}
	Version11 = Version{1, 1}
)

// Group is attributes that belong together: those of one printer, of one job.
type Group struct {
	Tag        Tag
	Attributes []Attribute
}

// Attribute is a name and its values, in order: at least one.
type Attribute struct {
	Name   string
	Values []Value
}

// Attr makes an attribute.
func Attr(name string, values ...Value) Attribute { return Attribute{Name: name, Values: values} }

// Status is the code of an answer in words.
func (m *Message) Status() Status { return Status(m.Code) }

// Each returns the groups with a tag, in order: one a job, if there are several.
func (m *Message) Each(tag Tag) []Group {
	var out []Group
	for _, g := range m.Groups {
		if g.Tag == tag {
			out = append(out, g)
		}
	}
	return out
}

// First returns the first group with a tag, or an empty one.
func (m *Message) First(tag Tag) Group {
	for _, g := range m.Groups {
		if g.Tag == tag {
			return g
		}
	}
	return Group{Tag: tag}
}

// Get returns an attribute of a group, the first if the printer sent it twice, or one without values.
func (g Group) Get(name string) Attribute { return find(g.Attributes, name) }

// Get returns an attribute of a collection, the first if the printer sent it twice, or one without values.
func (c Collection) Get(name string) Attribute { return find(c, name) }

func find(attributes []Attribute, name string) Attribute {
	for _, a := range attributes {
		if a.Name == name {
			return a
		}
	}
	return Attribute{Name: name}
}

// Words returns those values that are letters: keywords, addresses, texts, names.
func (a Attribute) Words() []string {
	var out []string
	for _, v := range a.Values {
		if s, ok := letters(v); ok {
			out = append(out, s)
		}
	}
	return out
}

// Word returns the first value that is letters, or nothing.
func (a Attribute) Word() string {
	for _, v := range a.Values {
		if s, ok := letters(v); ok {
			return s
		}
	}
	return ""
}

// Number returns the first value, if it is a whole number or stands for a word.
func (a Attribute) Number() (n int32, ok bool) {
	if len(a.Values) == 0 {
		return 0, false
	}
	switch v := a.Values[0].(type) {
	case Integer:
		return int32(v), true
	case Enum:
		return int32(v), true
	}
	return 0, false
}

// Yes returns the first value, if it is yes or no.
func (a Attribute) Yes() (yes, ok bool) {
	if len(a.Values) == 0 {
		return false, false
	}
	b, ok := a.Values[0].(Boolean)
	return bool(b), ok
}

// Has reports whether one of the values is these letters.
func (a Attribute) Has(word string) bool {
	for _, v := range a.Values {
		if s, ok := letters(v); ok && s == word {
			return true
		}
	}
	return false
}
