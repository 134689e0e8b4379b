// Package plant is what the pages, the API and the metrics may ask the
// running service: which gauges there are, what was compared last, what the
// evidence is, and whether the service itself is well. Everything here is a
// plain value; nothing in it can reach a plant device.
package plant

import (
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/coverage"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// Plant answers for the running service. Every method may be called from
// several goroutines, returns at once, and returns values the caller may read
// for ever: an implementation hands out copies or immutable snapshots.
type Plant interface {
	// Gauges returns every configured gauge in the order of the configuration.
	Gauges() []GaugeView
	// Gauge returns one gauge by its tag, compared byte by byte.
	Gauge(tag string) (GaugeView, bool)
	// Explain returns the ledger of evidence of a gauge, oldest first.
	Explain(tag string) []cause.Evidence
	// Settle returns the tests that would split the causes that remain, best first.
	Settle(tag string) []cause.Test
	// Blind returns what the instruments of a gauge cannot see.
	Blind(tag string) []coverage.BlindSpot
	// Proven returns the newest proof of each instrument and elevation bin.
	Proven(tag string) []coverage.Proof
	// Health tells how the service itself is.
	Health() Health
	// Now is the time of the plant: the clock of a live service, the simulated
	// time of a rehearsal.
	Now() time.Time
}

// FindingKind is the kind of the documents that hold findings: one document for
// each episode, a new version for each change.
const FindingKind = "finding"

// Role says what a signal is to its gauge. The strings are those of the
// configuration.
type Role string

// Roles.
const (
	Float              Role = "float"
	Transmitter        Role = "transmitter"
	Second             Role = "second"
	Point              Role = "point"
	Pressure           Role = "pressure"
	Temperature        Role = "temperature"
	ChamberTemperature Role = "chamber temperature"
	Density            Role = "density"
	Vessel             Role = "vessel"
)

// GaugeView is one gauge as it was compared last.
type GaugeView struct {
	Sheet      *datasheet.Sheet
	Result     compare.Result // zero Time: not compared yet
	LastSample time.Time      // newest usable sample of any level instrument; zero: never
	MaxAge     time.Duration  // older than this is stale; zero: 30 s
	Readings   []InstrumentReading
	Belief     *compare.Belief // the level in the vessel to believe while an alert puts that of Result in doubt; nil: none does
	Trouble    string          // why there are no fresh samples, e.g. "modbus 10.1.2.3:502: no answer, 12 times"; empty when none
}

// LevelTags are the instruments of a gauge that make a level: float, transmitter,
// second transmitter and that of the vessel, "" where there is none.
func (g *GaugeView) LevelTags() (tags [4]string) {
	tags[0] = g.Sheet.Float.Tag
	if t := g.Sheet.Transmitter; t != nil {
		tags[1] = t.Tag
	}
	if t := g.Sheet.Second; t != nil {
		tags[2] = t.Tag
	}
	if v := g.Sheet.Vessel; v != nil {
		tags[3] = v.Tag
	}
	return tags
}

// Doubted says of each of LevelTags whether an open alert puts its level in doubt.
func (g *GaugeView) Doubted() [4]bool { return compare.Doubted(g.Sheet, g.Result.Findings) }

// InstrumentReading is the newest sample of one instrument, raw and converted.
type InstrumentReading struct {
	Tag     string
	Role    Role
	Raw     float64 // as the device gave it
	Unit    string  // of Raw, e.g. "mA"
	Value   float64 // converted, in SI; 1 wet and 0 dry for a point
	SI      string  // unit of Value: "m", "Pa", "K", "kg/m3", "N" or ""
	Quality quantity.Quality
	Reason  quantity.Reason
	Age     time.Duration // at Plant.Now
}

// Usable reports whether Value may be shown as a reading.
func (r InstrumentReading) Usable() bool {
	return r.Quality.Usable()
}

// DefaultMaxAge is the age at which a gauge is stale where its view names none.
const DefaultMaxAge = 30 * time.Second

// Stale reports whether nothing usable was sampled within MaxAge before now.
func (g GaugeView) Stale(now time.Time) bool {
	limit := g.MaxAge
	if limit <= 0 {
		limit = DefaultMaxAge
	}
	return g.LastSample.IsZero() || now.Sub(g.LastSample) > limit
}

// Compared reports whether the gauge was compared at all.
func (g GaugeView) Compared() bool { return !g.Result.Time.IsZero() }

// Category returns the assessment to show at now: a stale gauge is not seen,
// whatever was found before.
func (g GaugeView) Category(now time.Time) compare.Category {
	if !g.Compared() || g.Stale(now) {
		return compare.NotSeenCategory
	}
	return g.Result.Category
}

// Health is how the service itself is.
type Health struct {
	Site, Box     string
	Now           time.Time // by the clock of the box; zero: that of the plant is the same
	Version       string
	Started       time.Time
	ConfigVersion string
	ConfigFile    string
	ConfigLoaded  time.Time
	ConfigError   string // of the last reload, with file:line:column; empty: accepted
	Sources       []SourceHealth
	Scan          ScanHealth
	Store         StoreHealth
	Clock         ClockHealth
	Forward       *ForwardHealth // nil: not configured
	Encryption    *Encryption    // of the pages; nil: they are not encrypted
	Notices       []string       // shown at the top of every page, e.g. "History has stopped: disk full. Polling and alerts go on."
}

// Ready reports whether the service does its job: configuration accepted,
// store writable and at least one source polled. The reasons say what is not.
func (h Health) Ready() (reasons []string, ok bool) {
	if h.ConfigVersion == "" {
		reasons = append(reasons, "no configuration is loaded")
	}
	if h.Store.Error != "" {
		reasons = append(reasons, "store: "+h.Store.Error)
	}
	polled := false
	for _, s := range h.Sources {
		polled = polled || s.OK
	}
	if len(h.Sources) > 0 && !polled {
		reasons = append(reasons, "no source answers")
	}
	return reasons, len(reasons) == 0
}

// SourceHealth is one endpoint that is polled.
type SourceHealth struct {
	Name     string
	Protocol string
	Endpoint string
	OK       bool
	LastOK   time.Time
	Trouble  string // the last error in words, empty when none
	Reads    uint64
	Errors   uint64
	Took     time.Duration // of the last poll

	Every       time.Duration // between polls; 0: not known
	Good, Bad   int           // signals of the last poll
	Late        uint64        // polls that began late
	MaxLateness time.Duration
	Skew        time.Duration // how far its clock is behind that of the box
	SkewKnown   bool          // false when it gives no times of its own
	Timeouts    uint64
	Refusals    uint64 // requests the device refused
	BadFrames   uint64 // answers that were not what was asked
	Reconnects  uint64
	Units       []UnitHealth // behind one endpoint; nil where there are none
	Remarks     []string     // what is wrong with single signals or lines though it answers
}

// LineTime is how long the requests of one poll keep the line busy.
func (s SourceHealth) LineTime() (sum time.Duration) {
	for _, u := range s.Units {
		sum += u.LineTime
	}
	return sum
}

// UnitHealth is one unit behind an endpoint.
type UnitHealth struct {
	ID       int
	Failures int       // requests in a row without a usable answer
	NotUntil time.Time // left alone until then; zero: it is read
	Refused  []string  // signals whose addresses it refuses
	Retrial  time.Time // when these are tried again; zero: there are none
	Requests int       // of one poll
	LineTime time.Duration

	MaxRegisters int // it gives in one request, as it has shown; 0: no limit was met
}

// ScanHealth is the round that reads, compares and stores.
type ScanHealth struct {
	Every   time.Duration
	Last    time.Time
	Took    time.Duration
	Scans   uint64
	Skipped uint64 // because the round before had not ended
}

// StoreHealth is the history on disk.
type StoreHealth struct {
	Dir       string
	Bytes     int64
	FreeBytes int64 // -1: unknown
	Oldest    time.Time
	Newest    time.Time
	Error     string // why nothing is being stored; empty: all well
}

// ClockHealth is the clock of the box.
type ClockHealth struct {
	Known        bool // whether anything is known about it
	Synchronised bool
	Offset       time.Duration
}

// Encryption is the certificate of the pages.
type Encryption struct {
	Fingerprint string // SHA-256, to be compared with what a browser shows
	Until       time.Time
	SelfMade    bool // by the box itself
}

// ForwardHealth is the copy that goes to a central store.
type ForwardHealth struct {
	To      string
	Behind  time.Duration
	Since   time.Time // of the oldest value not sent; zero when all are
	Waiting int64     // about how many scans are not sent
	Trouble string
}
