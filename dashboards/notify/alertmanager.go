package notify

import (
	"context"
	"crypto/tls"
	"encoding/json"
	"fmt"
	"strings"
	"time"
)

// Alertmanager posts to a receiver of the version 2 interface of Prometheus
// Alertmanager: POST /api/v2/alerts. Such a receiver takes an alert as over
// once it has not heard of it until its endsAt, so everything that stands is
// posted again every minute, or as often as the route says with repeat_every.
type Alertmanager struct {
	poster
	every time.Duration
}

const (
	alertsPath  = "/api/v2/alerts"
	resendEvery = time.Minute
	keptFor     = 4 // resends until the end of what stands, as Prometheus itself does
)

func newAlertmanager(s Setting, secure *tls.Config) *Alertmanager {
	p := newPoster("alertmanager", s, secure)
	if p.url = strings.TrimSuffix(p.url, "/"); !strings.HasSuffix(p.url, alertsPath) {
		p.url += alertsPath
	}
	every := resendEvery
	if s.RepeatEvery > 0 {
		every = s.RepeatEvery
	}
	return &Alertmanager{p, every}
}

// postable is one alert of the interface (postableAlert of its OpenAPI
// document).
type postable struct {
	Labels       map[string]string `json:"labels"`
	Annotations  map[string]string `json:"annotations"`
	StartsAt     time.Time         `json:"startsAt"`
	EndsAt       time.Time         `json:"endsAt"`
	GeneratorURL string            `json:"generatorURL,omitempty"`
}

// Send posts one message.
func (a *Alertmanager) Send(ctx context.Context, m Message) (again bool, err error) {
	return a.send(ctx, []postable{a.postable(m, time.Now())})
}

// Keep posts everything that stands.
func (a *Alertmanager) Keep(ctx context.Context, standing []Message) error {
	if len(standing) == 0 {
		return nil
	}
	now := time.Now()
	all := make([]postable, len(standing))
	for i, m := range standing {
		all[i] = a.postable(m, now)
	}
	_, err := a.send(ctx, all)
	return err
}

// KeepEvery is how often the receiver wants to hear.
func (a *Alertmanager) KeepEvery() time.Duration { return a.every }

func (a *Alertmanager) send(ctx context.Context, alerts []postable) (again bool, err error) {
	body, err := json.Marshal(alerts)
	if err != nil {
		return false, fmt.Errorf("encode alerts: %w", err)
	}
	return a.post(ctx, a.url, body, nil)
}

// postable writes a message as an alert. Labels make its identity and do not
// change in its life; what may change is in the annotations.
func (a *Alertmanager) postable(m Message, now time.Time) postable {
	p := postable{
		Labels:      map[string]string{"alertname": "level instruments disagree", "site": m.Site, "box": m.Box, "gauge": m.Gauge, "alert": m.Alert},
		Annotations: map[string]string{"summary": m.Sentence, "next": m.Next, "cause": string(m.Cause), "suspect": string(m.Suspect), "evidence": strings.Join(m.Evidence, "\n"), "quiet": m.Quiet},
		StartsAt:    m.Since, GeneratorURL: m.Link, EndsAt: now.Add(keptFor * a.every),
	}
	if m.Area != "" {
		p.Labels["area"] = m.Area
	}
	if m.Rehearsal {
		p.Labels["rehearsal"] = "true"
	}
	if m.Event == Trial {
		p.Labels["alertname"] = "trial message"
	}
	if p.StartsAt.IsZero() || p.StartsAt.After(now) {
		p.StartsAt = now
	}
	if m.Event == Cleared {
		p.EndsAt = now
	}
	for k, v := range p.Annotations {
		if v == "" {
			delete(p.Annotations, k)
		}
	}
	return p
}
