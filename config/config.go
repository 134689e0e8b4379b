// Package config loads, checks and prints the configuration.
//
// A Config is complete: every default is filled in, every unit converted,
// every reference resolved. It is the only form the rest of the program sees.
//
// Two parts share the work. The YAML sources, the main file and conf.d beside
// it, are read by a strict pass over their syntax tree, which knows the place
// of every key: unknown and duplicate keys, wrong units and impossible gauges
// are all reported at once as "file:line:column: path: message". Which layer
// wins for a single service-level value (site, service, store, history,
// influx) is decided by viper: flag, then environment, then file, then
// default. The winner goes through the same strict reading as if it had been
// written in the file. Lists (sources, gauges, routes) come from the files
// only and are addressed by tag or name, never by a dotted key, because tags
// have capitals and dots.
//
// One table of keys (key.go and the files named keys) says what every key is
// called, means, takes and defaults to. The reader, the printer, the JSON
// Schema and the check of the reference file all work from it. A new key is a
// line in the table, a field to keep it in, a line in reference.yaml and, when
// it can be wrong in a way of its own, a file in testdata/config/bad with its
// row in bad_test.go; the tests say what is still missing.
package config

import (
	"time"

	"bridlewatch/collector/signal"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// Config is a whole, valid configuration.
type Config struct {
	Site    Site
	Service Service
	Store   Store
	History History
	Sources []Source
	Gauges  []Gauge
	Notify  []Route
	Users   []User
	Tokens  []Token
	Quiet   []QuietWindow
	Influx  *Influx
	Pair    *Pair

	Version string // hash of the effective configuration, secrets excluded

	// Advice is what is legal and unusual: nothing is refused for it.
	Advice []Problem
}

// Site is the place.
type Site struct {
	Name                string
	Box                 string // name of this edge box
	TimeZone            *time.Location
	AtmosphericPressure quantity.Pressure
	VerifyDays          int // between verifications of a gauge that does not say; 0: not stated
}

// Service is the process itself.
type Service struct {
	Listen        string // "127.0.0.1:8080"
	MetricsListen string // "": metrics on Listen
	VerdictListen string // Modbus TCP for a control system that reads verdicts; "": off
	ExternalURL   string // for links in messages
	BasePath      string
	LogLevel      string        // "debug", "info", "warn", "error"
	ScanEvery     time.Duration // the tick all gauges are compared at
	ReadOnly      bool          // no records, no acknowledgements by page
	TLSCert       string
	TLSKey        string
	TLSSelfMade   bool  // the service makes its certificate
	OpenAccess    bool  // no login on a loopback listener
	ImportUpload  int64 // bytes of the largest file taken by page; 0: none is
	SessionIdle   time.Duration
	Units         quantity.UnitSet // in which people are shown values unless they choose
}

// Encrypted reports whether the pages have a certificate.
func (s *Service) Encrypted() bool { return s.TLSCert != "" || s.TLSSelfMade }

// Store is where history goes. A time of 0 keeps for ever, a size of 0 has no
// limit.
type Store struct {
	Dir             string
	KeepRaw         time.Duration
	KeepLevels      time.Duration
	KeepTenMinutes  time.Duration // summaries of ten minutes
	KeepSummaries   time.Duration // summaries of hours and days
	KeepDeliveries  time.Duration // of alerts: when, to whom, with what result
	MaxRawBytes     int64         // of finished days
	MaxLevelBytes   int64
	MaxSummaryBytes int64
	SealAfter       time.Duration // a finished UTC day is sealed this long after its end
}

// History says how files of a historian are read by replay and import.
type History struct {
	TimeColumn string
	TimeFormat string         // "rfc3339", "epoch" (seconds), or a layout such as "2006-01-02 15:04:05"
	Zone       *time.Location // of times without an offset
	Missing    []string       // texts that mean "no value", beside the empty one
	Separator  string         // between columns: ",", ";" or "tab"

	DecimalComma bool // numbers are written 1,5
}

// Protocol of a source.
type Protocol string

// Protocols.
const (
	ModbusTCP     Protocol = "modbus-tcp"
	ModbusRTU     Protocol = "modbus-rtu"
	ModbusRTUTCP  Protocol = "modbus-rtu-over-tcp"
	OPCUA         Protocol = "opc-ua"
	MQTT          Protocol = "mqtt"
	SparkplugB    Protocol = "sparkplug-b"
	CSVFolder     Protocol = "csv-folder"
	ReplayHistory Protocol = "history" // columns of files, for replay
)

// Modbus reports whether the source speaks one of the three Modbus framings.
func (p Protocol) Modbus() bool { return p == ModbusTCP || p == ModbusRTU || p == ModbusRTUTCP }

// Source is one endpoint that is polled.
type Source struct {
	Name     string
	Protocol Protocol
	Every    time.Duration // poll interval
	Timeout  time.Duration // of one request
	MaxAge   time.Duration // after which its values are stale; 0 (history only): never

	// Modbus.
	Address               string // "host:port", or the serial device
	Baud                  int
	Parity                string // "none", "even", "odd"
	StopBits              int
	PauseBetweenRequests  time.Duration
	PauseAfterConnect     time.Duration
	CloseAfterCycle       bool
	IgnoreTransactionID   bool
	MaxRegisters, MaxBits int // per request
	MaxGap                int // registers read in vain to save a request; 0: as many as pay off, -1: none
	Forbidden             []Forbidden
	PlanFor               string // "requests", "time"; "" as the framing suggests
	Turnaround            time.Duration
	ReprobeEvery          time.Duration // of addresses the device refused
	BreakAfter            int           // timeouts of one unit after which it is only probed
	ProbeEvery            time.Duration

	// OPC UA.
	Endpoint          string
	SecurityPolicy    string // "None", "Basic256Sha256", "Aes128_Sha256_RsaOaep", "Aes256_Sha256_RsaPss"
	SecurityMode      string // "None", "Sign", "SignAndEncrypt"
	AcceptNoSecurity  bool   // must be said in words when the policy is None
	User              string
	Password          Secret
	CertFile, KeyFile string // user certificate
	ServerThumbprint  string // SHA-256 of the server's certificate, hex
	TrustDir          string // trusted/ and rejected/ server certificates; "": in the store's directory
	Namespace         string // URI for nodes written without one
	MaxNodes          int    // in one request; 0: what the server states
	Subscribe         bool
	SamplingEvery     time.Duration

	// MQTT and Sparkplug B; user and password as above.
	Broker      string // "mqtts://host:8883" or "mqtt://host:1883"
	ClientID    string
	CAFile      string
	TimePath    string // of payloads; "": they have no time
	QualityPath string
	GoodWords   []string // at QualityPath

	// Files in a folder.
	Folder       string
	Files        string        // pattern of names
	Settled      time.Duration // after which a file is complete
	TimeColumn   string
	TimeFormat   string         // of payloads as well; as that of History
	Zone         *time.Location // of times without an offset
	Header       bool
	Separator    string // ",", ";" or "tab"
	DecimalComma bool
	Encoding     string // "utf-8", "windows-1252", "iso-8859-1", "utf-16"
	Missing      []string

	Place Place
}

// Forbidden is a range of addresses of one unit that must never be read, both
// ends included.
type Forbidden struct {
	UnitID   int
	Table    string // "holding", "input", "coil", "discrete"
	From, To int
}

// Role says what a signal is to its gauge.
type Role string

// Roles.
const (
	RoleFloat              Role = "float"
	RoleTransmitter        Role = "transmitter"
	RoleSecond             Role = "second"
	RolePoint              Role = "point"
	RolePressure           Role = "pressure"
	RoleTemperature        Role = "temperature"
	RoleChamberTemperature Role = "chamber temperature"
	RoleDensity            Role = "density"
	RoleVessel             Role = "vessel"
)

// Gauge is a data sheet and the signals its instruments speak through.
type Gauge struct {
	Sheet   datasheet.Sheet
	Signals []Signal
	Place   Place // where it was defined, for messages
}

// Signal connects one instrument to one source.
type Signal struct {
	Role   Role
	Point  int // index into Sheet.Points for RolePoint
	Tag    string
	Source string
	Unit   string // unit of the value as written, for showing
	Spec   signal.Spec

	// Modbus.
	UnitID  int
	Table   string // "holding", "input", "coil", "discrete"
	Address int    // zero-based
	Type    string // "uint16", "int16", "uint32", "int32", "uint64", "int64", "float32", "float64", "bit"
	Order   string // "ABCD", "CDAB", "BADC", "DCBA"
	Bit     int

	EveryScan int // read at every n-th poll of the source

	// OPC UA.
	Node string // "nsu=urn:...;s=..." or "path:/{urn:...}Drum/LT-102" below the Objects folder

	// MQTT and Sparkplug B.
	Topic  string // of Sparkplug B: GROUP/NODE or GROUP/NODE/DEVICE
	Path   string // of the value in a payload; "": the payload is the value
	Metric string

	// Files in a folder and replay.
	Column string // of the file; the tag unless written

	Delay time.Duration // how long before its stamp a value was true

	// Shared says that the signal is defined on another gauge, under the same
	// tag, and is polled once only.
	Shared bool

	Place Place
}

// Route is one way alerts leave the box.
type Route struct {
	Name    string
	Kind    string // "webhook", "alertmanager", "smtp", "mqtt", "syslog"
	URL     string
	URLFrom Secret // in place of URL, for an address that is a secret itself
	Secret  Secret // webhook: HMAC key

	User     string
	Password Secret
	Token    Secret // sent as bearer token

	From  string   // smtp
	To    []string // smtp
	Topic string   // mqtt

	CAFile, CertFile, KeyFile string // TLS
	AcceptNoEncryption        bool   // must be said in words when the URL is not encrypted and not on this box

	Areas       []string      // only gauges of these areas; empty: all
	Gauges      []string      // only these; empty: all
	Watches     bool          // also findings that are only watched
	Ended       bool          // also tell when an alert has ended
	RepeatEvery time.Duration // remind while nobody has acknowledged; 0: never

	Place Place
}

// Address is where the route leads to: URL, or what URLFrom refers to.
func (r *Route) Address() string {
	if !r.URLFrom.IsZero() {
		return r.URLFrom.Reveal()
	}
	return r.URL
}

// User is a person who may log in from the first start on.
type User struct {
	Name         string
	FullName     string
	Role         string // "viewer", "technician", "engineer", "admin"
	PasswordHash Secret // argon2id in PHC form
	Place        Place
}

// Token lets a program in.
type Token struct {
	Name    string
	Role    string
	Value   Secret
	Expires time.Time // zero: never
	Place   Place
}

// QuietWindow keeps alerts from being sent for a stated time and reason.
type QuietWindow struct {
	Name   string
	Gauges []string
	Areas  []string
	Causes []string
	From   time.Time
	Until  time.Time
	Reason string
	Place  Place
}

// Pair shares the work of one box with a second one that stands by.
type Pair struct {
	URL         string // of a NATS server with JetStream
	Credentials string // file; "": none
	Bucket      string
	Holder      string // of this machine; "": its host name
	TTL         time.Duration
	Place       Place
}

// Influx forwards history to a central store.
type Influx struct {
	URL                string
	Org                string
	Bucket             string
	Token              Secret
	ReadToken          Secret // for the list of all boxes; Token when empty
	CAFile             string
	CatchUp            int           // points per second while an outage is made up for
	Batch              int           // points in one request
	Timeout            time.Duration // of one request
	AcceptNoEncryption bool
	Place              Place
}
