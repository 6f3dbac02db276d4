package labels_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image/png"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
)

var created = time.Date(2026, 3, 6, 15, 31, 42, 0, time.UTC)

func drawnLabel(t *testing.T, name string, dots int) *labels.Picture {
	t.Helper()
	l := layout(t, name)
	p, err := drawer(t).Draw(l, contentFor(t, l), labels.Options{DotsPerMM: dots})
	require.NoError(t, err)
	return p
}

// TestPNGHasItsTrueSize: one bit a dot, and the resolution in pHYs (PNG, third edition, 11.3.4.3), before the first IDAT.
func TestPNGHasItsTrueSize(t *testing.T) {
	for _, dots := range resolutions {
		p := drawnLabel(t, "pot-50x25", dots)
		var b bytes.Buffer
		require.NoError(t, labels.WritePNG(&b, p))
		_, err := png.Decode(bytes.NewReader(b.Bytes()))
		require.NoError(t, err)
		require.Equal(t, byte(1), b.Bytes()[24], "bit depth")
		at := bytes.Index(b.Bytes(), []byte("pHYs"))
		require.Less(t, at, bytes.Index(b.Bytes(), []byte("IDAT")))
		require.Equal(t, uint32(dots*1000), binary.BigEndian.Uint32(b.Bytes()[at+4:]))
		require.Equal(t, uint32(dots*1000), binary.BigEndian.Uint32(b.Bytes()[at+8:]))
		require.Equal(t, byte(1), b.Bytes()[at+12], "unit metre")
		require.InDelta(t, 50, float64(p.Width)/float64(dots), 1e-9)
		require.InDelta(t, 25, float64(p.Height)/float64(dots), 1e-9)

		var again bytes.Buffer
		require.NoError(t, labels.WritePNG(&again, p))
		require.Equal(t, b.Bytes(), again.Bytes())
	}
}

// TestPDFPagesAndBytes: one page a label at its size, the same bytes for the same pictures and time, and no words of the
// patient as text.
func TestPDFPagesAndBytes(t *testing.T) {
	pot, piece := drawnLabel(t, "pot-50.8x25.4", 8), drawnLabel(t, "piece-22x15", 8)
	var b, again bytes.Buffer
	require.NoError(t, labels.WritePDF(&b, created, pot, piece, pot))
	require.NoError(t, labels.WritePDF(&again, created, pot, piece, pot))
	require.Equal(t, b.Bytes(), again.Bytes())
	require.NotContains(t, b.String(), "Halvorsen")
	require.Contains(t, b.String(), "20260306153142")
	// 50.8 mm is 144 points, 25.4 mm 72; 22 mm is 62.36, 15 mm 42.52.
	boxes := regexp.MustCompile(`/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]`).FindAllStringSubmatch(b.String(), -1)
	var sizes []string
	for _, box := range boxes {
		sizes = append(sizes, box[1]+"×"+box[2])
	}
	require.Subset(t, sizes, []string{"62.36×42.52"})
	require.Contains(t, fmt.Sprint(sizes), "144.00×72.00")
	require.Len(t, regexp.MustCompile(`/Type /Page\b[^s]`).FindAllString(b.String(), -1), 3)
}

type broken struct{}

var errBroken = errors.New("broken")

func (broken) Write([]byte) (int, error) { return 0, errBroken }

func TestWriterThatFails(t *testing.T) {
	p := drawnLabel(t, "piece-22x15", 8)
	require.ErrorIs(t, labels.WritePNG(broken{}, p), errBroken)
	require.ErrorIs(t, labels.WritePDF(broken{}, created, p), errBroken)
}
