package exchange

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"slices"

	"github.com/parquet-go/parquet-go"
)

// WriteParquet writes the table with a column time_utc, TIMESTAMP(MICROS,
// UTC), and one optional DOUBLE for each column; qualities are optional
// UINT_8. The description is in the file's metadata as "bridlewatch.table".
func (t Table) WriteParquet(ctx context.Context, s Source, w io.Writer, about Sidecar) (rows int, err error) {
	if err := t.check(); err != nil {
		return 0, err
	}
	meta, err := json.Marshal(about)
	if err != nil {
		return 0, fmt.Errorf("write Parquet: %w", err)
	}
	group, place := t.parquetSchema()
	out := parquet.NewGenericWriter[any](w, parquet.NewSchema("table", group), parquet.Compression(&parquet.Zstd),
		parquet.CreatedBy("bridlewatch", "1", ""), parquet.KeyValueMetadata("bridlewatch.table", string(meta)))
	buffers := make([][]parquet.Value, len(group))
	flush := func() error {
		for c, values := range buffers {
			if _, err := out.ColumnWriters()[c].WriteRowValues(values); err != nil {
				return err
			}
			buffers[c] = values[:0]
		}
		return out.Flush()
	}
	put := func(name string, v parquet.Value, level int) {
		c := place[name]
		buffers[c] = append(buffers[c], v.Level(0, level, c))
	}
	err = t.rows(ctx, s, func(r row) error {
		rows++
		put(timeUTC, parquet.Int64Value(r.at.UnixMicro()), 0)
		for i, p := range r.cells {
			c := t.Columns[i]
			if usable(p) {
				put(c.Header(), parquet.DoubleValue(c.convert(p.Value)), 1)
			} else {
				put(c.Header(), parquet.NullValue(), 0)
			}
			switch {
			case !t.Quality:
			case p.Time.IsZero():
				put(c.Name+"_quality", parquet.NullValue(), 0)
			default:
				put(c.Name+"_quality", parquet.Int32Value(int32(p.Quality)), 1)
			}
		}
		if rows%100_000 == 0 {
			return flush()
		}
		return nil
	})
	if err == nil {
		err = flush()
	}
	if err == nil {
		err = out.Close()
	}
	if err != nil {
		return rows, fmt.Errorf("write Parquet: %w", err)
	}
	return rows, nil
}

// parquetSchema returns the columns and their places, which are alphabetical.
func (t Table) parquetSchema() (parquet.Group, map[string]int) {
	group := parquet.Group{timeUTC: parquet.Encoded(parquet.Timestamp(parquet.Microsecond), &parquet.DeltaBinaryPacked)}
	for _, c := range t.Columns {
		group[c.Header()] = parquet.Optional(parquet.Encoded(parquet.Leaf(parquet.DoubleType), &parquet.ByteStreamSplit))
		if t.Quality {
			group[c.Name+"_quality"] = parquet.Optional(parquet.Encoded(parquet.Uint(8), &parquet.DeltaBinaryPacked))
		}
	}
	names := make([]string, 0, len(group))
	for name := range group {
		names = append(names, name)
	}
	slices.Sort(names)
	place := map[string]int{}
	for i, name := range names {
		place[name] = i
	}
	return group, place
}
