package page

import (
	"bytes"
	"net/http"
	"time"

	"bridlewatch/dashboards/units"
)

// events streams the live part of a gauge page as server-sent events: one at
// once, then one after each comparison, at most one a second.
func (p *Pages) events(w http.ResponseWriter, r *http.Request) {
	g, ok := p.view(w, r)
	if !ok {
		return
	}
	set, tag := preferencesOf(r).units, g.Sheet.Tag
	viewer, ok := p.Hub.Look(tag, set.Name, func() []byte { return p.piece(tag, set) })
	if !ok {
		http.Error(w, "the service is stopping", http.StatusServiceUnavailable)
		return
	}
	defer viewer.Leave()
	control := http.NewResponseController(w)
	_ = control.SetWriteDeadline(time.Time{}) // a recorder in a test has no deadline
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("X-Accel-Buffering", "no")
	piece, open := p.piece(tag, set), true
	for open {
		if _, err := w.Write(piece); err != nil {
			return
		}
		if err := control.Flush(); err != nil {
			return
		}
		select {
		case <-r.Context().Done():
			return
		case piece, open = <-viewer.Pieces:
		}
	}
}

// piece renders the live part as one event. A gauge that is gone renders as a
// comment, which keeps the stream open and changes nothing.
func (p *Pages) piece(tag string, set units.Set) []byte {
	g, ok := p.Plant.Gauge(tag)
	if !ok {
		return []byte(": gone\n\n")
	}
	var html bytes.Buffer
	if err := p.pages["gauge"].ExecuteTemplate(&html, "live", p.live(g, set)); err != nil {
		return []byte(": " + string(bytes.ReplaceAll([]byte(err.Error()), []byte("\n"), []byte(" "))) + "\n\n")
	}
	return event(html.Bytes())
}

// event frames a body: every line after "data: ", an empty line at the end.
func event(body []byte) []byte {
	out := make([]byte, 0, len(body)+len(body)/16+16)
	for line := range bytes.Lines(body) {
		line = bytes.TrimRight(line, "\r\n")
		if len(bytes.TrimSpace(line)) == 0 {
			continue
		}
		out = append(append(append(out, "data: "...), line...), '\n')
	}
	return append(out, '\n')
}
