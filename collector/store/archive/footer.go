package archive

import (
	"encoding/binary"
	"fmt"
	"io"

	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
)

// tail holds back what is written while a file is closed: indices of pages and
// the footer.
type tail struct {
	out     io.Writer
	written int64 // bytes that went through
	holds   bool
	held    []byte
}

func (t *tail) Write(p []byte) (int, error) {
	if t.holds {
		t.held = append(t.held, p...)
		return len(p), nil
	}
	n, err := t.out.Write(p)
	t.written += int64(n)
	return n, err
}

const footerEnd = 8 // length and magic number

// release writes what was held back, without the indices: a column of a series
// is one page, so an index of pages would only repeat what the footer says of
// the column. A file of many short columns is mostly footer.
func (t *tail) release() error {
	end := len(t.held) - footerEnd
	if end < 0 {
		return fmt.Errorf("archive footer: %d bytes", len(t.held))
	}
	size := int(binary.LittleEndian.Uint32(t.held[end:]))
	if size > end {
		return fmt.Errorf("archive footer: %d bytes of %d", size, end)
	}
	var meta format.FileMetaData
	protocol := new(thrift.CompactProtocol)
	if err := thrift.Unmarshal(protocol, t.held[end-size:end], &meta); err != nil {
		return fmt.Errorf("archive footer: %w", err)
	}
	data := dropIndices(&meta, t.written+int64(end-size)) - t.written
	if data < 0 || data > int64(end-size) {
		return fmt.Errorf("archive footer: indices at %d, held back from %d", data+t.written, t.written)
	}
	footer, err := thrift.Marshal(protocol, &meta)
	if err != nil {
		return fmt.Errorf("archive footer: %w", err)
	}
	footer = binary.LittleEndian.AppendUint32(footer, uint32(len(footer)))
	for _, part := range [][]byte{t.held[:data], footer, t.held[end+4:]} {
		if _, err := t.out.Write(part); err != nil {
			return fmt.Errorf("archive footer: %w", err)
		}
	}
	return nil
}

// dropIndices takes what readers do not need out of meta, and returns where
// the indices begin; end when there are none.
func dropIndices(meta *format.FileMetaData, end int64) int64 {
	for g := range meta.RowGroups {
		for c := range meta.RowGroups[g].Columns {
			chunk := &meta.RowGroups[g].Columns[c]
			for _, at := range []int64{chunk.ColumnIndexOffset, chunk.OffsetIndexOffset} {
				if at > 0 {
					end = min(end, at)
				}
			}
			chunk.ColumnIndexOffset, chunk.ColumnIndexLength = 0, 0
			chunk.OffsetIndexOffset, chunk.OffsetIndexLength = 0, 0
			chunk.MetaData.EncodingStats = nil
			chunk.MetaData.SizeStatistics = format.SizeStatistics{}
		}
	}
	return end
}
