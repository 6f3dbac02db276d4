// Package labels puts codes on paper: it lays a label out in millimetres and draws it once into a one-bit picture at
// the printer's own resolution. Every output carries that same picture.
//
// A [Drawer] draws a [Content] by a [Layout] into a [Picture]; there is a [Form] for each sort of label, in any size
// ([ParseLayout]). [Drawer.Calibration] draws a picture by which a printer is set up.
// [WritePNG], [WritePDF] and [WriteSheet] write pictures out; [Read] is the way back, from scanner text to what was scanned.
//
// # Laws
//
//   - The symbol is a Data Matrix (ISO/IEC 16022, ECC 200) that holds the code and nothing else. Each module is the
//     same whole number of dots, at least [MinModuleMM] wide, with [QuietModules] modules of white on every side.
//   - Modules have the largest whole number of dots that fits; on wide request labels the same code stands as bars too
//     (Code 128, ISO/IEC 15417), with [QuietBars] modules of white at either end.
//   - Name, second identifier and code have capitals of [MinRequiredMM] at least, all other words of [SmallestMM].
//     Nothing required is cut at the label's edge or left out, and a label that cannot hold what it must is a
//     [FitError], with nothing drawn by halves. Left out for want of room are only the studies, a slide's organ, and on a
//     pot the national number where the record number stands.
//   - A long name is shortened by one rule. On one line: given names become initials, then one initial, then the family
//     name is cut and ends in "…", never under eight characters. On two lines: given names become initials; the family
//     name is broken over both lines at its own space or hyphen, then after any letter with a hyphen, then cut as above.
//     Type is made smaller before a name is shortened. No rule touches birth date or numbers.
//   - A pot's label has what CLSI AUTO12-A and the Joint Commission ask for: name top left, birth date, a number, organ,
//     side and position in words, medium, when it was printed with a blank for the time taken, the collector, the code.
//     Slides and small containers are exempt from number, times and collector (CLSI AUTO12-A): a piece's label has name,
//     birth date, side and code. Bags, places, badges and downtime rolls carry no patient.
//   - A side is a word: what may be an abbreviation is a [ContentError].
//   - A character that cannot be drawn rightly is a [CharacterError] before anything is drawn; there is no empty box in
//     its place.
//   - The same layout, content and options give the same dots.
//
// It reads no file, clock, environment or network: fonts are compiled in, and times are passed in. It never talks to a
// printer, and no text ever leaves it as a printer's command.
package labels
