// Package config loads, checks and prints the configuration.
//
// A Config is complete: every default is filled in, every unit converted,
// every reference resolved. It is the only form the rest of the program sees.
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
	Sources []Source
	Gauges  []Gauge
	Notify  []Route
	Influx  *Influx

	Version string // hash of the effective configuration, secrets excluded
}

// Site is the place.
type Site struct {
	Name                string
	Box                 string // name of this edge box
	TimeZone            *time.Location
	AtmosphericPressure quantity.Pressure
}

// Service is the process itself.
type Service struct {
	Listen      string // "127.0.0.1:8080"
	ExternalURL string // for links in messages
	BasePath    string
	LogLevel    string
	ScanEvery   time.Duration // the tick all gauges are compared at
	ReadOnly    bool          // no records, no acknowledgements by page
	TLSCert     string
	TLSKey      string
	OpenAccess  bool // no login on a loopback listener
}

// Store is where history goes.
type Store struct {
	Dir           string
	KeepRaw       time.Duration // 0: for ever
	KeepLevels    time.Duration
	KeepSummaries time.Duration
	MaxBytes      int64
}

// Protocol of a source.
type Protocol string

// Protocols.
const (
	ModbusTCP     Protocol = "modbus-tcp"
	ModbusRTU     Protocol = "modbus-rtu"
	ModbusRTUTCP  Protocol = "modbus-rtu-over-tcp"
	OPCUA         Protocol = "opc-ua"
	ReplayHistory Protocol = "history" // columns of files, for replay
)

// Source is one endpoint that is polled.
type Source struct {
	Name     string
	Protocol Protocol
	Every    time.Duration // poll interval
	Timeout  time.Duration // of one request
	MaxAge   time.Duration // after which its values are stale

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
	MaxGap                int // registers read in vain to save a request; -1: none

	// OPC UA.
	Endpoint          string
	SecurityPolicy    string // "None", "Basic256Sha256", "Aes128_Sha256_RsaOaep", "Aes256_Sha256_RsaPss"
	SecurityMode      string // "None", "Sign", "SignAndEncrypt"
	AcceptNoSecurity  bool   // must be said in words when the policy is None
	User              string
	Password          Secret
	CertFile, KeyFile string // user certificate
	ServerThumbprint  string // SHA-256 of the server's certificate, hex
	Subscribe         bool
	SamplingEvery     time.Duration
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
	Unit   string // unit of the raw value as written, for showing
	Spec   signal.Spec

	// Modbus.
	UnitID  int
	Table   string // "holding", "input", "coil", "discrete"
	Address int    // zero-based
	Type    string // "uint16", "int16", "uint32", "int32", "uint64", "int64", "float32", "float64", "bit"
	Order   string // "ABCD", "CDAB", "BADC", "DCBA"
	Bit     int

	// OPC UA.
	Node string // "nsu=urn:...;s=..." or "path:/Objects/..."

	// Replay.
	Column string

	Place Place
}

// Route is one way alerts leave the box.
type Route struct {
	Name   string
	Kind   string // "webhook"
	URL    string
	Secret Secret // HMAC key
}

// Influx forwards history to a central store.
type Influx struct {
	URL    string
	Org    string
	Bucket string
	Token  Secret
}

// Place is a position in a configuration file.
type Place struct {
	File         string
	Line, Column int
	Path         string
}

// Secret is a value that no printer shows. It is written in a configuration
// only as a reference: "env:NAME", "file:PATH" or "credential:NAME".
type Secret struct {
	Reference string
	value     string
}

// Reveal returns the secret itself.
func (s Secret) Reveal() string { return s.value }

// String never shows the value.
func (s Secret) String() string {
	if s.Reference == "" {
		return ""
	}
	return "<secret from " + s.Reference + ">"
}

// GoString never shows the value.
func (s Secret) GoString() string { return s.String() }

// MarshalText never shows the value.
func (s Secret) MarshalText() ([]byte, error) { return []byte(s.String()), nil }
