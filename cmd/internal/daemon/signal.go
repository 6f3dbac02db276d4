package daemon

import "sync"

// signal tells any number of waiting goroutines that something has changed.
type signal struct {
	mu sync.Mutex
	ch chan struct{}
}

// wait gives a channel that is closed at the next change. Take it before looking, so that no change in between is missed.
func (s *signal) wait() <-chan struct{} {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.ch == nil {
		s.ch = make(chan struct{})
	}
	return s.ch
}

// tell says that something has changed.
func (s *signal) tell() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.ch != nil {
		close(s.ch)
		s.ch = nil
	}
}
