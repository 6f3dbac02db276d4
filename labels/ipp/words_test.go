package ipp_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels/ipp"
)

func TestRequestsForOneLabel(t *testing.T) {
	a := ipp.Asker{Version: ipp.Version20, Printer: "ipp://192.0.2.20:631/ipp/print", User: "pottrail"}
	m := a.PrintJob(7, "k3v9", "image/pwg-raster", ipp.MediaSize(50.8, 25.4))
	names := func(g ipp.Group) (out []string) {
		for _, a := range g.Attributes {
			out = append(out, a.Name)
		}
		return out
	}
	require.Equal(t, []string{"attributes-charset", "attributes-natural-language", "printer-uri", "requesting-user-name", "job-name", "document-format"},
		names(m.First(ipp.OperationGroup)), "the first three in this order, RFC 8011 section 4.1.4 and 4.1.5")
	size := m.First(ipp.JobGroup).Get("media-col").Values[0].(ipp.Collection).Get("media-size").Values[0].(ipp.Collection)
	require.Equal(t, []ipp.Value{ipp.Integer(5080)}, size.Get("x-dimension").Values, "hundredths of a millimetre, rounded")
	require.Equal(t, []ipp.Value{ipp.Integer(2540)}, size.Get("y-dimension").Values)

	for _, m := range []*ipp.Message{
		m, a.CancelJob(1, 147), a.GetJobs(2, true, "job-name"), a.GetJobs(3, false, "job-name"),
		a.GetJobAttributes(4, 147, "job-state", "job-state-reasons"), a.GetPrinterAttributes(5, "printer-state"), a.PrintJob(6, "k", "application/pdf"),
	} {
		b, err := m.Encode()
		require.NoError(t, err)
		again, document, err := ipp.Decode(b)
		require.NoError(t, err)
		require.Empty(t, document)
		require.Equal(t, m, again)
	}
}

func TestStatusesInWords(t *testing.T) {
	rows := map[ipp.Status]string{
		ipp.OK:                         "it is done (0x0000)",
		0x0005:                         "it is done (0x0005)",
		ipp.Busy:                       "the printer is busy (0x0507)",
		ipp.NotAcceptingJobs:           "the printer takes no jobs at present (0x0506)",
		ipp.DocumentFormatNotSupported: "the printer does not take this format (0x040A)",
		0x04FF:                         "the printer refuses the request (0x04FF)",
		0x05FF:                         "the printer cannot do it (0x05FF)",
		0x0300:                         "the printer's answer has no meaning known here (0x0300)",
	}
	for status, words := range rows {
		require.Equal(t, words, status.String())
	}
	require.True(t, ipp.Status(1).Successful())
	require.False(t, ipp.Status(0x0100).Successful())
}

func TestReasonsInWords(t *testing.T) {
	require.Equal(t, "no labels left, a cover is open", ipp.Reasons([]string{"media-empty-error", "cover-open", "media-empty-report"}))
	require.Equal(t, "the label could not be read", ipp.Reasons([]string{"document-format-error"}), "an error that is no grade")
	require.Empty(t, ipp.Reasons([]string{"none"}))
	require.Equal(t, "moon-in-the-way", ipp.Reasons([]string{"moon-in-the-way"}))
	require.Equal(t, "bell [2J", ipp.Reasons([]string{"bell\x07\x1b[2J"}), "nothing that steers a screen")
}

func TestStatesInWords(t *testing.T) {
	for s := ipp.JobPending; s <= ipp.JobCompleted; s++ {
		require.NotContains(t, s.String(), "not known")
		require.Equal(t, s > ipp.JobStopped, s.Ended())
	}
	require.Contains(t, ipp.JobState(10).String(), "not known here (10)")
	require.False(t, ipp.JobState(10).Ended())
	require.Equal(t, "has stopped", ipp.PrinterStopped.String())
	require.Equal(t, "is ready", ipp.PrinterIdle.String())
	require.Equal(t, "is printing", ipp.PrinterProcessing.String())
	require.Contains(t, ipp.PrinterState(0).String(), "not known")
}

func TestPrintersOwnWordsAreMadeFit(t *testing.T) {
	require.Equal(t, "out of labels", ipp.Clean("out\r\nof\x00\u0085labels\u202e"))
	require.Equal(t, "?", ipp.Clean("\xff"))
	require.Len(t, []rune(ipp.Clean(strings.Repeat("x", 500))), 120)
}

func TestInstants(t *testing.T) {
	for _, at := range []time.Time{
		time.Date(2026, 3, 6, 14, 5, 9, 2e8, time.FixedZone("", 3600)),
		time.Date(2026, 12, 31, 23, 59, 59, 9e8, time.FixedZone("", -3*3600-1800)),
		time.Date(2028, 2, 29, 0, 0, 0, 0, time.UTC),
	} {
		got, err := ipp.At(at).Time()
		require.NoError(t, err)
		require.True(t, at.Equal(got), "%s and %s", at, got)
	}
	for _, broken := range []ipp.DateTime{{}, {7, 234, 2, 30, 0, 0, 0, 0, '+'}, {7, 234, 13, 1, 0, 0, 0, 0, '+'}, {7, 234, 1, 1, 0, 0, 0, 0, 'Z'}} {
		_, err := broken.Time()
		require.Error(t, err)
	}
}

func TestWhatAnAnswerHolds(t *testing.T) {
	m := &ipp.Message{Version: ipp.Version20, Code: uint16(ipp.Busy), ID: 1, Groups: []ipp.Group{
		{Tag: ipp.JobGroup, Attributes: []ipp.Attribute{ipp.Attr("job-id", ipp.Integer(1)), ipp.Attr("job-id", ipp.Integer(2))}},
		{Tag: ipp.JobGroup, Attributes: []ipp.Attribute{ipp.Attr("job-state", ipp.Enum(9)), ipp.Attr("job-state-reasons", ipp.Keyword("none"), ipp.NoValue)}},
	}}
	require.Equal(t, ipp.Busy, m.Status())
	require.Len(t, m.Each(ipp.JobGroup), 2)
	n, ok := m.First(ipp.JobGroup).Get("job-id").Number()
	require.True(t, ok)
	require.EqualValues(t, 1, n, "of two, the first")
	last := m.Each(ipp.JobGroup)[1]
	n, _ = last.Get("job-state").Number()
	require.EqualValues(t, ipp.JobCompleted, n)
	require.Equal(t, []string{"none"}, last.Get("job-state-reasons").Words())
	require.True(t, last.Get("job-state-reasons").Has("none"))
	_, ok = m.First(ipp.PrinterGroup).Get("printer-state").Number()
	require.False(t, ok)
	_, ok = last.Get("job-state").Yes()
	require.False(t, ok)
	require.Empty(t, last.Get("job-state").Word())
}
