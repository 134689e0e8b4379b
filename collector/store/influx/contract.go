// Package influx sends history to InfluxDB, or to any engine that takes its
// line protocol, and reads it back: the central store of many boxes.
//
// # Contract
//
// This is version 1 of what is written. Names and meanings do not change
// within a version; a new version uses new measurement names.
//
//	measurement  bridlewatch_raw      samples before conversion
//	             bridlewatch_derived  levels, gaps, budgets, densities
//	             bridlewatch_box      one point a minute from every box
//	             bridlewatch_gauge    one point a minute for every gauge
//	tags         site, box            of the configuration, on every point
//	             gauge                tag of the gauge; absent for a signal of no gauge, and of a box
//	             signal               tag of the signal or name of the derived quantity
//	             unit                 SI or signal unit; absent when it has none
//	fields       value    float       absent when the quality is not usable
//	             quality  integer     0 absent, 1 bad, 2 stale, 3 uncertain, 4 good
//	             reason   integer     why: numbers of quantity.Reason; only when the quality is not 4
//	             (bridlewatch_box)    contract integer, lag_seconds float, sent integer, rejected integer;
//	                                  gauges integer, worst integer (category), alerts integer,
//	                                  unacknowledged integer, version string, url string
//	             (bridlewatch_gauge)  category integer: 0 not seen, 1 good, 2 maintenance required,
//	                                  3 out of specification, 4 function check, 5 failure;
//	                                  alerts integer, headline string
//	time         the scheduled instant in nanoseconds, whole microseconds
//
// A field that has nothing to say is absent. Within a version fields may be
// added.
//
// A point is named by its tags and time: writing it again changes nothing, and
// a corrected value replaces the old one. A field that a correction no longer
// has keeps its old number: read value only where quality is 3 or 4, and
// reason only where it is not 4. The number of series is at most that of the configured
// signals and derived quantities of each box; nothing that varies (serial
// numbers, sentences, errors) is ever a tag.
package influx

import (
	"crypto/x509"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/write"

	"bridlewatch/collector/store"
)

// Contract is the version of what is written.
const Contract = 1

// Measurements of the contract.
const (
	MeasurementRaw     = "bridlewatch_raw"
	MeasurementDerived = "bridlewatch_derived"
	MeasurementBox     = "bridlewatch_box"
	MeasurementGauge   = "bridlewatch_gauge"
)

// Tags of the contract.
var Tags = []string{"site", "box", "gauge", "signal", "unit"}

const (
	uncertain = 3 // numbers of quantity.Quality
	good      = 4
)

// Server says where the central store is.
type Server struct {
	URL    string         // http://host:8086
	Org    string         // empty for version 1.8
	Bucket string         // for version 1.8 "database/retention policy"
	Token  string         // for version 1.8 "user:password"; never printed
	Roots  *x509.CertPool // who may have signed the server's certificate; those of the system when nil
}

// Origin names the box that history comes from. Both are tags on every point.
type Origin struct {
	Site string
	Box  string
}

func (o Origin) check() error {
	if o.Site == "" || o.Box == "" {
		return errors.New("influx: site and box must be named, so that boxes do not overwrite each other")
	}
	return nil
}

func measurement(c store.Class) string {
	if c == store.Raw {
		return MeasurementRaw
	}
	return MeasurementDerived
}

// prefix is what all lines of a series begin with: measurement and tags.
func (o Origin) prefix(s store.Series) string {
	p := write.NewPointWithMeasurement(measurement(s.Class)).SetTime(time.Unix(0, 0))
	for _, tag := range [][2]string{{"box", o.Box}, {"gauge", s.Gauge}, {"signal", s.Name}, {"site", o.Site}, {"unit", s.Unit}} {
		if tag[1] != "" {
			p.AddTag(tag[0], tag[1])
		}
	}
	return strings.TrimSuffix(encode(p.AddField("x", int64(0))), "x=0i 0")
}

// line encodes one value of the series with this prefix.
func line(prefix string, at time.Time, v store.Value) string {
	b := make([]byte, 0, len(prefix)+80)
	b = append(append(b, prefix...), "quality="...)
	b = append(strconv.AppendUint(b, uint64(v.Quality), 10), 'i')
	if v.Quality != good {
		b = append(b, ",reason="...)
		b = append(strconv.AppendUint(b, uint64(v.Reason), 10), 'i')
	}
	if v.Quality >= uncertain {
		b = strconv.AppendFloat(append(b, ",value="...), v.Value, 'g', -1, 64)
	}
	return string(strconv.AppendInt(append(b, ' '), at.UnixNano(), 10))
}

func encode(p *write.Point) string {
	return strings.TrimSuffix(write.PointToLineProtocol(p, time.Nanosecond), "\n")
}

func (s Server) String() string { return fmt.Sprintf("%s bucket %s", s.URL, s.Bucket) }
