package daemon

import "github.com/prometheus/client_golang/prometheus"

// backupCollector reads the figures of nightly backups when somebody asks.
type backupCollector struct{ nightly *nightly }

var (
	descBackupGood  = prometheus.NewDesc("pottrail_backup_last_success_seconds", "When the last good nightly backup was begun, in seconds since 1970; 0 when there is none.", nil, nil)
	descBackupFails = prometheus.NewDesc("pottrail_backup_failures_total", "Nightly backups that failed since the start.", nil, nil)
)

// Describe lists what is collected.
func (backupCollector) Describe(out chan<- *prometheus.Desc) {
	out <- descBackupGood
	out <- descBackupFails
}

// Collect reads the figures.
func (c backupCollector) Collect(out chan<- prometheus.Metric) {
	good, fails := c.nightly.figures()
	seconds := 0.0
	if !good.IsZero() {
		seconds = float64(good.Unix())
	}
	out <- prometheus.MustNewConstMetric(descBackupGood, prometheus.GaugeValue, seconds)
	out <- prometheus.MustNewConstMetric(descBackupFails, prometheus.CounterValue, float64(fails))
}
