// Package store is where samples, levels, findings and records are kept. It
// has the neutral types and the contract; the engines live below it and must
// pass the conformance suite in storetest.
//
// What Append has returned nil for survives a killed process and a lost
// supply. Times are UTC with microsecond resolution.
package store

import (
	"context"
	"errors"
	"time"
)

// Error kinds. Engines wrap them; callers branch with errors.Is.
var (
	ErrFull     = errors.New("no space left for history") // polling and alerts go on, history stops
	ErrCorrupt  = errors.New("stored block is damaged")   // set aside, the rest opens
	ErrLocked   = errors.New("data directory is in use")  // another process has it open
	ErrNotFound = errors.New("not found")
	ErrInvalid  = errors.New("value cannot be stored")       // e.g. NaN without Bad quality
	ErrConflict = errors.New("document has a newer version") // somebody else changed it first
	ErrClosed   = errors.New("store is closed")
)

// Class says what a series holds; retention differs by class.
type Class uint8

// Classes.
const (
	Raw     Class = iota // samples before conversion
	Derived              // levels, gaps, budgets, densities
)

// Series describes one stored signal.
type Series struct {
	Gauge string // tag of the gauge, "" for a signal of no gauge
	Name  string // for raw: the tag of the signal; for derived: e.g. "float.level", "gap.float-transmitter", "budget.float-transmitter"
	Class Class
	Unit  string // "m", "Pa", "mA", ...
}

// ID is the number the store gave a series.
type ID uint32

// Erased is the reason of an absent value (quality 0) that takes back what was
// stored for its series and time: neither is returned any more. Followers of a
// Feed see it.
const Erased uint8 = 255

// Value is one value of a series within a scan.
type Value struct {
	ID      ID
	Value   float64   // ignored when Quality is neither 3 (uncertain) nor 4 (good)
	Quality uint8     // numbers of quantity.Quality
	Reason  uint8     // numbers of quantity.Reason
	Source  time.Time // source time, zero when none
}

// Scan is everything recorded at one scheduled instant.
type Scan struct {
	Time          time.Time
	ConfigVersion uint32
	Values        []Value
}

// Point is one stored value.
type Point struct {
	Time    time.Time
	Value   float64
	Quality uint8
	Reason  uint8
}

// MeanWithin bounds how far the mean of a bucket is off, in parts of the
// distance from its minimum to its maximum.
const MeanWithin = 2e-6

// Bucket is what one series did in one interval of a decimated trend. All
// series of one Trend share the same buckets. Minimum, maximum and counts are
// exact.
type Bucket struct {
	Min, Max, Sum float64
	Count         uint32 // usable values; 0: draw a gap
	Bad           uint32 // values that were not usable
}

// Trend is a decimated range: Columns[i][j] is series i in bucket j.
type Trend struct {
	From, To time.Time
	Step     time.Duration
	Columns  [][]Bucket
}

// Document is one record kept beside the trends: an episode, an alert's
// journal line, a maintenance record, a configuration version. Kind and ID
// name it; Body is JSON whose schema belongs to the kind.
type Document struct {
	Kind     string
	ID       string
	Gauge    string
	Time     time.Time // of the event
	Seq      int64     // given by the store, increasing
	Replaces int64     // Seq of the version before, 0: first
	Body     []byte
}

// Chain is what a walk along the hashes of all documents found.
type Chain struct {
	Documents int    // that are there and fit
	Pruned    int    // that passed their retention and are vouched for
	Hash      []byte // of the newest, which can be noted elsewhere
}

// Query selects documents. Empty fields do not restrict.
type Query struct {
	Kind     string
	ID       string
	Gauge    string
	From, To time.Time
	After    int64 // Seq greater than this
	Limit    int
	Latest   bool // only the newest version of each ID
	Newest   bool // newest first
}

// Store keeps history. All methods may be called from several goroutines.
type Store interface {
	// Register returns the IDs of series, making those it does not know.
	Register(ctx context.Context, series []Series) ([]ID, error)
	// Series lists all known series by ID.
	Series(ctx context.Context) (map[ID]Series, error)
	// Append records one scan. Late scans and repeated times are accepted; a
	// repeated (series, time) replaces the value.
	Append(ctx context.Context, scan Scan) error
	// Points returns the stored values of one series in [from, to).
	Points(ctx context.Context, id ID, from, to time.Time) ([]Point, error)
	// Last returns the newest value of each series at or before t.
	Last(ctx context.Context, ids []ID, t time.Time) ([]Point, error)
	// Trend returns at most width shared buckets for the series in [from, to).
	// The range is widened outward to whole buckets, which start at whole
	// multiples of the step since the Unix epoch, so that the same bucket
	// holds the same values however often it is asked for. width is at least 2.
	Trend(ctx context.Context, ids []ID, from, to time.Time, width int) (Trend, error)
	// Put stores a new version of a document and returns its sequence number.
	// With Replaces set it is ErrConflict unless that is the newest version
	// of (Kind, ID); with Replaces 0 the store links it to the newest.
	Put(ctx context.Context, d Document) (int64, error)
	// Documents returns what matches, oldest first unless Newest is set.
	Documents(ctx context.Context, q Query) ([]Document, error)
	// Close flushes and closes. Calling it twice is harmless.
	Close() error
}

// BatchAppender is a store that records several scans in one durable step:
// all of them or none.
type BatchAppender interface {
	AppendBatch(ctx context.Context, scans []Scan) error
}

// Cursor is how far a follower of a Feed has come. The zero Cursor is the
// beginning of history. Its fields belong to the store.
type Cursor struct {
	Seq      int64 // all newer scans are still to come
	Archived int64 // archived days that ended up to here are done
	Day      int64 // inside an archived day: its number, ...
	Series   ID    // ... done up to this series, ...
	Through  int64 // ... and Archived once the day is done
}

// Feed is a store that can be followed: every scan in the order of arrival,
// late and corrected ones included, however long ago the follower stopped.
type Feed interface {
	// Series lists all known series by ID.
	Series(ctx context.Context) (map[ID]Series, error)
	// Changes returns about limit values that came after a cursor, and the
	// cursor behind them. It returns no scans when there is nothing new. After
	// a long stop values may come twice; (series, time) tells.
	Changes(ctx context.Context, after Cursor, limit int) ([]Scan, Cursor, error)
	// Cursor returns where the named follower stands, and SetCursor records
	// it durably. The store keeps what its followers have not seen.
	Cursor(ctx context.Context, name string) (Cursor, error)
	SetCursor(ctx context.Context, name string, c Cursor) error
	// Waiting returns the time of the oldest scan after a cursor; the zero
	// time when there is none.
	Waiting(ctx context.Context, after Cursor) (oldest time.Time, rows int64, err error)
}

// Parcel is a message that has to reach the outside, such as the call of a web
// hook, however often that takes.
type Parcel struct {
	ID    int64  // given by the store
	Kind  string // who delivers it
	Body  []byte // JSON whose schema belongs to the kind
	Due   time.Time
	Tries int    // unsuccessful ones
	Error string // of the last one
}

// Outbox is a store that keeps messages together with the documents they tell
// of, until they are delivered.
type Outbox interface {
	// PutAll stores documents and parcels in one durable step.
	PutAll(ctx context.Context, docs []Document, parcels []Parcel) ([]int64, error)
	// Due returns parcels of a kind whose time has come, the longest due first.
	Due(ctx context.Context, kind string, now time.Time, limit int) ([]Parcel, error)
	// Delivered removes a parcel.
	Delivered(ctx context.Context, id int64) error
	// Failed notes an unsuccessful try and when to try again.
	Failed(ctx context.Context, id int64, again time.Time, reason string) error
}
