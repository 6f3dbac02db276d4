package tracker

// confirmedSide is the word in [PatientChecked] for a side confirmed with the patient.
const confirmedSide = "side"

// version notes what labels show from an amendment on. What was asked for before it is noted with the first that counts:
// most requests never change.
func (f *folding) version(e *Event, d *CaseAmended) {
	if len(f.c.Openings) == 0 || d.Patient == nil && d.Lesions == nil && d.Pots == nil {
		return
	}
	if d.Lesions != nil {
		f.c.LesionsAmended = e.When()
	}
	if f.c.Versions == nil {
		f.c.Versions = append(f.c.Versions, f.request)
	}
	next := f.request
	next.Mark = mark(e)
	set(&next.Patient, d.Patient)
	if d.Lesions != nil {
		next.Lesions = d.Lesions
	}
	if d.Pots != nil {
		next.Pots = d.Pots
	}
	f.request = next
	f.c.Versions = append(f.c.Versions, next)
}

// adequacy notes a judgement of on-site microscopy, once for each thing that the event names.
func (f *folding) adequacy(e *Event, d *AdequacyChecked, piece Name) {
	f.c.Adequacies = append(f.c.Adequacies, Adequacy{Mark: mark(e), Lesion: d.Lesion, Adequate: d.Adequate != nil && *d.Adequate, Piece: piece})
}
