package daemon

// tellSteps calls tell each time that read, which waits, says that the clock was set, until read says something else.
func tellSteps(read func() (stepped bool), tell func()) {
	for read() {
		tell()
	}
}

// noter gives a channel that holds one notice at most, and what puts one there without waiting. Whoever takes a notice
// looks at the clock afterwards, so several steps are one.
func noter() (notices chan struct{}, note func()) {
	notices = make(chan struct{}, 1)
	return notices, func() {
		select {
		case notices <- struct{}{}:
		default:
		}
	}
}
