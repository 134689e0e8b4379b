package page

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/units"
)

// servicePage says whether the service itself is all right.
type servicePage struct {
	Shell
	Lines   []serviceLine
	Sources []sourceRow
	Trust   *trustPart // nil: no source shows a certificate
}

// serviceLine is one thing about the service.
type serviceLine struct {
	Name, Value, Note string
	Bad               bool
}

type sourceRow struct {
	Name, Protocol, Endpoint, State, LastOK, Reads, Errors, Took string
	Bad                                                          bool
	Tells                                                        []sourceLine
}

// sourceLine is one thing a source tells about itself.
type sourceLine struct {
	Text string
	Bad  bool
}

func (p *Pages) service(w http.ResponseWriter, r *http.Request) {
	p.writeService(w, r, http.StatusOK, "")
}

func (p *Pages) writeService(w http.ResponseWriter, r *http.Request, status int, trouble string) {
	h, now := p.Plant.Health(), p.Plant.Now()
	if h.Now.IsZero() {
		h.Now = now
	}
	page := servicePage{Shell: p.shell(r, navService, "Service"), Lines: p.serviceLines(h, now)}
	for _, s := range h.Sources {
		page.Sources = append(page.Sources, p.source(s, h.Now))
	}
	if page.Trust = p.trustOf(r, page.Role); page.Trust != nil && trouble != "" {
		page.Trust.Trouble, page.Trust.Done = trouble, ""
	}
	p.write(w, status, "service", "layout", page)
}

func (p *Pages) source(s plant.SourceHealth, now time.Time) sourceRow {
	row := sourceRow{
		Name: s.Name, Protocol: s.Protocol, Endpoint: s.Endpoint, State: "answers", LastOK: p.ago(s.LastOK, now), Bad: !s.OK,
		Reads: fmt.Sprint(s.Reads), Errors: fmt.Sprint(s.Errors), Took: times.Span(s.Took),
	}
	if !s.OK {
		row.State = s.Trouble
		if row.State == "" {
			row.State = "has not answered yet"
		}
	}
	row.Tells = p.sourceTells(s, now)
	return row
}

// serviceLines lists what an administrator asks first.
func (p *Pages) serviceLines(h plant.Health, now time.Time) []serviceLine {
	lines := []serviceLine{{Name: "Ready", Value: "yes"}}
	if reasons, ok := h.Ready(); !ok {
		lines[0] = serviceLine{"Ready", "no", fmt.Sprint(reasons), true}
	}
	lines = append(lines,
		serviceLine{Name: "Running since", Value: p.ago(h.Started, h.Now)},
		serviceLine{Name: "Configuration", Value: h.ConfigVersion, Note: h.ConfigFile + ", loaded " + p.ago(h.ConfigLoaded, h.Now)},
	)
	if h.ConfigError != "" {
		lines = append(lines, serviceLine{"New configuration refused", h.ConfigError, "the one above is still in force", true})
	}
	lines = append(lines, p.scanLine(h.Scan, now), p.storeLine(h.Store, now), clockLine(h.Clock))
	if e := h.Encryption; e != nil {
		lines = append(lines, p.encryptionLine(e))
	}
	if f := h.Forward; f != nil {
		lines = append(lines, p.forwardLine(f))
	}
	return lines
}

// forwardLine says how much waits for the central store, since when and why.
func (p *Pages) forwardLine(f *plant.ForwardHealth) serviceLine {
	line := serviceLine{Name: "Copy to " + f.To, Value: "up to date", Bad: f.Trouble != "", Note: f.Trouble}
	if f.Behind > 0 {
		line.Value = times.Span(f.Behind) + " behind"
	}
	if f.Waiting > 0 && f.Trouble != "" {
		line.Note = fmt.Sprintf("about %d scans wait since %s and are sent once it goes on. %s", f.Waiting, p.Zone.Full(f.Since), f.Trouble)
	}
	return line
}

func (p *Pages) encryptionLine(e *plant.Encryption) serviceLine {
	line := serviceLine{Name: "Certificate of the pages", Value: "until " + p.Zone.Full(e.Until), Note: "SHA-256 " + strings.Join(groups(e.Fingerprint), " ")}
	if e.SelfMade {
		line.Value = "made by this box, " + line.Value + "; compare what the browser shows before you trust it"
	}
	return line
}

func (p *Pages) scanLine(s plant.ScanHealth, now time.Time) serviceLine {
	return serviceLine{
		Name: "Rounds of comparing", Value: fmt.Sprintf("every %s, last took %s", times.Span(s.Every), times.Span(s.Took)),
		Note: fmt.Sprintf("last %s; %d so far, %d skipped because the one before had not ended", p.ago(s.Last, now), s.Scans, s.Skipped),
		Bad:  s.Every > 0 && now.Sub(s.Last) > 10*s.Every,
	}
}

func (p *Pages) storeLine(s plant.StoreHealth, now time.Time) serviceLine {
	line := serviceLine{Name: "History", Value: bytesWords(s.Bytes) + " in " + s.Dir}
	if s.FreeBytes >= 0 {
		line.Value += ", " + bytesWords(s.FreeBytes) + " free"
	}
	if !s.Oldest.IsZero() {
		line.Note = "from " + p.Zone.Full(s.Oldest)
	}
	if !s.Oldest.IsZero() && !s.Newest.IsZero() {
		line.Note += " to " + p.Zone.Full(s.Newest)
	}
	if s.Error != "" {
		line.Note, line.Bad = s.Error, true
	}
	return line
}

func clockLine(c plant.ClockHealth) serviceLine {
	switch {
	case !c.Known:
		return serviceLine{Name: "Clock of the box", Value: "not known whether it is synchronised"}
	case !c.Synchronised:
		return serviceLine{Name: "Clock of the box", Value: "not synchronised", Note: "times of records and of remote sources may not match", Bad: true}
	}
	return serviceLine{Name: "Clock of the box", Value: "synchronised", Note: "offset " + times.Span(c.Offset.Abs())}
}

// bytesWords writes a size in binary units.
func bytesWords(n int64) string {
	units1024 := []string{"B", "KiB", "MiB", "GiB", "TiB"}
	v, i := float64(n), 0
	for v >= 1024 && i < len(units1024)-1 {
		v /= 1024
		i++
	}
	return units.Fixed(v, min(i, 1)) + units.NoBreak + units1024[i]
}
