// Package grafana generates dashboards for Grafana from code: the plant and
// the gauges out of InfluxDB, the service out of Prometheus, with the files
// that provision them. Grafana shows; the pages of the service explain, so
// every panel leads back to them. There are no alert rules in here: one system
// of alerts is enough.
package grafana

//lint:file-ignore SA1019 dashboards that are provisioned by file are of this kind; the newer one is for the programming interface of Grafana

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
)

// Options say what the dashboards are made for.
type Options struct {
	ExternalURL string // of the service, for links back; "" for none
	TimeZone    string // IANA name; "": that of the browser
}

// File is one generated file.
type File struct {
	Path string // below the directory, with slashes
	Body []byte
}

// Files generates the dashboards and their provisioning files.
func Files(o Options) ([]File, error) {
	files := []File{{"provisioning/dashboards/bridlewatch.yaml", []byte(providers)}, {"provisioning/datasources/bridlewatch.yaml", []byte(sources)}}
	for name, build := range map[string]func(Options) *dashboard.DashboardBuilder{"plant": plantBoard, "gauge": gaugeBoard, "service": serviceBoard} {
		d, err := build(o).Build()
		if err != nil {
			return nil, fmt.Errorf("dashboard %s: %w", name, err)
		}
		body, err := encode(d)
		if err != nil {
			return nil, fmt.Errorf("dashboard %s: %w", name, err)
		}
		files = append(files, File{"dashboards/bridlewatch-" + name + ".json", body})
	}
	return files, nil
}

// Write writes the files below a directory and returns their paths.
func Write(dir string, o Options) ([]string, error) {
	files, err := Files(o)
	if err != nil {
		return nil, err
	}
	var written []string
	for _, f := range files {
		path := filepath.Join(dir, filepath.FromSlash(f.Path))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return written, err
		}
		if err := os.WriteFile(path, f.Body, 0o644); err != nil {
			return written, err
		}
		written = append(written, path)
	}
	return written, nil
}

func encode(d dashboard.Dashboard) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	err := e.Encode(d)
	return b.Bytes(), err
}

const providers = `apiVersion: 1
providers:
  - name: bridlewatch
    orgId: 1
    folder: bridlewatch
    type: file
    disableDeletion: false
    allowUiUpdates: false
    options:
      path: /var/lib/grafana/dashboards
      foldersFromFilesStructure: false
`

const sources = `apiVersion: 1
datasources:
  - name: bridlewatch history
    uid: bridlewatch-history
    type: influxdb
    access: proxy
    url: ${BRIDLEWATCH_INFLUX_URL}
    jsonData:
      version: Flux
      organization: ${BRIDLEWATCH_INFLUX_ORG}
      defaultBucket: ${BRIDLEWATCH_INFLUX_BUCKET}
    secureJsonData:
      token: ${BRIDLEWATCH_INFLUX_TOKEN}
  - name: bridlewatch metrics
    uid: bridlewatch-metrics
    type: prometheus
    access: proxy
    url: ${BRIDLEWATCH_PROMETHEUS_URL}
`

// board begins a dashboard the way all of them begin.
func board(o Options, name, title, description string) *dashboard.DashboardBuilder {
	b := dashboard.NewDashboardBuilder(title).Uid("bridlewatch-"+name).Description(description).Tags([]string{"bridlewatch"}).
		Readonly().Tooltip(dashboard.DashboardCursorSyncCrosshair).Time("now-24h", "now").Refresh("1m")
	if o.TimeZone != "" {
		b.Timezone(o.TimeZone)
	}
	if o.ExternalURL != "" {
		b.Link(dashboard.NewDashboardLinkBuilder("bridlewatch").Type(dashboard.DashboardLinkTypeLink).Url(strings.TrimRight(o.ExternalURL, "/") + "/").TargetBlank(true))
	}
	return b
}

// chosen is a data source the reader chooses.
func chosen(name, label, kind string) *dashboard.DatasourceVariableBuilder {
	return dashboard.NewDatasourceVariableBuilder(name).Label(label).Type(kind)
}

// tagValues is a variable with the values of a tag. The package of functions
// is the one that InfluxDB 1.8 has as well.
func tagValues(name, label, tag, where string) *dashboard.QueryVariableBuilder {
	text := fmt.Sprintf(`import "influxdata/influxdb/v1"
v1.tagValues(bucket: v.defaultBucket, tag: %q, predicate: (r) => r._measurement == %q%s, start: -30d)`, tag, derived, where)
	return dashboard.NewQueryVariableBuilder(name).Label(label).Datasource(source("influxdb", "ds")).
		Query(dashboard.StringOrMap{String: &text}).Refresh(dashboard.VariableRefreshOnDashboardLoad).Sort(dashboard.VariableSortAlphabeticalAsc)
}

func (o Options) gaugeLink(tag string) string {
	return strings.TrimRight(o.ExternalURL, "/") + "/gauge/" + tag
}

// thresholds colours nothing below warn and calls for attention above it.
func thresholds(warn float64) *dashboard.ThresholdsConfigBuilder {
	return dashboard.NewThresholdsConfigBuilder().Mode(dashboard.ThresholdsModeAbsolute).Steps([]dashboard.Threshold{
		{Color: "text"}, {Value: cog.ToPtr(warn), Color: "orange"},
	})
}

func at(x, y, w, h uint32) dashboard.GridPos { return dashboard.GridPos{X: x, Y: y, W: w, H: h} }
