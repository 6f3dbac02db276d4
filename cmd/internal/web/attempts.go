package web

import (
	"net/netip"
	"sync"
	"time"
)

// Limits of trying to sign in, beside those that the store keeps for each badge: these cost a stranger time before anything
// is looked up or hashed. A person who mistypes meets none of them. Common practice, no source.
const (
	triesAtOnce = 10              // without waiting
	tryEvery    = 6 * time.Second // after that
	mostTriers  = 1024            // stations and addresses that are told apart; all others share one limit
)

// attempts bounds how often somebody may try. A try that succeeds is given back, so that many people at one screen are not
// slowed down by each other.
type attempts struct {
	mu sync.Mutex
	// paid is, for each who tried, when all tries so far are worked off; whose time has come is forgotten.
	paid   map[string]time.Time
	tidied time.Time // when whose time had come was last forgotten
}

func newAttempts() *attempts { return &attempts{paid: map[string]time.Time{}} }

// others is who is not told apart any more.
const others = "others"

// try takes one try of somebody, or says how long to wait for the next.
func (a *attempts) try(who string) (wait time.Duration) {
	now := time.Now()
	a.mu.Lock()
	defer a.mu.Unlock()
	who = a.roomLocked(who, now)
	paid := a.paid[who]
	if paid.Before(now) {
		paid = now
	}
	if wait := paid.Add(tryEvery).Sub(now) - triesAtOnce*tryEvery; wait > 0 {
		return wait
	}
	a.paid[who] = paid.Add(tryEvery)
	return 0
}

// giveBack returns a try that succeeded.
func (a *attempts) giveBack(who string) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if _, ok := a.paid[who]; !ok {
		who = others
	}
	if paid, ok := a.paid[who]; ok {
		a.paid[who] = paid.Add(-tryEvery)
	}
}

// roomLocked is under which name somebody is counted.
func (a *attempts) roomLocked(who string, now time.Time) string {
	if _, ok := a.paid[who]; ok || len(a.paid) < mostTriers {
		return who
	}
	if now.Sub(a.tidied) < time.Second { // a flood does not make each try a search
		return others
	}
	a.tidied = now
	for other, paid := range a.paid {
		if !paid.After(now) {
			delete(a.paid, other)
		}
	}
	if len(a.paid) < mostTriers {
		return who
	}
	return others
}

// from is whom a remote address is counted as: an IPv6 network of 64 bits is one machine, since each has all of it. What a
// proxy says of others is not believed.
func from(remote string) string {
	at, err := netip.ParseAddrPort(remote)
	if err != nil {
		return others
	}
	a := at.Addr().Unmap().WithZone("")
	if a.Is4() {
		return "address " + a.String()
	}
	p, err := a.Prefix(64)
	if err != nil {
		return others
	}
	return "address " + p.String()
}
