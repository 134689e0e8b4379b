// Package archive is the open file format of finished days: Parquet, one row
// group for each series, that any engine reads without this program.
//
// A file has these columns:
//
//	time         TIMESTAMP(MICROS, UTC)  the scheduled instant
//	value        see Kind; null when the quality is not usable
//	gauge        STRING                  tag of the gauge
//	signal       STRING                  tag of the signal, or name of the derived quantity
//	unit         STRING
//	quality      UINT_8                  0 absent, 1 bad, 2 stale, 3 uncertain, 4 good
//	reason       UINT_8                  numbers of quantity.Reason
//	config       UINT_32                 configuration version
//	source_time  TIMESTAMP(MICROS, UTC)  the device's own time; null when it gave none
//
// Values that are decimals of at most six places are DECIMAL, so that they
// pack as the integers they are; the others are FLOAT where that is exact and
// DOUBLE otherwise. An engine that unites files by column name sees one
// numeric column.
package archive

import (
	"fmt"
	"math"

	"github.com/parquet-go/parquet-go"

	"bridlewatch/collector/store"
)

// Format is the version of the layout, in the file's metadata as
// "bridlewatch.format". It changes when a reader of the old one would fail.
const Format = "1"

// NoSource marks a sample without a source time.
const NoSource = math.MinInt64

// Sample is one value of a series.
type Sample struct {
	At      int64 // microseconds since 1970 UTC
	Seq     int64 // order of arrival, 0 for archived; not kept in a file
	Value   float64
	Source  int64 // microseconds after At, or NoSource
	Config  uint32
	Quality uint8
	Reason  uint8
}

// Usable says whether the sample has a value.
func (s Sample) Usable() bool { return s.Quality == 3 || s.Quality == 4 }

// Kind is how the values of a file are laid down: as decimals of 0 to 6
// places, or as floating-point numbers of 4 or 8 bytes.
type Kind uint8

// Kinds beyond the decimal ones, which are the number of places.
const (
	maxPlaces      = 6
	Float     Kind = 7
	Double    Kind = 8
)

// Kinds is how many kinds there are.
const Kinds = 9

func (k Kind) String() string {
	switch {
	case k <= maxPlaces:
		return fmt.Sprintf("d%d", uint8(k))
	case k == Float:
		return "f4"
	default:
		return "f8"
	}
}

var powers = [maxPlaces + 1]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6}

// decimal returns v as an integer number of 10^-places; ok only if that is
// exactly v again.
func decimal(v float64, places Kind) (n int64, ok bool) {
	r := math.Round(v * powers[places])
	if math.Abs(r) > 1<<52 || r/powers[places] != v {
		return 0, false
	}
	return int64(r), true
}

// KindOf returns the most compact kind that holds every usable value of
// samples exactly.
func KindOf(samples []Sample) Kind {
	k := Kind(0)
	for _, s := range samples {
		if s.Usable() {
			k = k.widen(s.Value)
		}
	}
	if k > maxPlaces && allFloat(samples) {
		return Float
	}
	return k
}

// widen returns the first kind from k on that holds v, passing over Float.
func (k Kind) widen(v float64) Kind {
	for k <= maxPlaces {
		if _, ok := decimal(v, k); ok {
			return k
		}
		k++
	}
	return Double
}

func allFloat(samples []Sample) bool {
	for _, s := range samples {
		if s.Usable() && float64(float32(s.Value)) != s.Value {
			return false
		}
	}
	return true
}

// Columns in the order of the file, which is alphabetical.
const (
	colConfig = iota
	colGauge
	colQuality
	colReason
	colSignal
	colSource
	colTime
	colUnit
	colValue
	columns
)

// schemaOf returns the layout of a file of kind k.
func schemaOf(k Kind) *parquet.Schema {
	text := parquet.Compressed(parquet.Encoded(parquet.String(), &parquet.RLEDictionary), &parquet.Uncompressed) // a few bytes
	small := parquet.Encoded(parquet.Uint(8), &parquet.DeltaBinaryPacked)
	instant := parquet.Encoded(parquet.Timestamp(parquet.Microsecond), &parquet.DeltaBinaryPacked)
	return parquet.NewSchema("bridlewatch", parquet.Group{
		"config":      parquet.Encoded(parquet.Uint(32), &parquet.DeltaBinaryPacked),
		"gauge":       text,
		"quality":     small,
		"reason":      small,
		"signal":      text,
		"source_time": parquet.Optional(instant),
		"time":        instant,
		"unit":        text,
		"value":       parquet.Optional(valueNode(k)),
	})
}

func valueNode(k Kind) parquet.Node {
	switch {
	case k <= maxPlaces:
		return parquet.Encoded(parquet.Decimal(int(k), 18, parquet.Int64Type), &parquet.DeltaBinaryPacked)
	case k == Float:
		return parquet.Compressed(parquet.Encoded(parquet.Leaf(parquet.FloatType), &parquet.ByteStreamSplit), newPlanes(4))
	default:
		return parquet.Compressed(parquet.Encoded(parquet.Leaf(parquet.DoubleType), &parquet.ByteStreamSplit), newPlanes(8))
	}
}

// ClassName is the name of a class in paths and metadata.
func ClassName(c store.Class) string {
	if c == store.Raw {
		return "raw"
	}
	return "derived"
}
