package daemon

import (
	"github.com/prometheus/client_golang/prometheus"

	"github.com/pottrail/pottrail/store/prints"
)

// printCollector counts what is not done in the print queue when somebody asks. A printer's name is of the configuration.
type printCollector struct{ p *printing }

var descPrints = prometheus.NewDesc("pottrail_print_jobs", "Labels in the print queue that are not done, by printer and state.", []string{"printer", "state"}, nil)

// Describe lists what is collected.
func (c printCollector) Describe(out chan<- *prometheus.Desc) { out <- descPrints }

// Collect reads the figures.
func (c printCollector) Collect(out chan<- prometheus.Metric) {
	for _, printer := range c.p.printers {
		tally, err := c.p.queue.Tally(printer.Name)
		if err != nil {
			return // the queue is closing
		}
		gauge := func(state prints.State, n int) {
			out <- prometheus.MustNewConstMetric(descPrints, prometheus.GaugeValue, float64(n), printer.Name, string(state))
		}
		gauge(prints.Queued, tally.Waiting)
		gauge(prints.Unknown, tally.Unknown)
	}
}
