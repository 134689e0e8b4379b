package grafana

//lint:file-ignore SA1019 dashboards that are provisioned by file are of this kind; the newer one is for the programming interface of Grafana

import (
	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/common"
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
	"github.com/grafana/grafana-foundation-sdk/go/prometheus"
	"github.com/grafana/grafana-foundation-sdk/go/stat"
	"github.com/grafana/grafana-foundation-sdk/go/statetimeline"
	"github.com/grafana/grafana-foundation-sdk/go/table"
	"github.com/grafana/grafana-foundation-sdk/go/timeseries"
)

// plantBoard shows all gauges of a site, the greatest gap over budget first.
func plantBoard(o Options) *dashboard.DashboardBuilder {
	worst := "import \"math\"\n" + values(`(r.signal == "gap.float-transmitter" or r.signal == "budget.float-transmitter")`) + `  |> ` + last + `
  |> group()
  |> pivot(rowKey: ["gauge"], columnKey: ["signal"], valueColumn: "_value")
  |> map(fn: (r) => ({gauge: r.gauge, gap: r["gap.float-transmitter"], budget: r["budget.float-transmitter"], ratio: math.abs(x: r["gap.float-transmitter"]) / r["budget.float-transmitter"]}))
  |> sort(columns: ["ratio"], desc: true)`
	oldest := values(`r.signal =~ /^level\.(float|transmitter)$/`) + `  |> ` + last + `
  |> group()
  |> map(fn: (r) => ({r with _value: float(v: uint(v: now()) - uint(v: r._time)) / 1000000000.0}))
  |> max()
  |> keep(columns: ["_value"])`
	boxes := `from(bucket: v.defaultBucket)
  |> range(start: v.timeRangeStart, stop: v.timeRangeStop)
  |> filter(fn: (r) => r._measurement == "` + box + `" and r._field == "lag_seconds" and r.site == "${site}")
  |> ` + mean
	links := []cog.Builder[dashboard.DashboardLink]{dashboard.NewDashboardLinkBuilder("gauge").Type(dashboard.DashboardLinkTypeLink).Url("/d/bridlewatch-gauge?var-site=${site}&var-gauge=${__data.fields.gauge}&${__url_time_range}")}
	if o.ExternalURL != "" {
		links = append(links, dashboard.NewDashboardLinkBuilder("why").Type(dashboard.DashboardLinkTypeLink).Url(o.gaugeLink("${__data.fields.gauge}")).TargetBlank(true))
	}
	return board(o, "plant", "bridlewatch: plant", "Gauges of a site by how far float and transmitter differ, as a multiple of what is allowed.").
		WithVariable(chosen("ds", "History", "influxdb")).
		WithVariable(tagValues("site", "Site", "site", "")).
		WithPanel(table.NewPanelBuilder().Title("Gauges, greatest gap over budget first").Description("The newest gap, what is allowed, and their ratio. Above 1 the two disagree.").
			GridPos(at(0, 0, 16, 18)).Datasource(source("influxdb", "ds")).WithTarget(query("A", worst)).Unit("lengthm").Decimals(4).Thresholds(thresholds(1)).DataLinks(links).
			OverrideByName("ratio", []dashboard.DynamicConfigValue{{Id: "unit", Value: "none"}, {Id: "decimals", Value: 2}})).
		WithPanel(stat.NewPanelBuilder().Title("Oldest newest sample").Description("Age of the newest usable level of the gauge that was seen longest ago.").
			GridPos(at(16, 0, 8, 6)).Datasource(source("influxdb", "ds")).WithTarget(query("A", oldest)).Unit("s").Thresholds(thresholds(120))).
		WithPanel(timeseries.NewPanelBuilder().Title("Delay of the boxes").Description("How far what was forwarded is behind what was recorded.").
			GridPos(at(16, 6, 8, 12)).Datasource(source("influxdb", "ds")).WithTarget(query("A", boxes)).Unit("s").SpanNulls(never()))
}

// gaugeBoard shows the history of one gauge.
func gaugeBoard(o Options) *dashboard.DashboardBuilder {
	show := func(signals string) string { return ofGauge(signals) + "  |> " + mean }
	budget := ofGauge(`^budget\.float-transmitter$`) + "  |> " + mean
	lower := budget + "\n  |> map(fn: (r) => ({r with _value: -r._value, signal: \"allowed, lower\"}))"
	b := board(o, "gauge", "bridlewatch: gauge", "Levels, gap against what is allowed, points and density of one gauge.").
		WithVariable(chosen("ds", "History", "influxdb")).
		WithVariable(tagValues("site", "Site", "site", "")).
		WithVariable(tagValues("gauge", "Gauge", "gauge", ` and r.site == "${site}"`)).
		WithPanel(history("Level above lower tap", "Of every instrument, by the physics that is in force. A gap in a line is a gap in the history.", "lengthm", at(0, 0, 24, 10)).
			WithTarget(query("A", show(`^level\.`)))).
		WithPanel(history("Gap, float − transmitter, and what is allowed", "Outside the two dashed lines the two disagree.", "lengthm", at(0, 10, 24, 8)).
			WithTarget(query("A", show(`^gap\.float-transmitter$`))).WithTarget(query("B", budget)).WithTarget(query("C", lower)).AxisCenteredZero(true).
			OverrideByQuery("B", dashed()).OverrideByQuery("C", dashed())).
		WithPanel(statetimeline.NewPanelBuilder().Title("Points").Description("1 wet, 0 dry, as the switches said.").GridPos(at(0, 18, 24, 6)).
			Datasource(source("influxdb", "ds")).WithTarget(query("A", ofGauge(`^point\.`)+"  |> aggregateWindow(every: v.windowPeriod, fn: last, createEmpty: true)")).
			Unit("none").Mappings([]dashboard.ValueMapping{wetAndDry()})).
		WithPanel(history("Liquid density in the chamber", "The density the float and the transmitter are corrected with.", "suffix: kg/m³", at(0, 24, 24, 7)).
			WithTarget(query("A", show(`^density\.liquid$`))))
	if o.ExternalURL != "" {
		b.Link(dashboard.NewDashboardLinkBuilder("why").Type(dashboard.DashboardLinkTypeLink).Url(o.gaugeLink("${gauge}") + "/trend?from=${__from}&to=${__to}").TargetBlank(true))
	}
	return b
}

// serviceBoard shows the service itself.
func serviceBoard(o Options) *dashboard.DashboardBuilder {
	ask := func(ref, expression, legend string) *prometheus.DataqueryBuilder {
		return prometheus.NewDataqueryBuilder().RefId(ref).Datasource(source("prometheus", "prom")).Expr(expression).LegendFormat(legend)
	}
	panel := func(title, description, unit string, pos dashboard.GridPos) *timeseries.PanelBuilder {
		return timeseries.NewPanelBuilder().Title(title).Description(description).Unit(unit).GridPos(pos).Datasource(source("prometheus", "prom")).SpanNulls(never())
	}
	return board(o, "service", "bridlewatch: service", "Whether the service itself is all right.").
		WithVariable(chosen("prom", "Metrics", "prometheus")).
		WithPanel(panel("Gauges by assessment", "How many gauges are in each category.", "none", at(0, 0, 12, 8)).WithTarget(ask("A", `sum by (category) (bridlewatch_assessed)`, "{{category}}"))).
		WithPanel(panel("Findings", "Open findings by how far they have come.", "none", at(12, 0, 12, 8)).WithTarget(ask("A", `sum by (tier) (bridlewatch_findings)`, "{{tier}}"))).
		WithPanel(panel("Sources", "1 while the source answers.", "none", at(0, 8, 12, 8)).WithTarget(ask("A", `bridlewatch_source_up`, "{{source}}"))).
		WithPanel(panel("Failed polls", "Per second, by source.", "ops", at(12, 8, 12, 8)).WithTarget(ask("A", `rate(bridlewatch_source_errors_total[$__rate_interval])`, "{{source}}"))).
		WithPanel(panel("Duration of a round", "Reading, comparing and storing.", "s", at(0, 16, 12, 8)).WithTarget(ask("A", `bridlewatch_scan_duration_seconds`, "round"))).
		WithPanel(panel("Age of the newest sample", "By gauge.", "s", at(12, 16, 12, 8)).WithTarget(ask("A", `time() - bridlewatch_last_sample_timestamp_seconds`, "{{gauge}}"))).
		WithPanel(panel("History on disk", "Size of the data directory.", "bytes", at(0, 24, 12, 8)).WithTarget(ask("A", `bridlewatch_store_bytes`, "history"))).
		WithPanel(panel("Accepted and writable", "1 while history is recorded and the newest configuration was accepted.", "none", at(12, 24, 12, 8)).
			WithTarget(ask("A", `bridlewatch_store_writable`, "history writable")).WithTarget(ask("B", `bridlewatch_config_last_reload_successful`, "configuration accepted")))
}

// history is a plot that leaves gaps where nothing was recorded.
func history(title, description, unit string, pos dashboard.GridPos) *timeseries.PanelBuilder {
	return timeseries.NewPanelBuilder().Title(title).Description(description).Unit(unit).GridPos(pos).Datasource(source("influxdb", "ds")).
		SpanNulls(never()).LineWidth(1.5).ShowPoints(common.VisibilityModeNever).DisplayName("${__field.labels.signal}")
}

func never() common.BoolOrFloat64 { return common.BoolOrFloat64{Bool: cog.ToPtr(false)} }

func dashed() []dashboard.DynamicConfigValue {
	return []dashboard.DynamicConfigValue{{Id: "custom.lineStyle", Value: map[string]any{"fill": "dash", "dash": []int{8, 6}}}, {Id: "color", Value: map[string]any{"mode": "fixed", "fixedColor": "text"}}}
}

func wetAndDry() dashboard.ValueMapping {
	return dashboard.ValueMapping{ValueMap: &dashboard.ValueMap{Type: dashboard.MappingTypeValueToText, Options: map[string]dashboard.ValueMappingResult{
		"1": {Text: cog.ToPtr("wet"), Color: cog.ToPtr("blue")}, "0": {Text: cog.ToPtr("dry"), Color: cog.ToPtr("text")},
	}}}
}
