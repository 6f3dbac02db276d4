package printers_test

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels/ipp"
	"github.com/pottrail/pottrail/labels/printers"
)

// request is one that the fake printer got.
type request struct {
	*ipp.Message
	document []byte
	whole    bool // the document came whole
	web      *http.Request
}

// does is one way for the fake printer to answer; the document has been read when it is called.
type does func(w http.ResponseWriter, r request)

// fake is a printer made of a web server: it does what is right, but for the operations that a test gives it.
type fake struct {
	t       *testing.T
	server  *httptest.Server
	instead map[ipp.Operation]does
	printer []ipp.Attribute // in place of those that it has
	end     []ipp.Attribute // of a job that is done

	mu    sync.Mutex
	got   []request
	jobs  []request                 // jobs that it has made; a job's number is its place, from 1 on
	ended map[int32][]ipp.Attribute // in place of end, for some jobs
}

func newFake(t *testing.T) *fake {
	f := &fake{t: t, instead: map[ipp.Operation]does{}, end: state(ipp.JobCompleted)}
	f.server = httptest.NewServer(f)
	t.Cleanup(f.server.Close)
	nothingRuns(t)
	return f
}

// state is what a printer says of a job.
func state(s ipp.JobState, reasons ...string) []ipp.Attribute {
	if len(reasons) == 0 {
		reasons = []string{"none"}
	}
	a := ipp.Attribute{Name: "job-state-reasons"}
	for _, r := range reasons {
		a.Values = append(a.Values, ipp.Keyword(r))
	}
	return []ipp.Attribute{ipp.Attr("job-state", ipp.Enum(s)), a}
}

// counted is a job's state with the number of labels that came out.
func counted(n int32, s ipp.JobState, reasons ...string) []ipp.Attribute {
	return append(state(s, reasons...), ipp.Attr("job-impressions-completed", ipp.Integer(n)))
}

func (f *fake) sender() printers.Sender {
	return open(f.t, printers.WayIPP, strings.Replace(f.server.URL, "http", "ipp", 1)+"/ipp/print")
}

func (f *fake) ServeHTTP(w http.ResponseWriter, web *http.Request) {
	b, err := io.ReadAll(web.Body)
	m, document, wrong := ipp.Decode(b)
	if wrong != nil {
		panic(http.ErrAbortHandler) // cut off before the document
	}
	r := request{Message: m, document: document, whole: err == nil, web: web}
	f.mu.Lock()
	f.got = append(f.got, r)
	f.mu.Unlock()
	if do := f.instead[ipp.Operation(m.Code)]; do != nil {
		do(w, r)
		return
	}
	f.right(w, r)
}

// right does what a good printer does.
func (f *fake) right(w http.ResponseWriter, r request) {
	switch ipp.Operation(r.Code) {
	case ipp.GetPrinterAttributes:
		answer(w, r, ipp.OK, ipp.Group{Tag: ipp.PrinterGroup, Attributes: append(f.printer,
			ipp.Attr("printer-state", ipp.Enum(ipp.PrinterIdle)),
			ipp.Attr("printer-state-reasons", ipp.Keyword("none")),
			ipp.Attr("printer-is-accepting-jobs", ipp.Boolean(true)),
			ipp.Attr("printer-make-and-model", ipp.Text{Text: "Label printer of Marram Bay"}),
			ipp.Attr("document-format-supported", ipp.MIMEMediaType("application/pdf"), ipp.MIMEMediaType("image/pwg-raster")),
			ipp.Attr("media-size-supported", size(ipp.Integer(21000), ipp.Integer(29700)), size(ipp.Integer(5083), ipp.Integer(2540)), size(ipp.Range{Lower: 2000, Upper: 3000}, ipp.Range{Lower: 1000, Upper: 5000})),
			ipp.Attr("print-scaling-supported", ipp.Keyword("auto"), ipp.Keyword("none")),
		)})
	case ipp.PrintJob:
		answer(w, r, ipp.OK, job(f.take(r), state(ipp.JobPending)))
	case ipp.GetJobAttributes:
		n, _ := r.First(ipp.OperationGroup).Get("job-id").Number()
		f.mu.Lock()
		end := f.how(n)
		f.mu.Unlock()
		answer(w, r, ipp.OK, job(n, end))
	case ipp.GetJobs:
		f.list(w, r, func(ipp.Group) bool { return true })
	}
}

// how says how a job stands; f.mu is held.
func (f *fake) how(n int32) []ipp.Attribute {
	if end, told := f.ended[n]; told {
		return end
	}
	return f.end
}

// set says how one job ends.
func (f *fake) set(n int32, end []ipp.Attribute) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.ended == nil {
		f.ended = map[int32][]ipp.Attribute{}
	}
	f.ended[n] = end
}

// list answers Get-Jobs with those jobs that are kept.
func (f *fake) list(w http.ResponseWriter, r request, kept func(ipp.Group) bool) {
	done := r.First(ipp.OperationGroup).Get("which-jobs").Has("completed")
	var groups []ipp.Group
	f.mu.Lock()
	for i, j := range f.jobs {
		g := job(int32(i+1), f.how(int32(i+1)), ipp.Attr("job-name", j.First(ipp.OperationGroup).Get("job-name").Values...))
		if s, _ := g.Get("job-state").Number(); ipp.JobState(s).Ended() == done && kept(g) {
			groups = append(groups, g)
		}
	}
	f.mu.Unlock()
	answer(w, r, ipp.OK, groups...)
}

// printed returns how many jobs a token has, and how many bytes of its label came.
func (f *fake) printed(token string) (jobs, bytes int) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, j := range f.jobs {
		if strings.HasPrefix(j.First(ipp.OperationGroup).Get("job-name").Word(), token+"-") {
			jobs, bytes = jobs+1, bytes+len(j.document)
		}
	}
	return jobs, bytes
}

// take makes a job and gives its number.
func (f *fake) take(r request) int32 {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.jobs = append(f.jobs, r)
	return int32(len(f.jobs))
}

// asked returns how often an operation was asked for, and the last such request.
func (f *fake) asked(o ipp.Operation) (n int, last request) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, r := range f.got {
		if ipp.Operation(r.Code) == o {
			n, last = n+1, r
		}
	}
	return n, last
}

// job is the group that tells of one.
func job(id int32, said []ipp.Attribute, more ...ipp.Attribute) ipp.Group {
	return ipp.Group{Tag: ipp.JobGroup, Attributes: append(append([]ipp.Attribute{ipp.Attr("job-id", ipp.Integer(id))}, said...), more...)}
}

// encoded is an answer as bytes.
func encoded(r request, s ipp.Status, groups ...ipp.Group) []byte {
	m := ipp.Message{Version: r.Version, Code: uint16(s), ID: r.ID, Groups: append([]ipp.Group{{Tag: ipp.OperationGroup, Attributes: []ipp.Attribute{
		ipp.Attr("attributes-charset", ipp.Charset("utf-8")), ipp.Attr("attributes-natural-language", ipp.NaturalLanguage("en")),
	}}}, groups...)}
	b, err := m.Encode()
	if err != nil {
		panic(err)
	}
	return b
}

func answer(w http.ResponseWriter, r request, s ipp.Status, groups ...ipp.Group) {
	w.Header().Set("Content-Type", "application/ipp")
	_, _ = w.Write(encoded(r, s, groups...))
}

// says answers with a status and nothing else.
func says(s ipp.Status) does {
	return func(w http.ResponseWriter, r request) { answer(w, r, s) }
}

// web answers as a web server that knows nothing of printing.
func web(status int) does {
	return func(w http.ResponseWriter, _ request) {
		w.Header().Set("Location", "http://192.0.2.99/elsewhere")
		http.Error(w, "<h1>no</h1>", status)
	}
}

// hangsUp closes the connection without an answer.
func hangsUp(http.ResponseWriter, request) { panic(http.ErrAbortHandler) }

// hangs gives no answer until the other side goes.
func hangs(_ http.ResponseWriter, r request) { <-r.web.Context().Done() }

// first makes a job and then does something else than answer rightly.
func (f *fake) first(then does) does {
	return func(w http.ResponseWriter, r request) {
		f.take(r)
		then(w, r)
	}
}

// atMostOnce holds a try to asking for one print at most.
func (f *fake) atMostOnce() {
	n, _ := f.asked(ipp.PrintJob)
	require.LessOrEqual(f.t, n, 1, "a try asks once")
}

// size is one of the sizes that a printer names.
func size(x, y ipp.Value) ipp.Collection {
	return ipp.Collection{ipp.Attr("x-dimension", x), ipp.Attr("y-dimension", y)}
}
