package archive

import (
	"bytes"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/klauspost/compress/zstd"
	"github.com/parquet-go/parquet-go"
)

// split lays values down as BYTE_STREAM_SPLIT does (Apache Parquet format,
// Encodings.md, "Byte Stream Split").
func split(values []float32) []byte {
	out := make([]byte, 4*len(values))
	for i, v := range values {
		bits := math.Float32bits(v)
		for k := range 4 {
			out[k*len(values)+i] = byte(bits >> (8 * k))
		}
	}
	return out
}

// swing is a slow swing with noise of 0.3 % of the span.
func swing(n int) []float32 {
	r := rand.New(rand.NewPCG(1, 2))
	out := make([]float32, n)
	for i := range out {
		out[i] = float32(12 + 4*math.Sin(float64(i)/2000) + 0.05*r.NormFloat64())
	}
	return out
}

// Whatever a page is like, what comes out is one zstd frame that any decoder
// turns back into it.
func TestPlanesArePlainZstd(t *testing.T) {
	dec, err := zstd.NewReader(nil)
	if err != nil {
		t.Fatal(err)
	}
	defer dec.Close()
	odd := split(swing(1000))
	for name, page := range map[string][]byte{
		"empty": {}, "one byte": {7}, "not whole values": odd[:3999], "one value": split(swing(1)), "a day": split(swing(8640)), "a day of seconds": split(swing(86400)),
	} {
		for _, width := range []int{4, 8} {
			packed, err := newPlanes(width).Encode(nil, page)
			if err != nil {
				t.Fatal(err)
			}
			got, err := dec.DecodeAll(packed, nil)
			if err != nil || !bytes.Equal(got, page) {
				t.Errorf("%s, width %d: %d bytes come back as %d, error %v", name, width, len(page), len(got), err)
			}
			var h zstd.Header
			if err := h.Decode(packed); len(page) > 0 && (err != nil || bytes.Count(packed, []byte{0x28, 0xb5, 0x2f, 0xfd}) != 1) {
				t.Errorf("%s, width %d: not one frame of zstd: %v", name, width, err)
			}
		}
	}
}

// The reason for it: a sixth less than zstd over the whole page.
func TestPlanesAreSmaller(t *testing.T) {
	page := split(swing(8640))
	whole, err := parquet.Zstd.Encode(nil, page)
	if err != nil {
		t.Fatal(err)
	}
	packed, err := newPlanes(4).Encode(nil, page)
	if err != nil {
		t.Fatal(err)
	}
	if float64(len(packed)) > 0.86*float64(len(whole)) {
		t.Errorf("%d bytes, the whole page at once %d; want less than 86 %%", len(packed), len(whole))
	}
}

func BenchmarkPlanes(b *testing.B) {
	page := split(swing(8640))
	var out []byte
	b.SetBytes(int64(len(page)))
	b.ReportAllocs()
	for b.Loop() {
		out, _ = newPlanes(4).Encode(out[:0], page)
	}
	b.ReportMetric(float64(len(out))/8640, "B/value")
}
