package store

// LastFlagChange is the position of the newest row of the log of flags, 0 when there is none.
func (l *Ledger) LastFlagChange() uint64 { return l.current().flagSeq }
