package demo

import (
	"math/rand/v2"
	"time"
)

// chance is a stream of random numbers from a seed. Each case has streams of its own, so that a change in one leaves the
// others alone.
type chance struct{ *rand.Rand }

func newChance(seed uint64, stream ...uint64) chance {
	mixed := uint64(0x9e3779b97f4a7c15) // any odd number will do: it only keeps streams apart
	for _, s := range stream {
		mixed = (mixed ^ s) * 0xbf58476d1ce4e5b9
		mixed ^= mixed >> 29
	}
	return chance{rand.New(rand.NewPCG(seed, mixed))}
}

// between is a span of whole seconds, bounds included.
func (c chance) between(least, most time.Duration) time.Duration {
	return least + time.Duration(c.Int64N(int64((most-least)/time.Second)+1))*time.Second
}

// percent is true so many times in a hundred.
func (c chance) percent(p int) bool { return c.IntN(100) < p }

// number is a whole number, bounds included.
func (c chance) number(least, most int) int { return least + c.IntN(most-least+1) }

// oneOf picks one.
func oneOf[T any](c chance, from ...T) T { return from[c.IntN(len(from))] }
