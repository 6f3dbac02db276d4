package wire_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/labels/wire"
	"github.com/pottrail/pottrail/labels/wire/wiretest"
)

// drawnPicture is any picture of 1 to 600 dots across: blank, solid, dotted, or with equal lines, and with noise in the bits
// beyond the last dot.
func drawnPicture(r *rapid.T) *labels.Picture {
	p := picture(rapid.IntRange(1, 600).Draw(r, "width"), rapid.IntRange(1, 40).Draw(r, "height"))
	p.DotsPerMM = rapid.SampledFrom([]int{8, 11, 12, 24, 48}).Draw(r, "dots/mm")
	p.WidthMM, p.HeightMM = float64(p.Width)/float64(p.DotsPerMM), float64(p.Height)/float64(p.DotsPerMM)
	switch rapid.IntRange(0, 3).Draw(r, "kind") {
	case 0:
		fill := rapid.Byte().Draw(r, "fill")
		for i := range p.Bits {
			p.Bits[i] = fill
		}
	case 1:
		copy(p.Bits, rapid.SliceOfN(rapid.Byte(), len(p.Bits), len(p.Bits)).Draw(r, "bits"))
	case 2: // runs of equal bytes
		for i := 0; i < len(p.Bits); {
			b := rapid.Byte().Draw(r, "byte")
			for n := rapid.IntRange(1, 200).Draw(r, "times"); n > 0 && i < len(p.Bits); n-- {
				p.Bits[i] = b
				i++
			}
		}
	case 3: // equal lines
		line := rapid.SliceOfN(rapid.Byte(), p.Stride, p.Stride).Draw(r, "line")
		for y := range p.Height {
			if rapid.IntRange(0, 9).Draw(r, "change") == 0 {
				line = rapid.SliceOfN(rapid.Byte(), p.Stride, p.Stride).Draw(r, "line")
			}
			copy(p.Bits[y*p.Stride:], line)
		}
	}
	return p
}

// TestEveryDotComesOut: for any picture, what a strict reader of the language makes of the job is that picture, dot for
// dot, once.
func TestEveryDotComesOut(t *testing.T) {
	for _, l := range wire.Languages() {
		t.Run(string(l), func(t *testing.T) {
			rapid.Check(t, func(r *rapid.T) {
				p := drawnPicture(r)
				s := wire.Setup{GapMM: rapid.SampledFrom([]float64{0, 2, 3.25}).Draw(r, "gap"), Created: created}
				if l == wire.ZPL || l == wire.EPL || l == wire.TSPL {
					s.LeftDots, s.TopDots = rapid.IntRange(0, 100).Draw(r, "left"), rapid.IntRange(0, 100).Draw(r, "top")
				}
				body, err := wire.Encode(l, p, s)
				require.NoError(r, err)
				job, err := wiretest.Read(l, body)
				require.NoError(r, err)
				require.NoError(r, job.Same(p))
				require.Equal(r, []int{s.LeftDots, s.TopDots}, []int{job.Left, job.Top})
			})
		})
	}
}

// TestEveryWidthComesOut: every width from 1 to 600 dots, so each number of padding bits, with the last dot black and white.
func TestEveryWidthComesOut(t *testing.T) {
	for _, l := range wire.Languages() {
		t.Run(string(l), func(t *testing.T) {
			for width := 1; width <= 600; width++ {
				p := picture(width, 3)
				p.Bits[(width-1)/8] |= 0x80 >> ((width - 1) % 8)
				for x := range width {
					if x%3 == 0 {
						p.Bits[2*p.Stride+x/8] |= 0x80 >> (x % 8)
					}
				}
				body, err := wire.Encode(l, p, wire.Setup{})
				require.NoError(t, err)
				job, err := wiretest.Read(l, body)
				require.NoError(t, err, "%d dots", width)
				require.NoError(t, job.Same(p), "%d dots", width)
			}
		})
	}
}

// TestEveryLabelComesOut: every predefined layout and calibration labels, at each resolution, in each language; a large
// one goes in strips.
func TestEveryLabelComesOut(t *testing.T) {
	d := drawer(t)
	for _, dots := range []int{8, 12, 24} {
		var all []*labels.Picture
		for _, l := range labels.Layouts() {
			p, err := d.Draw(l, contentFor(t, l), labels.Options{DotsPerMM: dots})
			require.NoError(t, err)
			all = append(all, p)
		}
		for _, size := range [][2]float64{{22, 15}, {50.8, 25.4}, {100, 150}} {
			if size[1] > 100 && dots != 12 {
				continue // once is enough of the large one
			}
			p, err := d.Calibration(size[0], size[1], labels.Options{DotsPerMM: dots})
			require.NoError(t, err)
			all = append(all, p)
		}
		for _, p := range all {
			for _, l := range wire.Languages() {
				if dots == 24 && (l == wire.PNG || l == wire.PDF) {
					continue // slow, and nothing else than at 12
				}
				t.Run(fmt.Sprintf("%s at %d in %s", p.Layout, dots, l), func(t *testing.T) {
					body, err := wire.Encode(l, p, wire.Setup{GapMM: 3, Created: created})
					require.NoError(t, err)
					job, err := wiretest.Read(l, body)
					require.NoError(t, err)
					require.NoError(t, job.Same(p))
				})
			}
		}
	}
}

// FuzzReaders: the readers that these tests stand on refuse any other bytes with a sentence, and ask for no more memory than
// a picture needs.
func FuzzReaders(f *testing.F) {
	for i, l := range wire.Languages() {
		body, err := wire.Encode(l, small(), wire.Setup{Created: created})
		require.NoError(f, err)
		f.Add(i, body)
	}
	f.Fuzz(func(t *testing.T, i int, body []byte) {
		all := wire.Languages()
		l := all[((i%len(all))+len(all))%len(all)]
		job, err := wiretest.Read(l, body)
		if err != nil {
			require.Nil(t, job)
			return
		}
		require.Positive(t, job.Width)
		require.Positive(t, job.Height)
		require.Equal(t, (job.Width+7)/8*job.Height, len(job.Bits))
	})
}
