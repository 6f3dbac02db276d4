package daemon

import "github.com/prometheus/client_golang/prometheus"

// signedCollector says how far the record is covered by the last checkpoint when somebody asks.
type signedCollector struct{ n *notary }

var (
	descUnsigned = prometheus.NewDesc("pottrail_unsigned_entries", "Events of this node that no checkpoint covers yet.", nil, nil)
	descSigned   = prometheus.NewDesc("pottrail_checkpoint_seconds", "When the last checkpoint of this node was made, in seconds since 1970; absent when there is none.", nil, nil)
)

// Describe lists what is collected.
func (c signedCollector) Describe(out chan<- *prometheus.Desc) {
	out <- descUnsigned
	out <- descSigned
}

// Collect reads the figures.
func (c signedCollector) Collect(out chan<- prometheus.Metric) {
	size, err := c.n.ledger.Size(c.n.ledger.Origin())
	if err != nil {
		return // the ledger is closing
	}
	last, made := c.n.latest()[c.n.ledger.Origin()]
	out <- prometheus.MustNewConstMetric(descUnsigned, prometheus.GaugeValue, float64(size-min(size, last.Size)))
	if made {
		out <- prometheus.MustNewConstMetric(descSigned, prometheus.GaugeValue, float64(last.At.Unix()))
	}
}
