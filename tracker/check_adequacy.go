package tracker

// adequacy judges the pieces while the patient is still there: how many, how they look, where they are from, and whether
// there is enough medium.
func (k *checking) adequacy() {}
