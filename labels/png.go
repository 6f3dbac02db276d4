package labels

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"io"
)

// paper is the palette of written pictures: bit 0 is white, as on the label.
func paper() color.Palette { return color.Palette{color.Gray{Y: 255}, color.Gray{}} }

// paletted is the picture's dots in the form that image/png writes with one bit each.
func (p *Picture) paletted() *image.Paletted {
	img := image.NewPaletted(p.Bounds(), paper())
	for y := range p.Height {
		row := p.Bits[y*p.Stride : (y+1)*p.Stride]
		for x := range p.Width {
			img.Pix[y*img.Stride+x] = row[x/8] >> (7 - x%8) & 1
		}
	}
	return img
}

// WritePNG writes the picture with one bit a dot and its resolution (pHYs), so that it prints at its true size. The
// same picture gives the same bytes.
func WritePNG(w io.Writer, p *Picture) error {
	encoded, err := encodePNG(p.paletted(), p.DotsPerMM)
	if err != nil {
		return err
	}
	if _, err := w.Write(encoded); err != nil {
		return fmt.Errorf("write PNG of a label: %w", err)
	}
	return nil
}

// headerEnd is where the first chunk of a PNG ends: eight bytes of signature, then IHDR with 13 bytes of data in 12 of
// frame (PNG, third edition, sections 5.2 and 11.2.1).
const headerEnd = 8 + 12 + 13

func encodePNG(img *image.Paletted, dotsPerMM int) ([]byte, error) {
	var b bytes.Buffer
	encoder := png.Encoder{CompressionLevel: png.DefaultCompression}
	if err := encoder.Encode(&b, img); err != nil {
		return nil, fmt.Errorf("encode PNG of a label: %w", err)
	}
	// pHYs, PNG section 11.3.4.3: dots per metre across and down, unit 1 is the metre. It stands before the first IDAT.
	const perMetre = 1000
	chunk := binary.BigEndian.AppendUint32(nil, 9)
	chunk = append(chunk, "pHYs"...)
	chunk = binary.BigEndian.AppendUint32(chunk, uint32(dotsPerMM*perMetre))
	chunk = binary.BigEndian.AppendUint32(chunk, uint32(dotsPerMM*perMetre))
	chunk = append(chunk, 1)
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))

	out := make([]byte, 0, b.Len()+len(chunk))
	out = append(out, b.Bytes()[:headerEnd]...)
	out = append(out, chunk...)
	return append(out, b.Bytes()[headerEnd:]...), nil
}
