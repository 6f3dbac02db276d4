package store

// LastFlagChange is the position of the newest row of the log of flags, 0 when there is none.
func (l *Ledger) LastFlagChange() uint64 { return l.current().flagSeq }

// LastOSeq is the highest position in this node's own log, 0 when it is empty.
func (l *Ledger) LastOSeq() uint64 { return l.current().oseq }
