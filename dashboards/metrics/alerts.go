package metrics

import (
	"context"

	"github.com/prometheus/client_golang/prometheus"

	"bridlewatch/compare/alert"
	"bridlewatch/dashboards/plant"
)

// OfAlerts collects how many alerts stand and how the ways out are. It gives
// nothing where alerts are only read.
func OfAlerts(a plant.Alerts) prometheus.Collector {
	desk, ok := a.(plant.Desk)
	if !ok {
		return nothing{}
	}
	return &alerts{desk}
}

type alerts struct{ desk plant.Desk }

var (
	alertsOpen     = desc("alerts", "Alerts that are open and not kept quiet.", "state")
	alertsQuiet    = desc("alerts_quiet", "Alerts that are kept quiet.", "by")
	messagesSent   = desc("notifications_sent_total", "Messages a route delivered since the service started.", "route")
	messagesFailed = desc("notifications_failed_total", "Tries of a route that failed since the service started.", "route")
	messagesWait   = desc("notifications_waiting", "Messages of a route that are on their way.", "route")
)

// Describe names every metric.
func (c *alerts) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{alertsOpen, alertsQuiet, messagesSent, messagesFailed, messagesWait} {
		ch <- d
	}
}

// Collect reads the desk. What cannot be read is left out, never repeated.
func (c *alerts) Collect(ch chan<- prometheus.Metric) {
	ctx := context.Background()
	if open, err := c.desk.Open(ctx); err == nil {
		count := map[string]int{}
		for _, a := range open {
			count[a.State]++
		}
		for _, s := range []alert.State{alert.Unacknowledged, alert.Acknowledged, alert.Returned} {
			value(ch, alertsOpen, float64(count[string(s)]), string(s))
		}
	}
	if quiet, err := c.desk.Quiet(ctx); err == nil {
		count := map[string]int{}
		for _, a := range quiet {
			count[a.Quiet]++
		}
		for _, by := range []string{"shelved", "suppressed", "out of service", "quiet window"} {
			value(ch, alertsQuiet, float64(count[by]), by)
		}
	}
	routes, err := c.desk.Routes(ctx)
	if err != nil {
		return
	}
	for _, r := range routes {
		ch <- prometheus.MustNewConstMetric(messagesSent, prometheus.CounterValue, float64(r.Sent), r.Name)
		ch <- prometheus.MustNewConstMetric(messagesFailed, prometheus.CounterValue, float64(r.Failures), r.Name)
		value(ch, messagesWait, float64(r.Waiting), r.Name)
	}
}

// nothing collects nothing.
type nothing struct{}

func (nothing) Describe(chan<- *prometheus.Desc) {}
func (nothing) Collect(chan<- prometheus.Metric) {}
