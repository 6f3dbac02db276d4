package daemon

import (
	"net/http"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker"
)

// metrics counts what happens. No label holds a name, a code or a patient's ref: kinds, codes of refusals and severities
// only, each from a closed list.
type metrics struct {
	registry *prometheus.Registry
	recorded *prometheus.CounterVec // by kind
	raised   *prometheus.CounterVec // by kind of flag
	refusals *prometheus.CounterVec // by code
	wakes    prometheus.Counter
}

func newMetrics(ledger *store.Ledger, lag func() float64) *metrics {
	m := &metrics{
		registry: prometheus.NewRegistry(),
		recorded: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "pottrail_events_recorded_total", Help: "Events answered as recorded, repeats too, by kind."}, []string{"kind"}),
		raised:   prometheus.NewCounterVec(prometheus.CounterOpts{Name: "pottrail_flags_raised_total", Help: "Flags that events raised, by kind."}, []string{"kind"}),
		refusals: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "pottrail_events_refused_total", Help: "Events refused, by code."}, []string{"code"}),
		wakes:    prometheus.NewCounter(prometheus.CounterOpts{Name: "pottrail_wakes_total", Help: "Times that the timer woke because something was due."}),
	}
	m.registry.MustRegister(m.recorded, m.raised, m.refusals, m.wakes, collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}), &ledgerCollector{ledger: ledger, lag: lag})
	return m
}

func (m *metrics) handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{MaxRequestsInFlight: 4})
}

func (m *metrics) verdict(kind tracker.Kind, v events.Verdict) {
	if !v.OK {
		m.refusal(v.Error.Code)
		return
	}
	m.recorded.WithLabelValues(string(kind)).Inc()
	for _, f := range v.Raised {
		m.raised.WithLabelValues(string(f.Kind)).Inc()
	}
}

func (m *metrics) refusal(code events.Code) { m.refusals.WithLabelValues(string(code)).Inc() }

// ledgerCollector reads the ledger's own figures when somebody asks.
type ledgerCollector struct {
	ledger *store.Ledger
	lag    func() float64
}

var (
	descEntries = prometheus.NewDesc("pottrail_ledger_entries", "Events in the ledger.", nil, nil)
	descCommits = prometheus.NewDesc("pottrail_ledger_commits_total", "Batches on disk since the start.", nil, nil)
	descSyncing = prometheus.NewDesc("pottrail_ledger_commit_seconds_total", "Time spent in commits since the start.", nil, nil)
	descJudged  = prometheus.NewDesc("pottrail_judgements_total", "Cases and bags judged since the start.", nil, nil)
	descBytes   = prometheus.NewDesc("pottrail_ledger_bytes", "Size of the ledger's file.", nil, nil)
	descRead    = prometheus.NewDesc("pottrail_ledger_longest_read_seconds", "The longest that one reading of the ledger has held its pages since the start; a backup counts too.", nil, nil)
	descFree    = prometheus.NewDesc("pottrail_disk_free_bytes", "Free where the ledger lies.", nil, nil)
	descNoSpace = prometheus.NewDesc("pottrail_no_space_total", "Batches turned away for want of space since the start.", nil, nil)
	descLag     = prometheus.NewDesc("pottrail_publisher_lag_events", "Events recorded here and not yet on the stream.", nil, nil)
	descFlags   = prometheus.NewDesc("pottrail_flags_open", "Open flags by kind and severity.", []string{"kind", "severity"}, nil)
)

// Describe lists what is collected.
func (c *ledgerCollector) Describe(out chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{descEntries, descCommits, descSyncing, descJudged, descBytes, descRead, descFree, descNoSpace, descLag, descFlags} {
		out <- d
	}
}

// Collect reads the figures.
func (c *ledgerCollector) Collect(out chan<- prometheus.Metric) {
	s := c.ledger.Stats()
	gauge := func(d *prometheus.Desc, v float64) { out <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v) }
	counter := func(d *prometheus.Desc, v float64) {
		out <- prometheus.MustNewConstMetric(d, prometheus.CounterValue, v)
	}
	gauge(descEntries, float64(s.Entries))
	counter(descCommits, float64(s.Commits))
	counter(descSyncing, s.Syncing.Seconds())
	counter(descJudged, float64(s.Judged))
	gauge(descBytes, float64(s.FileBytes))
	gauge(descRead, s.LongestRead.Seconds())
	if s.DiskFree >= 0 {
		gauge(descFree, float64(s.DiskFree))
	}
	counter(descNoSpace, float64(s.NoSpace))
	gauge(descLag, c.lag())
	flags, err := c.ledger.OpenFlags()
	if err != nil {
		return // the ledger is closing
	}
	type sort struct {
		kind     tracker.FlagKind
		severity tracker.Severity
	}
	counts := map[sort]int{}
	for _, f := range flags {
		counts[sort{f.Kind, f.Severity}]++
	}
	for k, n := range counts {
		out <- prometheus.MustNewConstMetric(descFlags, prometheus.GaugeValue, float64(n), string(k.kind), string(k.severity))
	}
}
