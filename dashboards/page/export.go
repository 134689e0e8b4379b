package page

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"strings"
	"time"

	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/trend"
	"bridlewatch/dashboards/units"
)

// trendCSV answers with exactly what the plots show: the least, the mean and
// the greatest value of every bucket, in the units of the reader, with the
// time twice so that no hour is ambiguous (RFC 4180).
func (p *Pages) trendCSV(w http.ResponseWriter, r *http.Request) {
	g, ok := p.view(w, r)
	if !ok {
		return
	}
	from, to, err := p.period(r)
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	chart, err := p.trends.Chart(r.Context(), g.Sheet.Tag, trend.Lines(g.Sheet), from, to, trend.MaxWidth)
	if err != nil {
		http.Error(w, "history could not be read: "+err.Error(), http.StatusInternalServerError)
		return
	}
	name := fmt.Sprintf("%s_%s.csv", fileName(g.Sheet.Tag), from.UTC().Format("20060102T150405Z"))
	w.Header().Set("Content-Type", "text/csv; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	w.Header().Set("Cache-Control", "no-store")
	_ = writeCSV(csv.NewWriter(w), chart, p.Zone, preferencesOf(r).units) // the reader has gone away
}

func writeCSV(w *csv.Writer, chart *trend.Chart, zone times.Zone, set units.Set) error {
	head := []string{"time_utc", "time_local"}
	for _, c := range chart.Columns {
		name := columnName(c)
		if unit := c.Unit(set); unit != "" {
			name += "_" + strings.NewReplacer("³", "3", "/", "_per_").Replace(unit)
		}
		head = append(head, name+"_min", name+"_mean", name+"_max")
	}
	if err := w.Write(head); err != nil {
		return err
	}
	row := make([]string, len(head))
	for j, at := range chart.Time {
		row[0], row[1] = at.UTC().Format(time.RFC3339), zone.Machine(at)
		empty := true
		for i, c := range chart.Columns {
			for k, v := range []*float64{c.Min[j], c.Mean[j], c.Max[j]} {
				row[2+3*i+k] = c.Number(v, set)
				empty = empty && v == nil
			}
		}
		if empty {
			continue
		}
		if err := w.Write(row); err != nil {
			return err
		}
	}
	w.Flush()
	return w.Error()
}

// columnName is a name a spreadsheet takes as text, never as a formula.
func columnName(c trend.Column) string {
	if c.Kind == trend.Point {
		return strings.TrimLeft(fileName(c.Label), "-.")
	}
	return c.Key
}
