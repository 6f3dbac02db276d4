package labels_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	zxing "github.com/makiuchi-d/gozxing/datamatrix"
	"github.com/makiuchi-d/gozxing/datamatrix/decoder"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
)

// TestDamageIsPutRightByAnotherProgram: dmtxread, which shares no code with gozxing, reads symbols that have lost six
// codewords as well.
func TestDamageIsPutRightByAnotherProgram(t *testing.T) {
	dmtxread := program(t, "dmtxread", "dmtx-utils")
	at := placement(symbolSide)
	whole := modulesOf(drawnLabel(t, "pot-50x25", 8))
	want := contentFor(t, layout(t, "pot-50x25")).Code.String()
	draw := rand.New(rand.NewPCG(6, 2))
	for n := range 24 {
		m := whole.clone()
		for _, c := range draw.Perm(allCodewords)[:correctable] {
			m.spoil(at[c], wrongBits(n, c))
		}
		t.Run(fmt.Sprint(n+1), func(t *testing.T) {
			t.Parallel()
			file := writeGray(t, m.picture(6))
			require.Equal(t, want, readByDmtx(t, dmtxread, file))
		})
	}
}

// TestScratches: a white or black line one module wide across the whole symbol, along each row and each column. Nothing is
// taken for another code.
func TestScratches(t *testing.T) {
	whole := modulesOf(drawnLabel(t, "pot-50x25", 8))
	want := contentFor(t, layout(t, "pot-50x25")).Code.String()
	reader := decoder.NewDecoder()
	for _, dark := range []bool{false, true} {
		var o outcome
		for along := range symbolSide {
			for _, down := range []bool{false, true} {
				m := whole.clone()
				for i := range symbolSide {
					if down {
						m[i][along] = dark
					} else {
						m[along][i] = dark
					}
				}
				got, err := m.decode(reader)
				o.note(want, got, err)
			}
		}
		t.Logf("%s line: %s", map[bool]string{false: "white", true: "black"}[dark], &o)
		require.Zero(t, o.wrong)
	}
}

// deadDot is a picture on which one dot of the print head prints nothing: a white line along the way of the paper.
type deadDot struct {
	*labels.Picture
	at int // column
}

func (d deadDot) At(x, y int) color.Color {
	if x == d.at {
		return color.White
	}
	return d.Picture.At(x, y)
}

// TestADeadDotOfThePrintHead: the fault that thermal printers come to have with age, at each dot of the width of the smallest
// label's symbol. Its modules have three dots, so two of each are left. Two readers: gozxing on the dots themselves, dmtxread
// on what a camera would see (on the sharp dots it follows edges so closely that it loses its way in nearly all). Nearly all
// are read; none is taken for another code.
func TestADeadDotOfThePrintHead(t *testing.T) {
	t.Parallel()
	dmtxread := program(t, "dmtxread", "dmtx-utils")
	pure := zxing.NewDataMatrixReader()
	p := drawnLabel(t, "piece-22x15", 8)
	want := contentFor(t, layout(t, "piece-22x15")).Code.String()
	var byDmtx, byZXing outcome
	s := p.Symbol
	for column := s.X; column < s.X+s.Modules*s.ModuleDots; column++ {
		broken := cut(deadDot{p, column}, s.Quiet())
		bitmap, err := gozxing.NewBinaryBitmapFromImage(broken)
		require.NoError(t, err)
		result, err := pure.Decode(bitmap, map[gozxing.DecodeHintType]interface{}{gozxing.DecodeHintType_PURE_BARCODE: true})
		got := ""
		if err == nil {
			got = result.GetText()
		}
		byZXing.note(want, got, err)
		file := writeGray(t, seen(broken))
		out, err := exec.CommandContext(t.Context(), dmtxread, "-N1", "-m5000", file).Output()
		byDmtx.note(want, strings.TrimSpace(string(out)), err)
	}
	t.Logf("dmtxread, %s", &byDmtx)
	t.Logf("gozxing, %s", &byZXing)
	require.Zero(t, byDmtx.wrong+byZXing.wrong)
	require.GreaterOrEqual(t, byDmtx.right, 44)
	require.GreaterOrEqual(t, byZXing.right, 42)
}

// seen is a picture as a camera sees it, not quite sharp: two dots each way for one, and each the mean of those around it.
func seen(img *image.Gray) *image.Gray {
	const times, reach = 2, 2
	b := img.Bounds()
	out := image.NewGray(image.Rect(0, 0, b.Dx()*times, b.Dy()*times))
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			sum, n := 0, 0
			for dy := -reach; dy <= reach; dy++ {
				for dx := -reach; dx <= reach; dx++ {
					if at := image.Pt((x+dx)/times, (y+dy)/times); x+dx >= 0 && y+dy >= 0 && at.In(b) {
						sum, n = sum+int(img.GrayAt(at.X, at.Y).Y), n+1
					}
				}
			}
			out.Pix[y*out.Stride+x] = uint8(sum / n)
		}
	}
	return out
}

// TestAPreviewIsReadByNobody: a preview holds no symbol, so nothing reads from it; exit status 1 is "nothing found".
func TestAPreviewIsReadByNobody(t *testing.T) {
	dmtxread := program(t, "dmtxread", "dmtx-utils")
	d := drawer(t)
	for _, name := range []string{"piece-22x15", "pot-50x25", "place-50x25"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			l := layout(t, name)
			p, err := d.Draw(l, contentFor(t, l), labels.Options{DotsPerMM: 8, Preview: true})
			require.NoError(t, err)
			file := write(t, "preview.png", func(b *bytes.Buffer) error { return labels.WritePNG(b, p) })
			out, err := exec.CommandContext(t.Context(), dmtxread, "-N1", "-m2000", file).Output()
			var status *exec.ExitError
			require.ErrorAs(t, err, &status)
			require.Equal(t, 1, status.ExitCode())
			require.Empty(t, string(out))
		})
	}
}
