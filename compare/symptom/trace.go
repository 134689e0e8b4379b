package symptom

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
)

// Mark is the mean of all channels over one step of a Trace. A channel without
// a value is NaN.
type Mark struct {
	At      int64             // Unix seconds of its end
	Level   [Channels]float32 // mm
	Density [Channels]float32 // mm per standard uncertainty of the liquid's density
	Ratio   float32           // mean density ratio of gauge.Measurement; NaN: not known
	Rate    float32           // mm/s, signed, of the level
}

// Trace keeps the means of the last steps in a ring. The zero value must be
// given a Step and a Size with Init.
type Trace struct {
	Step  int64 // seconds
	Size  int   // marks kept
	Marks Ring
	Next  int // where the next mark goes once the ring is full

	Index  int64
	N, Sum [Channels]float64
	Dens   [Channels]float64
	RatioN float64
	RatioS float64
	First  float64 // level at the start of the step, mm
	Newest float64
	Begun  int64 // Unix seconds of the first minute of the step
	Ended  int64
	Known  bool
}

// Ring is a slice of marks that is written to JSON as base64 of its binary
// form, which is smaller and faster than numbers and can hold NaN.
type Ring []Mark

// MarshalJSON writes the ring as a base64 string.
func (r Ring) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	if err := binary.Write(&b, binary.LittleEndian, []Mark(r)); err != nil {
		return nil, fmt.Errorf("trace of %d marks: %w", len(r), err)
	}
	return json.Marshal(base64.StdEncoding.EncodeToString(b.Bytes()))
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (r *Ring) UnmarshalJSON(text []byte) error {
	var s string
	if err := json.Unmarshal(text, &s); err != nil {
		return fmt.Errorf("trace: %w", err)
	}
	b, err := base64.StdEncoding.DecodeString(s)
	if err != nil {
		return fmt.Errorf("trace: %w", err)
	}
	size := binary.Size(Mark{})
	if len(b)%size != 0 {
		return fmt.Errorf("trace of %d bytes is no whole number of marks of %d", len(b), size)
	}
	*r = nil
	if len(b) == 0 {
		return nil
	}
	*r = make(Ring, len(b)/size)
	return binary.Read(bytes.NewReader(b), binary.LittleEndian, []Mark(*r))
}

// Init sets the step in seconds and the number of marks to keep, once.
func (t *Trace) Init(step int64, size int) {
	if t.Step == 0 {
		t.Step, t.Size = step, size
	}
}

// Add folds one minute: levels and density parts of the channels that have a
// value, mm, and the density ratio, NaN when not known.
func (t *Trace) Add(at int64, levels, density *[Channels]float64, has *[Channels]bool, ratio, newest float64) {
	if i := at / t.Step; i != t.Index {
		t.finish()
		t.Index, t.Begun, t.First = i, at, newest
	}
	for c := range levels {
		if has[c] {
			t.N[c]++
			t.Sum[c] += levels[c]
			t.Dens[c] += density[c]
		}
	}
	if !math.IsNaN(ratio) {
		t.RatioN++
		t.RatioS += ratio
	}
	t.Newest, t.Ended, t.Known = newest, at, true
}

func (t *Trace) finish() {
	if !t.Known {
		return
	}
	m := Mark{At: t.Ended, Ratio: float32(math.NaN())}
	for c := range m.Level {
		m.Level[c] = float32(math.NaN())
		if t.N[c] > 0 {
			m.Level[c], m.Density[c] = float32(t.Sum[c]/t.N[c]), float32(t.Dens[c]/t.N[c])
		}
	}
	if t.RatioN > 0 {
		m.Ratio = float32(t.RatioS / t.RatioN)
	}
	if dt := t.Ended - t.Begun; dt > 0 {
		m.Rate = float32((t.Newest - t.First) / float64(dt))
	}
	t.push(m)
	t.N, t.Sum, t.Dens = [Channels]float64{}, [Channels]float64{}, [Channels]float64{}
	t.RatioN, t.RatioS, t.Known = 0, 0, false
}

func (t *Trace) push(m Mark) {
	if t.Marks == nil {
		t.Marks = make(Ring, 0, t.Size)
	}
	if len(t.Marks) < t.Size {
		t.Marks = append(t.Marks, m)
		return
	}
	t.Marks[t.Next] = m
	t.Next = (t.Next + 1) % t.Size
}

// Last returns the mark that was finished last; ok is false before the first.
func (t *Trace) Last() (m Mark, ok bool) {
	n := len(t.Marks)
	if n == 0 {
		return Mark{}, false
	}
	return t.Marks[(t.Next+n-1)%n], true
}

// Since returns the marks that ended at or after a time, oldest first, in a
// buffer that grows when it must.
func (t *Trace) Since(at int64, buffer []Mark) []Mark {
	buffer = buffer[:0]
	for i := range t.Marks {
		if m := &t.Marks[(t.Next+i)%len(t.Marks)]; m.At >= at {
			buffer = append(buffer, *m)
		}
	}
	return buffer
}
