package grafana

import (
	"fmt"
	"slices"
	"strings"

	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/cog/variants"
	"github.com/grafana/grafana-foundation-sdk/go/common"

	"bridlewatch/collector/store/influx"
)

// What a box writes to InfluxDB, as package influx documents it.
const (
	derived = influx.MeasurementDerived
	box     = influx.MeasurementBox
)

var (
	measurements = []string{derived, box, influx.MeasurementGauge, influx.MeasurementRaw}
	tags         = influx.Tags
)

// flux is one query in Flux: the kit has no query type for InfluxDB.
type flux struct {
	RefID      string               `json:"refId"`
	Source     common.DataSourceRef `json:"datasource"`
	Query      string               `json:"query"`
	Parameters *struct{}            `json:"parameters,omitempty"`
}

var (
	_ variants.Dataquery              = flux{}
	_ cog.Builder[variants.Dataquery] = flux{}
)

// ImplementsDataqueryVariant marks the type for the kit.
func (flux) ImplementsDataqueryVariant() {}

// DataqueryType names the plugin.
func (flux) DataqueryType() string { return "influxdb" }

// Equals compares two queries.
func (f flux) Equals(other variants.Dataquery) bool {
	o, ok := other.(flux)
	return ok && f.RefID == o.RefID && f.Query == o.Query
}

// Validate holds a query to rules: it is bounded by the time range of the
// dashboard, names only what the contract has, and does not bridge gaps.
func (f flux) Validate() error {
	var problems []string
	need := func(text, why string) {
		if !strings.Contains(f.Query, text) {
			problems = append(problems, why)
		}
	}
	need("from(bucket:", "it names no bucket")
	need("range(start: v.timeRangeStart, stop: v.timeRangeStop)", "it is not bounded by the time range")
	if strings.Contains(f.Query, "aggregateWindow(") {
		need("createEmpty: true", "it bridges gaps: aggregateWindow needs createEmpty: true")
	}
	for _, name := range fieldsOf(f.Query, `r._measurement == "`) {
		if !slices.Contains(measurements, name) {
			problems = append(problems, fmt.Sprintf("there is no measurement %q", name))
		}
	}
	if len(problems) > 0 {
		return cog.MakeBuildErrors("query "+f.RefID, fmt.Errorf("%s", strings.Join(problems, "; ")))
	}
	return nil
}

// Build returns the query, or why it breaks a rule; the kit wants its own kind
// of error.
func (f flux) Build() (variants.Dataquery, error) {
	if err := f.Validate(); err != nil {
		return nil, err
	}
	return f, nil
}

// fieldsOf lists what follows a text up to the next quotation mark.
func fieldsOf(query, before string) []string {
	var found []string
	for {
		_, after, ok := strings.Cut(query, before)
		if !ok {
			return found
		}
		name, rest, _ := strings.Cut(after, `"`)
		found, query = append(found, name), rest
	}
}

// source is the data source the reader of the dashboard chose.
func source(kind, variable string) common.DataSourceRef {
	return common.DataSourceRef{Type: cog.ToPtr(kind), Uid: cog.ToPtr("${" + variable + "}")}
}

// window is the length of a bucket: that of a pixel, and for tables the last.
const (
	mean = `aggregateWindow(every: v.windowPeriod, fn: mean, createEmpty: true)`
	last = `last()`
)

// values begins a query for derived values of usable quality: a value that was
// corrected to "not usable" keeps its old number beside its new quality, so
// quality is joined and asked. The bounds stay in the key of the groups: windows
// that are empty can only be made between them.
func values(where string) string {
	return `from(bucket: v.defaultBucket)
  |> range(start: v.timeRangeStart, stop: v.timeRangeStop)
  |> filter(fn: (r) => r._measurement == "` + derived + `" and r.site == "${site}" and ` + where + `)
  |> filter(fn: (r) => r._field == "value" or r._field == "quality")
  |> pivot(rowKey: ["_time"], columnKey: ["_field"], valueColumn: "_value")
  |> filter(fn: (r) => r.quality >= 3)
  |> group(columns: ["_start", "_stop", "gauge", "signal"])
  |> keep(columns: ["_start", "_stop", "_time", "gauge", "signal", "value"])
  |> rename(columns: {value: "_value"})
`
}

// ofGauge asks for signals of the chosen gauge.
func ofGauge(signals string) string {
	return values(`r.gauge == "${gauge}" and r.signal =~ /` + signals + `/`)
}

func query(ref, text string) flux {
	return flux{RefID: ref, Source: source("influxdb", "ds"), Query: text}
}
