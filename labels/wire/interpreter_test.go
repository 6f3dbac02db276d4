package wire_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/labels/wire"
	"github.com/pottrail/pottrail/testdata/outside"
)

// rendering is one job for testdata/render.cjs.
type rendering struct {
	In        string  `json:"in"`
	Out       string  `json:"out"`
	WidthMM   float64 `json:"widthMM"`
	HeightMM  float64 `json:"heightMM"`
	DotsPerMM int     `json:"dotsPerMM"`

	picture *labels.Picture
	symbol  string // what a reader must find; "" for no single symbol
}

// TestZPLIsUnderstoodByAnotherProgram: an interpreter of ZPL that we did not write makes the same dots of every predefined
// layout's job as were drawn, none more and none less, and dmtxread reads the symbol in what it made. So for a calibration
// label, one that goes in strips, and one that is moved. One process of node renders all of them.
func TestZPLIsUnderstoodByAnotherProgram(t *testing.T) {
	node, module := outside.Need(t, "node"), outside.Node(t, "zpl-renderer-js")
	dmtxread := outside.Need(t, "dmtxread")
	folder, d := t.TempDir(), drawer(t)
	var all []rendering
	add := func(p *labels.Picture, symbol string, s wire.Setup) {
		body, err := wire.Encode(wire.ZPL, p, s)
		require.NoError(t, err)
		r := rendering{In: filepath.Join(folder, fmt.Sprintf("%d.zpl", len(all))), Out: filepath.Join(folder, fmt.Sprintf("%d.png", len(all))),
			WidthMM: p.WidthMM, HeightMM: p.HeightMM, DotsPerMM: p.DotsPerMM, picture: p, symbol: symbol}
		require.NoError(t, os.WriteFile(r.In, body, 0o600))
		all = append(all, r)
	}
	for _, dots := range []int{8, 12} {
		for _, l := range labels.Layouts() {
			c := contentFor(t, l)
			p, err := d.Draw(l, c, labels.Options{DotsPerMM: dots})
			require.NoError(t, err)
			add(p, symbolText(l, c), wire.Setup{})
		}
		calibration, err := d.Calibration(50, 25, labels.Options{DotsPerMM: dots})
		require.NoError(t, err)
		add(calibration, "", wire.Setup{})
	}
	large, err := d.Calibration(100, 150, labels.Options{DotsPerMM: 12})
	require.NoError(t, err)
	add(large, "", wire.Setup{})

	list, err := json.Marshal(all)
	require.NoError(t, err)
	listed := filepath.Join(folder, "list.json")
	require.NoError(t, os.WriteFile(listed, list, 0o600))
	ctx, stop := context.WithTimeout(t.Context(), 2*time.Minute)
	defer stop()
	out, err := exec.CommandContext(ctx, node, filepath.Join("testdata", "render.cjs"), module, listed).CombinedOutput()
	require.NoErrorf(t, err, "%s", out)

	for _, r := range all {
		t.Run(fmt.Sprintf("%s at %d", r.picture.Layout, r.DotsPerMM), func(t *testing.T) {
			rendered, err := os.ReadFile(r.Out)
			require.NoError(t, err)
			img, err := png.Decode(bytes.NewReader(rendered))
			require.NoError(t, err)
			requireSameDots(t, r.picture, img)
			if r.symbol == "" {
				return
			}
			// -N1: one symbol is enough; -m2000: at most two seconds. Exit status 1 is "nothing found".
			read, err := exec.CommandContext(t.Context(), dmtxread, "-N1", "-m2000", r.Out).Output()
			require.NoError(t, err, "dmtxread found no symbol")
			require.Equal(t, r.symbol, strings.TrimRight(string(read), "\n"))
		})
	}
}

// requireSameDots holds a rendered label to the picture: every dot is the same. The rendering may be a dot larger on each
// side, since it rounds millimetres its own way; that dot is white.
func requireSameDots(t *testing.T, want *labels.Picture, got image.Image) {
	t.Helper()
	size := got.Bounds()
	require.True(t, size.Dx() >= want.Width && size.Dx() <= want.Width+1 && size.Dy() >= want.Height && size.Dy() <= want.Height+1,
		"%d × %d dots came of %d × %d", size.Dx(), size.Dy(), want.Width, want.Height)
	for y := range size.Dy() {
		for x := range size.Dx() {
			gray, _, _, _ := got.At(size.Min.X+x, size.Min.Y+y).RGBA()
			require.True(t, gray == 0 || gray == 0xffff, "dot %d, %d is neither black nor white", x, y)
			if black := gray == 0; black != want.Black(x, y) {
				t.Fatalf("dot %d, %d: black is %t", x, y, black)
			}
		}
	}
}
