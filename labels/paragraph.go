package labels

import (
	"image"
	"math"
	"strings"
)

// fitParagraph sets words over as many lines as give the largest type, no more than the slot's rows: lines break between
// words only but where the slot may break anywhere, and stand one below another at the top of the box.
func (t *setter) fitParagraph(s slot) error {
	words, joint := strings.Fields(s.paragraph), " "
	if s.anywhere {
		words, joint = parts(s.paragraph), ""
	}
	if err := t.drawable(slot{name: s.name, lines: one([]span{{text: s.paragraph, face: s.face}})}); err != nil {
		return err
	}
	r := t.dots(s.box)
	least := t.least(s.least)
	for cap := max(least, t.round(s.cap)); cap >= least; cap-- {
		pitch := int(math.Ceil((1 + accentRoom + descenderRoom) * float64(cap)))
		most := min(s.rows, r.Dy()/pitch)
		rows := t.broken(words, joint, setting{s.face, cap}, r.Dx(), most)
		if rows == nil {
			continue
		}
		rows = t.balanced(words, joint, setting{s.face, cap}, r.Dx(), rows)
		lines, spans := len(t.lines), len(t.spans)
		top := r.Min.Y
		if s.low {
			top = r.Max.Y - len(rows)*pitch
		}
		whole := true
		for i, text := range rows {
			row := image.Rect(r.Min.X, top+i*pitch, r.Max.X, top+(i+1)*pitch)
			_, ok := t.try(slot{name: s.name, align: s.align}, []span{{text: text, face: s.face}}, row, cap)
			whole = whole && ok
		}
		if whole {
			return nil
		}
		t.lines, t.spans = t.lines[:lines], t.spans[:spans]
	}
	return t.unfit(s)
}

// balanced breaks words into as many lines as they have been, as equally long as can be: no last word stands alone.
func (t *setter) balanced(words []string, joint string, st setting, width int, rows []string) []string {
	narrowest := 0
	for len(rows) > 1 && narrowest+1 < width {
		middle := (narrowest + width) / 2
		if tighter := t.broken(words, joint, st, middle, len(rows)); tighter != nil {
			rows, width = tighter, middle
		} else {
			narrowest = middle
		}
	}
	return rows
}

// broken breaks words into lines no wider than so many dots, or gives nil if that takes more than the most lines.
func (t *setter) broken(words []string, joint string, st setting, width, most int) []string {
	var rows []string
	set := t.fonts.set(st)
	for len(words) > 0 {
		if len(rows) == most {
			return nil
		}
		n := 0
		for n < len(words) {
			if ink, _ := set.measure(strings.Join(words[:n+1], joint)); ink.Dx() > width {
				break
			}
			n++
		}
		if n == 0 && joint == "" && len(words[0]) > 1 { // a part of a key breaks after any character
			words = append(strings.Split(words[0], ""), words[1:]...)
			continue
		}
		if n == 0 {
			return nil // one word is too wide
		}
		rows = append(rows, strings.Join(words[:n], joint))
		words = words[n:]
	}
	return rows
}

// parts are a key's parts, each with the dot, hyphen or underscore after it.
func parts(key string) []string {
	var out []string
	for key != "" {
		n := strings.IndexAny(key, ".-_") + 1
		if n == 0 {
			n = len(key)
		}
		out, key = append(out, key[:n]), key[n:]
	}
	return out
}
