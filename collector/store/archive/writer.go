package archive

import (
	"fmt"
	"io"
	"slices"

	"github.com/parquet-go/parquet-go"

	"bridlewatch/collector/store"
)

// Writer writes one file. It is used by one goroutine.
type Writer struct {
	kind   Kind
	out    *parquet.GenericWriter[any]
	tail   *tail
	values []parquet.Value
}

// NewWriter starts a file of kind k for one class and UTC day.
func NewWriter(w io.Writer, k Kind, class store.Class, day string) *Writer {
	t := &tail{out: w}
	return &Writer{kind: k, tail: t, out: parquet.NewGenericWriter[any](t, schemaOf(k),
		parquet.Compression(&parquet.Zstd),
		parquet.PageBufferSize(1<<20),
		parquet.DataPageStatistics(false), // the footer has them
		parquet.SkipPageBounds("config"), parquet.SkipPageBounds("quality"), parquet.SkipPageBounds("reason"),
		parquet.SkipPageBounds("source_time"), parquet.SkipPageBounds("unit"),
		parquet.CreatedBy("bridlewatch", "1", ""),
		parquet.KeyValueMetadata("bridlewatch.format", Format),
		parquet.KeyValueMetadata("bridlewatch.class", ClassName(class)),
		parquet.KeyValueMetadata("bridlewatch.day", day),
	)}
}

// Write adds the samples of one series as one row group. They are in order of
// time and fit the kind of the file.
func (w *Writer) Write(series store.Series, samples []Sample) error {
	w.values = slices.Grow(w.values[:0], len(samples))[:len(samples)]
	for c, fill := range w.fillers(series) {
		fill(w.values, samples)
		if _, err := w.out.ColumnWriters()[c].WriteRowValues(w.values); err != nil {
			return fmt.Errorf("archive %s %s: %w", series.Gauge, series.Name, err)
		}
	}
	if err := w.out.Flush(); err != nil {
		return fmt.Errorf("archive %s %s: %w", series.Gauge, series.Name, err)
	}
	return nil
}

// filler puts one column of samples into values of the same length.
type filler func(values []parquet.Value, samples []Sample)

func (w *Writer) fillers(series store.Series) [columns]filler {
	return [columns]filler{
		colConfig:  small(func(s *Sample) int32 { return int32(s.Config) }),
		colGauge:   text(series.Gauge),
		colQuality: small(func(s *Sample) int32 { return int32(s.Quality) }),
		colReason:  small(func(s *Sample) int32 { return int32(s.Reason) }),
		colSignal:  text(series.Name),
		colSource:  fillSources,
		colTime:    fillTimes,
		colUnit:    text(series.Unit),
		colValue:   w.fillValues,
	}
}

// text repeats one string.
func text(s string) filler {
	v := parquet.ByteArrayValue([]byte(s))
	return func(values []parquet.Value, _ []Sample) {
		for i := range values {
			values[i] = v
		}
	}
}

// small writes numbers that mostly do not change.
func small(of func(*Sample) int32) filler {
	return func(values []parquet.Value, samples []Sample) {
		last, v := int32(0), parquet.Int32Value(0)
		for i := range samples {
			if n := of(&samples[i]); n != last {
				last, v = n, parquet.Int32Value(n)
			}
			values[i] = v
		}
	}
}

func fillTimes(values []parquet.Value, samples []Sample) {
	for i := range samples {
		values[i] = parquet.Int64Value(samples[i].At)
	}
}

func fillSources(values []parquet.Value, samples []Sample) {
	for i := range samples {
		values[i] = parquet.Value{}
		if s := &samples[i]; s.Source != NoSource {
			values[i] = parquet.Int64Value(s.At+s.Source).Level(0, 1, colSource)
		}
	}
}

func (w *Writer) fillValues(values []parquet.Value, samples []Sample) {
	for i := range samples {
		values[i] = parquet.Value{}
		if s := &samples[i]; s.Usable() {
			values[i] = w.number(s.Value).Level(0, 1, colValue)
		}
	}
}

func (w *Writer) number(v float64) parquet.Value {
	switch {
	case w.kind <= maxPlaces:
		n, _ := decimal(v, w.kind)
		return parquet.Int64Value(n)
	case w.kind == Float:
		return parquet.FloatValue(float32(v))
	default:
		return parquet.DoubleValue(v)
	}
}

// Close writes the footer; the underlying writer stays open.
func (w *Writer) Close() error {
	w.tail.holds = true
	if err := w.out.Close(); err != nil {
		return fmt.Errorf("archive: %w", err)
	}
	return w.tail.release()
}
