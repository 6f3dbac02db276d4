// Package labels puts codes on paper: it lays a label out in millimetres and draws it once into a one-bit picture at
// the printer's own resolution. Every output carries that same picture.
//
// A [Drawer] draws a [Content] by a [Layout] into a [Picture]; [Drawer.Calibration] draws one by which a printer is set up.
// [WritePNG], [WritePDF] and [WriteSheet] write pictures out; [Read] is the way back, from scanner text to what was scanned.
//
// # Laws
//
//   - The symbol is a Data Matrix (ISO/IEC 16022, ECC 200) that holds the code and nothing else. Each module is the
//     same whole number of dots, at least [MinModuleMM] wide, with [QuietModules] modules of white on every side.
//   - Name, second identifier and code have capitals of [MinRequiredMM] at least, all other words of [SmallestMM].
//     Nothing required is cut at the label's edge or left out: a long name is shortened by a stated rule, and a label
//     that still cannot hold what it must is a [FitError], with nothing drawn by halves. Left out for want of room are
//     only the studies, a slide's organ, and on a pot the national number where the record number stands.
//   - A character that cannot be drawn rightly is a [CharacterError] before anything is drawn; there is no empty box in
//     its place.
//   - The same layout, content and options give the same dots.
//
// It reads no file, clock, environment or network: fonts are compiled in, and times are passed in. It never talks to a
// printer, and no text ever leaves it as a printer's command.
package labels
