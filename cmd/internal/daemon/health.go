package daemon

import (
	"sync/atomic"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/store"
)

// health knows whether the daemon does what it is for; see [web.Health].
type health struct {
	ledger  *store.Ledger
	link    *link
	serving atomic.Bool // pages and socket
	history atomic.Bool // in the demo; at once otherwise
	broken  atomic.Bool
	damage  *damage
	// certificate says what is wrong with the one that pages are served under; nil where there is none.
	certificate func() error
}

func unwell(text string) error {
	return &ask.Error{Kind: ask.Unavailable, Code: "not-well", Text: text}
}

// Healthy is nil when the socket and the pages serve and, in the demo, the history is in.
func (h *health) Healthy() error {
	switch {
	case h.broken.Load():
		return unwell("the daemon is stopping after an error; its log says more")
	case h.damage.found():
		return unwell("the ledger is damaged and can only be read: " + h.damage.what())
	case !h.serving.Load():
		return unwell("the daemon is starting or stopping")
	case !h.history.Load():
		return unwell("the demo's history is not in yet")
	}
	return nil
}

// Ready is nil when events can be recorded and go out.
func (h *health) Ready() error {
	if err := h.Healthy(); err != nil {
		return err
	}
	if err := h.link.err(); err != nil {
		return unwell("events are recorded and do not go out over NATS: " + err.Error())
	}
	if h.certificate != nil {
		if err := h.certificate(); err != nil {
			return unwell(err.Error())
		}
	}
	return nil
}
