package pair

import (
	"bytes"
	"fmt"
	"io"

	"github.com/klauspost/compress/zstd"
)

// A bucket takes values of a megabyte; the state of a thousand gauges is
// larger than that as text.

func pack(state []byte) ([]byte, error) {
	var b bytes.Buffer
	w, err := zstd.NewWriter(&b)
	if err != nil {
		return nil, fmt.Errorf("pair: compress: %w", err)
	}
	if _, err := w.Write(state); err != nil {
		return nil, fmt.Errorf("pair: compress: %w", err)
	}
	if err := w.Close(); err != nil {
		return nil, fmt.Errorf("pair: compress: %w", err)
	}
	return b.Bytes(), nil
}

func unpack(packed []byte) ([]byte, error) {
	r, err := zstd.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil, fmt.Errorf("pair: state of the other box: %w", err)
	}
	defer r.Close()
	state, err := io.ReadAll(r)
	if err != nil {
		return nil, fmt.Errorf("pair: state of the other box: %w", err)
	}
	return state, nil
}
