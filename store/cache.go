package store

import (
	"container/list"

	"github.com/pottrail/pottrail/tracker"
)

// thing is a case or bag in memory, as the last prepared batch left it. A batch that changes one changes a copy.
type thing struct {
	name   tracker.Name
	events []*tracker.Event // that concern it, in ledger order
	loaded bool             // events are there
	state  *judged          // nil when nothing was judged of it yet
	known  bool             // state is there
}

// things keeps the cases and bags that were used last. Whoever prepares a batch owns it.
type things struct {
	limit int
	by    map[tracker.Name]*list.Element
	order *list.List // of *thing, last used first
}

func newThings(limit int) *things {
	return &things{limit: limit, by: map[tracker.Name]*list.Element{}, order: list.New()}
}

func (c *things) get(n tracker.Name) *thing {
	el, ok := c.by[n]
	if !ok {
		return nil
	}
	c.order.MoveToFront(el)
	return el.Value.(*thing)
}

func (c *things) put(t *thing) {
	if el, ok := c.by[t.name]; ok {
		el.Value = t
		c.order.MoveToFront(el)
		return
	}
	c.by[t.name] = c.order.PushFront(t)
	for len(c.by) > c.limit {
		last := c.order.Back()
		delete(c.by, last.Value.(*thing).name)
		c.order.Remove(last)
	}
}

func (c *things) purge() {
	clear(c.by)
	c.order.Init()
}
