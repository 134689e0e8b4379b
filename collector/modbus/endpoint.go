package modbus

import (
	"cmp"
	"errors"
	"fmt"
	"time"
)

// Framing is how requests and answers are wrapped on the way.
type Framing string

// The framings. An endpoint has exactly one.
const (
	TCP        Framing = "tcp"          // Modbus TCP, with transaction identifiers
	RTU        Framing = "rtu"          // RTU frames on a serial port
	RTUOverTCP Framing = "rtu-over-tcp" // RTU frames through a TCP connection, as serial servers pass them
)

// Limits of the protocol (Modbus Application Protocol Specification V1.1b3,
// clauses 6.1 to 6.4).
const (
	MaxRegisters = 125
	MaxBits      = 2000
)

// Endpoint is one connection: a host and port or a serial line, with every
// unit behind it.
type Endpoint struct {
	Name    string
	Framing Framing
	Address string // "host:port", or the serial device

	Baud     int    // RTU; 0 means 19200
	Parity   string // RTU: "even" (default), "odd", "none"
	StopBits int    // RTU: 1 or 2; 0 means 1, or 2 without parity

	Timeout              time.Duration // of one answer; 0 means 1 s
	PauseBetweenRequests time.Duration // RTU keeps the silent interval of the line in any case
	PauseAfterConnect    time.Duration
	CloseAfterCycle      bool // lets other masters in between two scans
	// IgnoreTransactionID is for gateways that do not echo the transaction
	// identifier. A late answer can then be told only by its shape, so the
	// rules of RTU apply: quiet time after a timeout, a fence before the unit
	// is read again.
	IgnoreTransactionID bool

	MaxRegisters int // per request; 0 means 125
	MaxBits      int // per request; 0 means 2000
	// MaxGap is how many registers (or 16-fold bits) may be read in vain
	// between two fields. 0 means as many as pay off, -1 none.
	MaxGap    int
	Forbidden []Span // addresses that must not be read
	Aim       Aim    // what the planner saves first; empty means requests, and time on a serial line
	// Turnaround is how long a device usually takes to answer. It only
	// serves the planner. 0 means 5 ms.
	Turnaround time.Duration

	BreakAfter int           // timeouts in a row before a unit is left alone; 0 means 3
	ProbeEvery time.Duration // how often a unit left alone is tried in the long run; 0 means 30 s
	Reprobe    time.Duration // how often a refused address is tried again at the latest; 0 means 24 h
}

// Span is a range of addresses of one unit and table: From <= a < To.
type Span struct {
	UnitID   int
	Table    Table
	From, To int
}

// withDefaults fills in what was left out.
func (e Endpoint) withDefaults() Endpoint {
	e.Baud = cmp.Or(e.Baud, 19200)
	e.Parity = cmp.Or(e.Parity, "even")
	if e.StopBits == 0 {
		e.StopBits = 1
		if e.Parity == "none" {
			e.StopBits = 2 // Modbus over Serial Line V1.02, clause 2.5.1: eleven bits a character
		}
	}
	e.Timeout = cmp.Or(e.Timeout, time.Second)
	e.MaxRegisters = cmp.Or(e.MaxRegisters, MaxRegisters)
	e.MaxBits = cmp.Or(e.MaxBits, MaxBits)
	e.Turnaround = cmp.Or(e.Turnaround, 5*time.Millisecond)
	if e.Aim == "" {
		e.Aim = FewestRequests
		if e.Framing == RTU {
			e.Aim = LeastTime
		}
	}
	e.BreakAfter = cmp.Or(e.BreakAfter, 3)
	e.ProbeEvery = cmp.Or(e.ProbeEvery, 30*time.Second)
	e.Reprobe = cmp.Or(e.Reprobe, 24*time.Hour)
	return e
}

// Validate reports everything that is wrong with the endpoint.
func (e Endpoint) Validate() error {
	e = e.withDefaults()
	var errs []error
	complain := func(wrong bool, format string, args ...any) {
		if wrong {
			errs = append(errs, fmt.Errorf("modbus %s: "+format, append([]any{e.Name}, args...)...))
		}
	}
	complain(e.Name == "", "an endpoint needs a name")
	complain(e.Address == "", "address is missing; give host:port or a serial device")
	switch e.Framing {
	case TCP, RTUOverTCP:
	case RTU:
		complain(e.Baud < 50 || e.Baud > 4_000_000, "baud rate %d is unusual; use 1200 to 115200", e.Baud)
		complain(e.Parity != "none" && e.Parity != "even" && e.Parity != "odd", "parity %q is unknown; use none, even or odd", e.Parity)
		complain(e.StopBits != 1 && e.StopBits != 2, "%d stop bits; use 1 or 2", e.StopBits)
	default:
		complain(true, "framing %q is unknown; use tcp, rtu or rtu-over-tcp", e.Framing)
	}
	complain(e.IgnoreTransactionID && e.Framing != TCP, "only framing tcp has transaction identifiers to ignore")
	complain(e.Timeout < time.Millisecond || e.Timeout > time.Minute, "timeout %v; use 1 ms to 1 min", e.Timeout)
	complain(e.PauseBetweenRequests < 0 || e.PauseAfterConnect < 0, "a pause cannot be negative")
	complain(e.MaxRegisters < 1 || e.MaxRegisters > MaxRegisters, "max registers %d; the protocol allows 1 to %d", e.MaxRegisters, MaxRegisters)
	complain(e.MaxBits < 1 || e.MaxBits > MaxBits, "max bits %d; the protocol allows 1 to %d", e.MaxBits, MaxBits)
	complain(e.MaxGap < -1, "max gap %d; use -1 for none", e.MaxGap)
	complain(e.BreakAfter < 1, "break after %d timeouts; use 1 or more", e.BreakAfter)
	complain(e.ProbeEvery < 0 || e.Reprobe < 0, "a probe interval cannot be negative")
	complain(e.Aim != FewestRequests && e.Aim != LeastTime, "aim %q is unknown; use %s or %s", e.Aim, FewestRequests, LeastTime)
	return errors.Join(errs...)
}

// Conflicts finds endpoints that cannot be used side by side: one address in
// two framings, of which one answers by chance at best, and one address
// twice, which takes two of the few connections a device allows and lets two
// masters talk on one serial line.
func Conflicts(endpoints []Endpoint) []error {
	var errs []error
	first := map[string]Endpoint{}
	for _, e := range endpoints {
		other, taken := first[e.Address]
		switch {
		case !taken:
			first[e.Address] = e
		case other.Framing != e.Framing:
			errs = append(errs, fmt.Errorf("modbus: %s is %s in %s and %s in %s; find out with `bridlewatch probe` which one answers", e.Address, other.Framing, other.Name, e.Framing, e.Name))
		default:
			errs = append(errs, fmt.Errorf("modbus: %s and %s are the same endpoint %s; make them one source, its units share the connection", other.Name, e.Name, e.Address))
		}
	}
	return errs
}

// stream says that bytes come without transaction identifiers to sort them
// by.
func (e Endpoint) stream() bool { return e.Framing != TCP || e.IgnoreTransactionID }
