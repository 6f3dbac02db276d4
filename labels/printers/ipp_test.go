package printers_test

import (
	"bytes"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels/ipp"
	"github.com/pottrail/pottrail/labels/printers"
)

func TestAnIPPPrinterTakesALabel(t *testing.T) {
	f, j := newFake(t), label(200_000)
	require.NoError(t, f.sender().Send(within(t, 10*time.Second), j))
	n, r := f.asked(ipp.PrintJob)
	require.Equal(t, 1, n)
	require.True(t, bytes.Equal(j.Body, r.document))
	require.Equal(t, http.MethodPost, r.web.Method)
	require.Equal(t, "/ipp/print", r.web.URL.Path)
	require.Equal(t, "application/ipp", r.web.Header.Get("Content-Type"))
	require.Equal(t, ipp.Version20, r.Version)
	head := r.First(ipp.OperationGroup)
	require.Equal(t, strings.Replace(f.server.URL, "http", "ipp", 1)+"/ipp/print", head.Get("printer-uri").Word())
	require.Regexp(t, "^"+j.Token+"-[A-Z2-7]{6}$", head.Get("job-name").Word())
	require.Equal(t, "pottrail", head.Get("requesting-user-name").Word())
	require.Equal(t, "image/pwg-raster", head.Get("document-format").Word())
	set := r.First(ipp.JobGroup)
	copies, _ := set.Get("copies").Number()
	require.EqualValues(t, 1, copies)
	require.Equal(t, "one-sided", set.Get("sides").Word())
	require.Equal(t, "none", set.Get("print-scaling").Word())
	require.Equal(t, ipp.MediaSize(50.83, 25.4), set.Get("media-col"), "in the printer's own numbers")
}

// TestSizesThatAPrinterNames: only those are asked for, since some printers refuse a label for any other.
func TestSizesThatAPrinterNames(t *testing.T) {
	f := newFake(t)
	for _, row := range []struct {
		w, h float64
		want []ipp.Value
	}{
		{50.8, 25.4, ipp.MediaSize(50.83, 25.4).Values}, {22.004, 15, ipp.MediaSize(22, 15).Values},
		{51.2, 25.4, nil}, {50.8, 26, nil}, {25.4, 50.8, nil}, {0, 0, nil},
	} {
		j := label(100)
		j.WidthMM, j.HeightMM = row.w, row.h
		require.NoError(t, f.sender().Send(within(t, 10*time.Second), j))
		_, r := f.asked(ipp.PrintJob)
		require.Equal(t, row.want, r.First(ipp.JobGroup).Get("media-col").Values, "%g × %g mm", row.w, row.h)
	}
}

// TestAnIPPPrinterThatCanLess is not asked for what it does not know.
func TestAnIPPPrinterThatCanLess(t *testing.T) {
	f := newFake(t)
	f.printer = []ipp.Attribute{ipp.Attr("media-size-supported", ipp.NoValue), ipp.Attr("print-scaling-supported", ipp.Unsupported)}
	require.NoError(t, f.sender().Send(within(t, 10*time.Second), label(100)))
	_, r := f.asked(ipp.PrintJob)
	require.Empty(t, r.First(ipp.JobGroup).Get("media-col").Values)
	require.Empty(t, r.First(ipp.JobGroup).Get("print-scaling").Values)
}

// TestAnIPPPrinterOfTheOldKind speaks 1.1 alone.
func TestAnIPPPrinterOfTheOldKind(t *testing.T) {
	f := newFake(t)
	f.instead[ipp.GetPrinterAttributes] = func(w http.ResponseWriter, r request) {
		if r.Version != ipp.Version11 {
			answer(w, r, ipp.VersionNotSupported)
			return
		}
		f.right(w, r)
	}
	require.NoError(t, f.sender().Send(within(t, 10*time.Second), label(100)))
	_, r := f.asked(ipp.PrintJob)
	require.Equal(t, ipp.Version11, r.Version)
}

// TestWhatAPrinterSaysBefore is what it says of itself: nothing of the label leaves.
func TestWhatAPrinterSaysBefore(t *testing.T) {
	stopped := ipp.Attr("printer-state", ipp.Enum(ipp.PrinterStopped))
	rows := []struct {
		label   string
		printer []ipp.Attribute
		instead does
		known   error
		says    string
	}{
		{"stopped", []ipp.Attribute{stopped, ipp.Attr("printer-state-reasons", ipp.Keyword("media-empty-error"), ipp.Keyword("cover-open"))}, nil,
			printers.ErrNotSent, "has stopped: no labels left, a cover is open"},
		{"stopped for no reason", []ipp.Attribute{stopped, ipp.Attr("printer-state-reasons", ipp.Keyword("none"))}, nil, printers.ErrNotSent, "has stopped"},
		{"not accepting", []ipp.Attribute{ipp.Attr("printer-is-accepting-jobs", ipp.Boolean(false))}, nil, printers.ErrNotSent, "takes no jobs at present"},
		{"other formats", []ipp.Attribute{ipp.Attr("document-format-supported", ipp.MIMEMediaType("application/postscript"))}, nil,
			printers.ErrRefused, "does not take image/pwg-raster, but application/postscript: choose another printer language"},
		{"busy", nil, says(ipp.Busy), printers.ErrNotSent, "the printer is busy (0x0507)"},
		{"a passing fault", nil, says(ipp.TemporaryError), printers.ErrNotSent, "a passing fault"},
		{"a fault inside", nil, says(ipp.InternalError), printers.ErrNotSent, "inside the printer"},
		{"unknown", nil, says(ipp.NotFound), printers.ErrRefused, "does not know what was asked for"},
		{"neither version", nil, says(ipp.VersionNotSupported), printers.ErrRefused, "another version"},
		{"no such path", nil, web(404), printers.ErrRefused, "often /ipp/print"},
		{"a sign-in", nil, web(401), printers.ErrRefused, "wants a sign-in"},
		{"a secure connection", nil, web(426), printers.ErrRefused, "begin its address with ipps"},
		{"elsewhere", nil, web(307), printers.ErrRefused, "sends us to another address"},
		{"not ready", nil, web(503), printers.ErrNotSent, "HTTP 503"},
		{"a page", nil, web(200), printers.ErrNotSent, "does not answer as a printer does"},
		{"hangs up", nil, hangsUp, printers.ErrNotSent, "broke off"},
	}
	for _, row := range rows {
		t.Run(row.label, func(t *testing.T) {
			f := newFake(t)
			f.printer = row.printer
			if row.instead != nil {
				f.instead[ipp.GetPrinterAttributes] = row.instead
			}
			err := f.sender().Send(within(t, 10*time.Second), label(100))
			oneOutcome(t, err, row.known)
			require.ErrorContains(t, err, row.says)
			n, _ := f.asked(ipp.PrintJob)
			require.Zero(t, n)
		})
	}
}

// TestWhatAPrinterSaysToALabel is its answer to the label itself, with a job made or not.
func TestWhatAPrinterSaysToALabel(t *testing.T) {
	rows := []struct {
		label   string
		instead does
		known   error
		says    string
	}{
		{"busy", says(ipp.Busy), printers.ErrNotSent, "the printer is busy (0x0507)"},
		{"not accepting", says(ipp.NotAcceptingJobs), printers.ErrNotSent, "takes no jobs at present (0x0506)"},
		{"not ready", says(ipp.ServiceUnavailable), printers.ErrNotSent, "is not ready"},
		{"a passing fault", says(ipp.TemporaryError), printers.ErrNotSent, "a passing fault"},
		{"format", says(ipp.DocumentFormatNotSupported), printers.ErrRefused, "does not take this format (0x040A)"},
		{"values", says(ipp.ValuesNotSupported), printers.ErrRefused, "does not take this label size, format or setting (0x040B)"},
		{"unreadable", says(0x0411), printers.ErrRefused, "could not read the label"},
		{"too large", says(0x0408), printers.ErrRefused, "too large"},
		{"forbidden", says(0x0401), printers.ErrRefused, "forbids"},
		{"switched off", says(0x050A), printers.ErrRefused, "switched off"},
		{"too large for the web server", web(413), printers.ErrRefused, "HTTP 413"},
		{"web server not ready", web(503), printers.ErrNotSent, "HTTP 503"},
		{"a fault in the middle", says(ipp.DeviceError), printers.ErrUnknown, "a fault, such as a jam"},
		{"a fault inside", says(ipp.InternalError), printers.ErrUnknown, "look whether one came out"},
		{"waited too long", says(ipp.Timeout), printers.ErrUnknown, "waited too long"},
		{"cancelled meanwhile", says(ipp.JobCanceled), printers.ErrUnknown, "cancelled"},
		{"a fault of the web server", web(500), printers.ErrUnknown, "HTTP 500"},
		{"a page", web(200), printers.ErrUnknown, "cannot be read"},
		{"a fault that is not known here", says(0x05FF), printers.ErrUnknown, "cannot do it"},
		{"an answer without a meaning", says(0x0300), printers.ErrUnknown, "no meaning"},
		{"half an answer of the web server", web(202), printers.ErrUnknown, "HTTP 202"},
		{"asked too often", web(429), printers.ErrNotSent, "HTTP 429"},
		{"hangs up", hangsUp, printers.ErrUnknown, "does not say what became of the label"},
	}
	for _, row := range rows {
		t.Run(row.label, func(t *testing.T) {
			f := newFake(t)
			f.instead[ipp.PrintJob] = row.instead
			err := f.sender().Send(within(t, 10*time.Second), label(100))
			oneOutcome(t, err, row.known)
			require.ErrorContains(t, err, row.says)
			f.atMostOnce()
		})
	}
}

// TestAnAnswerThatIsNone: the label left, and what came back says nothing. The printer's list of jobs decides.
func TestAnAnswerThatIsNone(t *testing.T) {
	send := func(kind string, b func(request) []byte) does {
		return func(w http.ResponseWriter, r request) {
			w.Header().Set("Content-Type", kind)
			_, _ = w.Write(b(r))
		}
	}
	good := func(r request) []byte { return encoded(r, ipp.OK, job(1, state(ipp.JobCompleted))) }
	rows := map[string]does{
		"hangs up":          hangsUp,
		"nothing":           send("application/ipp", func(request) []byte { return nil }),
		"garbage":           send("application/ipp", func(request) []byte { return []byte("%!PS\x00\x01\x02\xff garbage") }),
		"cut short":         send("application/ipp", func(r request) []byte { return good(r)[:40] }),
		"something behind":  send("application/ipp", func(r request) []byte { return append(good(r), 'x') }),
		"of another kind":   send("text/html", good),
		"to another":        send("application/ipp", func(r request) []byte { r.Message.ID++; return good(r) }),
		"without end":       send("application/ipp", func(r request) []byte { return append(good(r)[:20], make([]byte, 8<<20)...) }),
		"a fault":           says(ipp.InternalError),
		"no number of job":  says(ipp.OK),
		"a fault elsewhere": web(502),
		"cut in its middle": func(w http.ResponseWriter, r request) {
			w.Header().Set("Content-Type", "application/ipp")
			w.Header().Set("Content-Length", "5000")
			_, _ = w.Write(good(r)[:30])
			_ = http.NewResponseController(w).Flush()
			panic(http.ErrAbortHandler)
		},
	}
	for label_, instead := range rows {
		t.Run(label_, func(t *testing.T) {
			t.Run("and the printer lists the job", func(t *testing.T) {
				f := newFake(t)
				f.instead[ipp.PrintJob] = f.first(instead)
				require.NoError(t, f.sender().Send(within(t, 10*time.Second), label(100)))
				f.atMostOnce()
			})
			t.Run("and the printer lists nothing", func(t *testing.T) {
				f := newFake(t)
				f.instead[ipp.PrintJob] = instead
				oneOutcome(t, f.sender().Send(within(t, 10*time.Second), label(100)), printers.ErrUnknown)
				f.atMostOnce()
			})
		})
	}
}

// TestAReplyThatIsLost: the printer has the whole label, and is asked what became of it.
func TestAReplyThatIsLost(t *testing.T) {
	rows := []struct {
		label string
		end   []ipp.Attribute
		known error // nil: sent
		says  string
	}{
		{"done", state(ipp.JobCompleted, "job-completed-successfully"), nil, ""},
		{"done, with faults", state(ipp.JobCompleted, "job-completed-with-errors"), printers.ErrUnknown, "with faults"},
		{"given up, nothing came out", counted(0, ipp.JobAborted, "document-format-error"), printers.ErrRefused, "given up by the printer, at "},
		{"given up, unreadable", state(ipp.JobAborted, "unsupported-document-format"), printers.ErrRefused, "the format is not taken"},
		{"given up, one came out", counted(1, ipp.JobAborted, "aborted-by-system"), printers.ErrUnknown, "look whether one came out"},
		{"given up, uncounted", state(ipp.JobAborted, "aborted-by-system"), printers.ErrUnknown, "look whether one came out"},
		{"cancelled, nothing came out", counted(0, ipp.JobCancelled, "job-canceled-at-device"), printers.ErrRefused, "cancelled at the printer"},
		{"cancelled, uncounted", state(ipp.JobCancelled), printers.ErrUnknown, "was cancelled"},
		{"given up on its way", counted(0, ipp.JobAborted, "submission-interrupted"), printers.ErrUnknown, "or a part of one"},
	}
	for _, row := range rows {
		for _, lost := range []bool{true, false} {
			t.Run(fmt.Sprintf("%s, lost %v", row.label, lost), func(t *testing.T) {
				f := newFake(t)
				f.end = row.end
				if lost {
					f.instead[ipp.PrintJob] = f.first(hangsUp)
				}
				err := f.sender().Send(within(t, 10*time.Second), label(100))
				f.atMostOnce()
				if row.known == nil {
					require.NoError(t, err)
					return
				}
				oneOutcome(t, err, row.known)
				require.ErrorContains(t, err, row.says)
			})
		}
	}
}

// TestAPrinterWithOtherJobs is not misled by those of others, nor by an earlier try of the same label.
func TestAPrinterWithOtherJobs(t *testing.T) {
	f, j := newFake(t), label(100)
	require.NoError(t, f.sender().Send(within(t, 10*time.Second), j))
	f.instead[ipp.PrintJob] = hangsUp
	oneOutcome(t, f.sender().Send(within(t, 10*time.Second), j), printers.ErrUnknown)
	f.instead[ipp.PrintJob] = f.first(hangsUp)
	require.NoError(t, f.sender().Send(within(t, 10*time.Second), j))
}

// TestAJobThatTakesItsTime is followed until it is done.
func TestAJobThatTakesItsTime(t *testing.T) {
	f, asked := newFake(t), 0
	f.instead[ipp.GetJobAttributes] = func(w http.ResponseWriter, r request) {
		switch asked++; asked {
		case 1:
			answer(w, r, ipp.OK, job(1, state(ipp.JobProcessing, "job-printing")))
		case 2:
			hangsUp(w, r)
		case 3:
			answer(w, r, ipp.Busy)
		default:
			f.right(w, r)
		}
	}
	require.NoError(t, f.sender().Send(within(t, 10*time.Second), label(100)))
	require.Equal(t, 4, asked)
}

func TestAJobThatDoesNotEnd(t *testing.T) {
	rows := []struct {
		label   string
		end     []ipp.Attribute
		printer []ipp.Attribute // once the job is there
		says    string
	}{
		{"no labels", state(ipp.JobStopped, "printer-stopped"), []ipp.Attribute{ipp.Attr("printer-state-reasons", ipp.Keyword("media-empty-error"))},
			"has stopped: no labels left: look at the printer, it may still come out"},
		{"stopped", state(ipp.JobStopped, "printer-stopped"), nil, "has stopped: the printer has stopped"},
		{"held", state(ipp.JobHeld, "job-hold-until-specified"), nil, "is held back: held back until later"},
		{"printing for ever", state(ipp.JobProcessing), nil, "is being printed: look at the printer"},
		{"nothing said", nil, nil, "waits for its turn"},
		{"a state of later days", state(11), nil, "not known here (11)"},
	}
	for _, row := range rows {
		t.Run(row.label, func(t *testing.T) {
			f := newFake(t)
			f.end = row.end
			f.instead[ipp.GetPrinterAttributes] = func(w http.ResponseWriter, r request) {
				if n, _ := f.asked(ipp.PrintJob); n > 0 {
					f.printer = row.printer
				}
				f.right(w, r)
			}
			begun := time.Now()
			err := f.sender().Send(within(t, 400*time.Millisecond), label(100))
			oneOutcome(t, err, printers.ErrUnknown)
			require.ErrorContains(t, err, row.says)
			require.Less(t, time.Since(begun), 5*time.Second)
		})
	}
}

// TestAPrinterThatForgets keeps no list of what is done: it had the whole label, and that is what sent means.
func TestAPrinterThatForgets(t *testing.T) {
	f := newFake(t)
	f.instead[ipp.GetJobAttributes] = says(ipp.NotFound)
	require.NoError(t, f.sender().Send(within(t, 10*time.Second), label(100)))

	asked := 0
	f.instead[ipp.GetJobAttributes] = func(w http.ResponseWriter, r request) {
		if asked++; asked == 1 {
			answer(w, r, ipp.OK, job(2, state(ipp.JobStopped, "printer-stopped")))
			return
		}
		answer(w, r, ipp.NotFound)
	}
	err := f.sender().Send(within(t, 10*time.Second), label(100))
	oneOutcome(t, err, printers.ErrUnknown)
	require.ErrorContains(t, err, "no longer knows the label")
}

// TestAnIPPPrinterThatHangs does so at each question in turn.
func TestAnIPPPrinterThatHangs(t *testing.T) {
	rows := []struct {
		at    ipp.Operation
		known error
	}{
		{ipp.GetPrinterAttributes, printers.ErrNotSent}, {ipp.PrintJob, printers.ErrUnknown}, {ipp.GetJobAttributes, printers.ErrUnknown},
	}
	for _, row := range rows {
		t.Run(row.at.String(), func(t *testing.T) {
			f := newFake(t)
			f.instead[row.at] = hangs
			begun := time.Now()
			oneOutcome(t, f.sender().Send(within(t, 400*time.Millisecond), label(100)), row.known)
			require.Less(t, time.Since(begun), 5*time.Second)
			f.atMostOnce()
		})
	}
	t.Run("and has printed all the same", func(t *testing.T) {
		f := newFake(t)
		f.instead[ipp.PrintJob] = f.first(hangs)
		require.NoError(t, f.sender().Send(within(t, 2*time.Second), label(100)), "time is kept back for asking")
		f.atMostOnce()
	})
}

func TestAnIPPPrinterIsLookedAt(t *testing.T) {
	rows := []struct {
		printer []ipp.Attribute
		says    string
	}{
		{nil, " (Label printer of Marram Bay) is ready"},
		{[]ipp.Attribute{ipp.Attr("printer-state", ipp.Enum(ipp.PrinterProcessing))}, " (Label printer of Marram Bay) is printing"},
		{[]ipp.Attribute{ipp.Attr("printer-state", ipp.Enum(ipp.PrinterStopped)), ipp.Attr("printer-state-reasons", ipp.Keyword("media-jam-error")),
			ipp.Attr("printer-is-accepting-jobs", ipp.Boolean(false)), ipp.Attr("printer-make-and-model", ipp.Unknown)}, " has stopped and takes no jobs: the labels are jammed"},
	}
	for _, row := range rows {
		f := newFake(t)
		f.printer = row.printer
		got, err := f.sender().Look(within(t, 10*time.Second))
		require.NoError(t, err)
		require.Equal(t, strings.Replace(f.server.URL, "http", "ipp", 1)+"/ipp/print"+row.says, got)
		n, _ := f.asked(ipp.PrintJob)
		require.Zero(t, n)
	}
	f := newFake(t)
	f.instead[ipp.GetPrinterAttributes] = says(ipp.Busy)
	_, err := f.sender().Look(within(t, 10*time.Second))
	require.ErrorContains(t, err, "answers, and does not say how it is (the printer is busy (0x0507))")
	_, err = open(t, printers.WayIPP, "ipp://"+nobody(t)+"/ipp/print").Look(within(t, 10*time.Second))
	require.ErrorContains(t, err, "does not answer: is the printer on, and on the network?")
	require.NotErrorIs(t, err, printers.ErrNotSent, "nothing was to be printed")
}
