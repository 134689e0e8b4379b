package page

import (
	"bytes"
	"net/http"

	"bridlewatch/dashboards/units"
)

// events streams the live part of a gauge page as server-sent events.
func (p *Pages) events(w http.ResponseWriter, r *http.Request) {
	g, ok := p.view(w, r)
	if !ok {
		return
	}
	set, tag := preferencesOf(r).units, g.Sheet.Tag
	p.Hub.Stream(w, r, tag, "page "+set.Name, func() []byte { return p.piece(tag, set) })
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
