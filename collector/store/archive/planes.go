package archive

import (
	"bytes"
	"fmt"
	"sync"

	"github.com/klauspost/compress/zstd"
	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/compress"
)

// planes is zstd for a page of split bytes: BYTE_STREAM_SPLIT puts the first
// bytes of all values first, then all second bytes, and so on. Noise in the low
// bytes does not compress, the high bytes do, and one block of zstd has one
// table of symbols, which would fit neither. So a block ends where a plane of
// bytes ends, and now and then within the high ones, since a level moves. The
// result is plain zstd, which every reader of Parquet knows.
type planes struct {
	compress.Codec     // its name, and how it is read
	width          int // bytes of a value
}

// planeBlock is how many high bytes share a table of symbols.
const planeBlock = 512

func newPlanes(width int) planes { return planes{&parquet.Zstd, width} }

// encoders are costly to make.
var encoders = sync.Pool{New: func() any {
	e, err := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithEncoderLevel(zstd.SpeedDefault),
		zstd.WithWindowSize(64<<10), zstd.WithEncoderCRC(false), zstd.WithZeroFrames(true))
	if err != nil {
		panic(err) // the options are constants
	}
	return e
}}

// Encode compresses a page of values.
func (p planes) Encode(dst, src []byte) ([]byte, error) {
	out := bytes.NewBuffer(dst[:0])
	enc := encoders.Get().(*zstd.Encoder)
	defer encoders.Put(enc)
	enc.Reset(out)
	size := max(1, len(src)/p.width)
	for n := 0; len(src) > 0; n++ {
		plane := src[:min(size, len(src))]
		src = src[len(plane):]
		block := len(plane)
		if n >= p.width/2 {
			block = planeBlock
		}
		if err := writeBlocks(enc, plane, block); err != nil {
			return nil, fmt.Errorf("compress values: %w", err)
		}
	}
	if err := enc.Close(); err != nil {
		return nil, fmt.Errorf("compress values: %w", err)
	}
	return out.Bytes(), nil
}

func writeBlocks(enc *zstd.Encoder, plane []byte, size int) error {
	for len(plane) > 0 {
		n := min(size, len(plane))
		if _, err := enc.Write(plane[:n]); err != nil {
			return err
		}
		if err := enc.Flush(); err != nil {
			return err
		}
		plane = plane[n:]
	}
	return nil
}
