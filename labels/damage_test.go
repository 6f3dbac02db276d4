package labels_test

import (
	"fmt"
	"image"
	"math/rand/v2"
	"slices"
	"sync/atomic"
	"testing"

	"github.com/makiuchi-d/gozxing"
	zxing "github.com/makiuchi-d/gozxing/datamatrix"
	"github.com/makiuchi-d/gozxing/datamatrix/decoder"
	"github.com/makiuchi-d/gozxing/datamatrix/encoder"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

// The symbol of a code: 16 × 16 modules, of them 14 × 14 between finder pattern and clock tracks, 24 codewords of eight
// modules, 12 of data and 12 of correction, so that 6 wrong ones can be put right. Source: ISO/IEC 16022:2006, table 7.
const (
	symbolSide   = 16
	allCodewords = 24
	correctable  = 6
)

// modules are the modules of one symbol, [row][column], dark is true, as the decoder takes them.
type modules [][]bool

func (m modules) clone() modules {
	out := make(modules, len(m))
	for y := range m {
		out[y] = slices.Clone(m[y])
	}
	return out
}

func (m modules) decode(d *decoder.Decoder) (string, error) {
	result, err := d.DecodeBoolMap(m)
	if err != nil {
		return "", err
	}
	return result.GetText(), nil
}

// modulesOf takes them from a drawn label.
func modulesOf(p *labels.Picture) modules {
	m := make(modules, p.Symbol.Modules)
	for y := range m {
		m[y] = make([]bool, p.Symbol.Modules)
		for x := range m[y] {
			m[y][x] = p.Symbol.Dark(x, y)
		}
	}
	return m
}

// codewordModules are the places of a codeword's eight modules, the highest bit first.
type codewordModules [8]image.Point

// placement says where the codewords of a symbol of so many modules a side lie, as gozxing's encoder places them: somebody
// else's reading of ISO/IEC 16022, annex F, and not the one of the decoder.
func placement(side int) []codewordModules {
	inside := side - 2
	at := make([]codewordModules, inside*inside/8)
	spare := inside*inside%8 != 0 // then no codeword reaches the lower right corner, whose modules are fixed
	for codeword := range at {
		for bit := range 8 {
			only := make([]byte, len(at))
			only[codeword] = 0x80 >> bit
			placed := encoder.NewDefaultPlacement(only, inside, inside)
			placed.Place()
			for y := range inside {
				for x := range inside {
					if placed.GetBit(x, y) && !(spare && x >= inside-2 && y >= inside-2) {
						at[codeword][bit] = image.Pt(x+1, y+1)
					}
				}
			}
		}
	}
	return at
}

func (m modules) codeword(at codewordModules) (value byte) {
	for _, p := range at {
		value <<= 1
		if m[p.Y][p.X] {
			value |= 1
		}
	}
	return value
}

// spoil turns round the modules of the bits that are set.
func (m modules) spoil(at codewordModules, bits byte) {
	for i, p := range at {
		if bits&(0x80>>i) != 0 {
			m[p.Y][p.X] = !m[p.Y][p.X]
		}
	}
}

// TestCodewordsLieWhereTheStandardPutsThem: on a drawn label, the modules of each codeword hold what a code encodes to, and
// the correction that gozxing's encoder works out for it. Digits pair up, 130 and the number; others are one more than
// their character; 129 ends the data (ISO/IEC 16022, ASCII encodation).
func TestCodewordsLieWhereTheStandardPutsThem(t *testing.T) {
	at := placement(symbolSide)
	used := map[image.Point]bool{}
	for c := range at {
		for _, p := range at[c] {
			require.False(t, used[p], "module %v belongs to two codewords", p)
			used[p] = true
		}
	}
	require.Len(t, used, 8*allCodewords)
	m := modulesOf(drawnLabel(t, "piece-22x15", 8))
	var got []byte
	for c := range at {
		got = append(got, m.codeword(at[c]))
	}
	// MBY2600417A031M: M B Y 26 00 41 7 A 03 1 M
	want := []byte{'M' + 1, 'B' + 1, 'Y' + 1, 130 + 26, 130, 130 + 41, '7' + 1, 'A' + 1, 130 + 3, '1' + 1, 'M' + 1, 129}
	require.Equal(t, want, got[:12])
	info, err := encoder.SymbolInfo_Lookup(12, encoder.SymbolShapeHint_FORCE_SQUARE, nil, nil, true)
	require.NoError(t, err)
	whole, err := encoder.ErrorCorrection_EncodeECC200(want, info)
	require.NoError(t, err)
	require.Equal(t, whole, got)
}

// wrongBits is which bits of a codeword are turned round: a fixed rule that takes all values but 0.
func wrongBits(number, codeword int) byte { return byte(1 + (number*131+codeword*17)%255) }

// TestAllSixCodewordLosses: every six of the 24 codewords, 134,596 in all, made wrong in the modules: each is read right.
// Decoded by gozxing from the modules, placement and all.
func TestAllSixCodewordLosses(t *testing.T) {
	at := placement(symbolSide)
	whole := modulesOf(drawnLabel(t, "pot-50x25", 8))
	want := contentFor(t, layout(t, "pot-50x25")).Code.String()
	var tried atomic.Int64
	t.Run("all", func(t *testing.T) {
		for first := range allCodewords - correctable + 1 {
			t.Run(fmt.Sprintf("from codeword %d", first+1), func(t *testing.T) {
				t.Parallel()
				d := decoder.NewDecoder()
				n := 0
				for lost := range choices(allCodewords, correctable, first) {
					m := whole.clone()
					for _, c := range lost {
						m.spoil(at[c], wrongBits(n, c))
					}
					n++
					got, err := m.decode(d)
					if err != nil || got != want {
						t.Fatalf("codewords %v lost: read %q, %v", lost, got, err)
					}
				}
				tried.Add(int64(n))
			})
		}
	})
	require.Equal(t, int64(134_596), tried.Load())
}

// choices gives each choice of k numbers under n that begins with the given one, in order.
func choices(n, k, first int) func(yield func([]int) bool) {
	return func(yield func([]int) bool) {
		chosen := make([]int, k)
		for i := range chosen {
			chosen[i] = first + i
		}
		for chosen[0] == first && chosen[k-1] < n {
			if !yield(chosen) {
				return
			}
			i := k - 1
			for i >= 0 && chosen[i] == n-k+i {
				i--
			}
			if i < 0 {
				return
			}
			chosen[i]++
			for j := i + 1; j < k; j++ {
				chosen[j] = chosen[j-1] + 1
			}
		}
	}
}

// outcome counts what came of damaged symbols.
type outcome struct{ right, unread, refused, wrong int }

// note says what came of one: read right, not read, read as something that [labels.Read] refuses, or taken for another.
func (o *outcome) note(want string, got string, err error) {
	switch {
	case err != nil:
		o.unread++
	case got == want:
		o.right++
	default:
		if scan, err := labels.Read(got); err != nil {
			o.refused++
		} else if scan.Item.String() != want {
			o.wrong++
		}
	}
}

func (o *outcome) all() int { return o.right + o.unread + o.refused + o.wrong }

func (o *outcome) String() string {
	return fmt.Sprintf("of %d: %.2f %% read right, %.2f %% not read, %d read as what is no code, %d taken for another code",
		o.all(), 100*float64(o.right)/float64(o.all()), 100*float64(o.unread)/float64(o.all()), o.refused, o.wrong)
}

// TestMoreLossesAreNeverTakenForAnotherCode: seven to twelve wrong codewords are more than can be put right, and the decoder
// says so. That it takes them for another word is rare, since words of 24 codewords are few among all: a word by chance is within
// six codewords of one in C(24,6) · 255^6 / 256^12, five of ten thousand million. The check character stands behind that.
func TestMoreLossesAreNeverTakenForAnotherCode(t *testing.T) {
	at := placement(symbolSide)
	whole := modulesOf(drawnLabel(t, "pot-50x25", 8))
	want := contentFor(t, layout(t, "pot-50x25")).Code.String()
	draw := rand.New(rand.NewPCG(16022, 24)) // the same losses each time
	d := decoder.NewDecoder()
	var total outcome
	for losses := correctable + 1; losses <= 2*correctable; losses++ {
		var o outcome
		for range (20_000 + correctable - 1) / correctable {
			m := whole.clone()
			for _, c := range draw.Perm(allCodewords)[:losses] {
				m.spoil(at[c], byte(1+draw.IntN(255)))
			}
			got, err := m.decode(d)
			o.note(want, got, err)
		}
		t.Logf("%d codewords lost: %s", losses, &o)
		require.Zero(t, o.wrong)
		require.Zero(t, o.right, "more than the correction can do is luck, and there is none in it")
		total.unread, total.refused = total.unread+o.unread, total.refused+o.refused
	}
	t.Logf("all: %s", &total)
	require.GreaterOrEqual(t, total.all(), 20_000)
}

// TestStainsOnTheSymbol: a white or black square of k × k modules at each place on the symbol, finder pattern and all, on
// codes drawn by a fixed seed. None is ever taken for another code. To compare: 200 tries a cell on the data area of other
// codes read right 100 % at 4 × 4, 94 to 97 % at 5 × 5, 26 to 28 % at 6 × 6 (measured before with the same decoder).
func TestStainsOnTheSymbol(t *testing.T) {
	const codes = 30
	d := drawer(t)
	l := layout(t, "pot-50x25")
	draw := rand.New(rand.NewPCG(16, 16))
	var symbols []modules
	var texts []string
	for range codes {
		c := contentFor(t, l)
		c.Code = randomPot(t, draw)
		p, err := d.Draw(l, c, labels.Options{DotsPerMM: 8})
		require.NoError(t, err)
		symbols, texts = append(symbols, modulesOf(p)), append(texts, c.Code.String())
	}
	least := map[int]float64{3: 1, 4: 0.999, 5: 0.9, 6: 0.3} // of what is read right; below measured figures
	for k := 3; k <= 6; k++ {
		t.Run(fmt.Sprintf("%d x %d", k, k), func(t *testing.T) {
			t.Parallel()
			reader := decoder.NewDecoder()
			for _, dark := range []bool{false, true} {
				var o outcome
				for i, whole := range symbols {
					for y := range symbolSide - k + 1 {
						for x := range symbolSide - k + 1 {
							m := whole.clone()
							for dy := range k {
								for dx := range k {
									m[y+dy][x+dx] = dark
								}
							}
							got, err := m.decode(reader)
							o.note(texts[i], got, err)
						}
					}
				}
				t.Logf("%s square of %d × %d modules: %s", map[bool]string{false: "white", true: "black"}[dark], k, k, &o)
				require.Zero(t, o.wrong)
				require.GreaterOrEqual(t, float64(o.right)/float64(o.all()), least[k])
			}
		})
	}
}

func randomPot(t testing.TB, draw *rand.Rand) tracker.Code {
	t.Helper()
	clinic := string([]byte{byte('A' + draw.IntN(26)), byte('A' + draw.IntN(26)), byte('A' + draw.IntN(26))})
	name, err := tracker.CaseName(clinic, draw.IntN(100), 1+draw.IntN(tracker.MaxSerial))
	require.NoError(t, err)
	name, err = name.WithPot(string("ABCDEFGHJKLMNPQRSTUVWXY"[draw.IntN(23)]))
	require.NoError(t, err)
	return code(t, name, '1')
}

// TestDamageInThePicture: the same losses in a picture with its dots, found and read as a scanner's software would: gozxing's
// reader for clean pictures on a sample of the six-codeword losses.
func TestDamageInThePicture(t *testing.T) {
	at := placement(symbolSide)
	p := drawnLabel(t, "pot-50x25", 8)
	whole := modulesOf(p)
	want := contentFor(t, layout(t, "pot-50x25")).Code.String()
	draw := rand.New(rand.NewPCG(6, 24))
	reader := zxing.NewDataMatrixReader()
	for n := range 3000 {
		m := whole.clone()
		lost := draw.Perm(allCodewords)[:correctable]
		for _, c := range lost {
			m.spoil(at[c], wrongBits(n, c))
		}
		bitmap, err := gozxing.NewBinaryBitmapFromImage(m.picture(2))
		require.NoError(t, err)
		result, err := reader.Decode(bitmap, map[gozxing.DecodeHintType]interface{}{gozxing.DecodeHintType_PURE_BARCODE: true})
		slices.Sort(lost)
		require.NoErrorf(t, err, "codewords %v", lost)
		require.Equalf(t, want, result.GetText(), "codewords %v", lost)
	}
}

// picture draws modules with two modules of white around, so many dots a module.
func (m modules) picture(dots int) image.Image {
	side := (symbolSide + 2*labels.QuietModules) * dots
	img := image.NewGray(image.Rect(0, 0, side, side))
	for i := range img.Pix {
		img.Pix[i] = 0xff
	}
	for y := range symbolSide * dots {
		for x := range symbolSide * dots {
			if m[y/dots][x/dots] {
				img.Pix[(y+labels.QuietModules*dots)*img.Stride+x+labels.QuietModules*dots] = 0
			}
		}
	}
	return img
}
