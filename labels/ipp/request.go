package ipp

import (
	"math"
)

// Asker is who asks which printer: what stands at the head of every request.
type Asker struct {
	Version Version
	Printer string // its address: "ipp://192.0.2.20:631/ipp/print"
	User    string // whom the printer shows as the job's owner
}

// New makes a request. The three attributes that each request begins with stand in the order that RFC 8011, section 4.1.5,
// wants; the others follow as given.
func (a Asker) New(o Operation, id int32, more ...Attribute) *Message {
	head := []Attribute{
		Attr("attributes-charset", Charset("utf-8")),
		Attr("attributes-natural-language", NaturalLanguage("en")),
		Attr("printer-uri", URI(a.Printer)),
	}
	return &Message{Version: a.Version, Code: uint16(o), ID: id, Groups: []Group{{OperationGroup, append(head, more...)}}}
}

// user is for requests about jobs: Get-Printer-Attributes has none.
func (a Asker) user() Attribute { return Attr("requesting-user-name", Name{Name: a.User}) }

// only asks for these attributes and no others.
func only(names []string) Attribute {
	out := Attribute{Name: "requested-attributes"}
	for _, n := range names {
		out.Values = append(out.Values, Keyword(n))
	}
	return out
}

// GetPrinterAttributes asks what a printer is, can, and does: only the attributes named, at least one.
func (a Asker) GetPrinterAttributes(id int32, names ...string) *Message {
	return a.New(GetPrinterAttributes, id, only(names))
}

// PrintJob asks for a document to be printed: it follows the encoded message. Name is what the printer lists it under,
// format its media type; the job's own attributes may be none.
func (a Asker) PrintJob(id int32, name, format string, job ...Attribute) *Message {
	m := a.New(PrintJob, id, a.user(), Attr("job-name", Name{Name: name}), Attr("document-format", MIMEMediaType(format)))
	if len(job) > 0 {
		m.Groups = append(m.Groups, Group{JobGroup, job})
	}
	return m
}

// GetJobAttributes asks about one job by the number that the printer gave it.
func (a Asker) GetJobAttributes(id, job int32, names ...string) *Message {
	return a.New(GetJobAttributes, id, Attr("job-id", Integer(job)), a.user(), only(names))
}

// GetJobs asks about all jobs that are done, or all that are not; the printer may know only some of those done.
func (a Asker) GetJobs(id int32, done bool, names ...string) *Message {
	which := Keyword("not-completed")
	if done {
		which = "completed"
	}
	return a.New(GetJobs, id, a.user(), only(names), Attr("which-jobs", which))
}

// CancelJob asks for a job not to be printed.
func (a Asker) CancelJob(id, job int32) *Message {
	return a.New(CancelJob, id, Attr("job-id", Integer(job)), a.user())
}

// MediaSize is the job attribute that says how large a label is, in millimetres; the protocol counts hundredths of one
// (PWG 5100.7, media-col).
func MediaSize(widthMM, heightMM float64) Attribute {
	hundredths := func(mm float64) Value { return Integer(math.Round(mm * 100)) }
	return Attr("media-col", Collection{
		Attr("media-size", Collection{
			Attr("x-dimension", hundredths(widthMM)),
			Attr("y-dimension", hundredths(heightMM)),
		}),
	})
}
