package archive

import (
	"bytes"
	"testing"

	"github.com/parquet-go/parquet-go"

	"bridlewatch/collector/store"
)

// The footer says of a column what an index of its one page would say, so
// files have none.
func TestFooterWithoutIndices(t *testing.T) {
	var file bytes.Buffer
	w := NewWriter(&file, 2, store.Raw, "2026-11-01")
	for n := range 3 {
		samples := make([]Sample, 100)
		for i := range samples {
			samples[i] = Sample{At: int64(i) * 1e6, Value: float64(n*100+i) / 100, Source: NoSource, Quality: 4}
		}
		if err := w.Write(store.Series{Gauge: "LG-1", Name: "LT", Unit: "mA"}, samples); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	f, err := parquet.OpenFile(bytes.NewReader(file.Bytes()), int64(file.Len()))
	if err != nil {
		t.Fatal(err)
	}
	if n := len(f.ColumnIndexes()) + len(f.OffsetIndexes()); n > 0 {
		t.Errorf("%d indices of pages, want none", n)
	}
	end := int64(0)
	for n, g := range f.Metadata().RowGroups {
		for _, c := range g.Columns {
			first := c.MetaData.DataPageOffset
			if d := c.MetaData.DictionaryPageOffset; d > 0 {
				first = d
			}
			end = max(end, first+c.MetaData.TotalCompressedSize)
		}
		value := g.Columns[colValue].MetaData.Statistics
		if len(value.MinValue) != 8 || value.MinValue[0] != byte(n*100) {
			t.Errorf("series %d: least value % x in the footer, want %d", n, value.MinValue, n*100)
		}
	}
	raw := file.Bytes()
	size := int64(raw[len(raw)-8]) | int64(raw[len(raw)-7])<<8
	if gap := int64(file.Len()) - footerEnd - size - end; gap != 0 {
		t.Errorf("%d bytes between values and footer, want none", gap)
	}
}
