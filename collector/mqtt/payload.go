package mqtt

import (
	"errors"
	"fmt"
	"math"
	"time"

	"google.golang.org/protobuf/encoding/protowire"
)

// payload is a Sparkplug B payload (Eclipse Sparkplug 3.0.0, 6.4; field numbers
// of sparkplug_b.proto, from memory), of which what a reader needs.
type payload struct {
	time    time.Time // zero: not given
	seq     int       // -1: not given
	metrics []metric
}

// metric is one value of a payload.
type metric struct {
	name       string
	alias      uint64
	aliased    bool
	time       time.Time
	datatype   uint64
	historical bool
	null       bool
	quality    int64 // of the property "Quality"; 0 with rated is bad
	rated      bool
	whole      uint64 // integers as they are sent, and truth values
	real       float64
	text       string
	form       form
}

// form is which of the value fields was sent.
type form int

const (
	formNone form = iota
	formWhole
	formReal
	formTruth
	formText
	formOther // a value that is no number
)

// Data types of metrics (Eclipse Sparkplug 3.0.0, 6.4.16, from memory).
const (
	typeInt8 = 1 + iota
	typeInt16
	typeInt32
	typeInt64
)

// Qualities of the property "Quality" (6.4.14, from memory).
const (
	qualityGood  = 192
	qualityStale = 500
)

// field is called for each field of a message; it says how long the value is.
type field func(n protowire.Number, t protowire.Type, rest []byte) (length int, err error)

// each walks the fields of a message.
func each(b []byte, f field) error {
	for len(b) > 0 {
		n, t, length := protowire.ConsumeTag(b)
		if length < 0 {
			return protowire.ParseError(length)
		}
		b = b[length:]
		length, err := f(n, t, b)
		if err != nil {
			return err
		}
		if length == 0 {
			length = protowire.ConsumeFieldValue(n, t, b)
		}
		if length < 0 {
			return protowire.ParseError(length)
		}
		b = b[length:]
	}
	return nil
}

// decode reads a payload.
func decode(b []byte) (payload, error) {
	p := payload{seq: -1}
	err := each(b, func(n protowire.Number, t protowire.Type, rest []byte) (int, error) {
		switch {
		case n == 1 && t == protowire.VarintType:
			v, length := protowire.ConsumeVarint(rest)
			p.time = milliseconds(v)
			return length, nil
		case n == 2 && t == protowire.BytesType:
			inner, length := protowire.ConsumeBytes(rest)
			if length < 0 {
				return length, nil
			}
			m, err := decodeMetric(inner)
			p.metrics = append(p.metrics, m)
			return length, err
		case n == 3 && t == protowire.VarintType:
			v, length := protowire.ConsumeVarint(rest)
			if v > 255 {
				return 0, fmt.Errorf("sequence number %d is above 255", v)
			}
			p.seq = int(v)
			return length, nil
		}
		return 0, nil
	})
	if err != nil {
		return payload{}, fmt.Errorf("not a Sparkplug B payload: %w", err)
	}
	return p, nil
}

// milliseconds since 1970, as Sparkplug counts; what cannot be a time is none.
func milliseconds(v uint64) time.Time {
	if v == 0 || v > 1<<48 {
		return time.Time{}
	}
	return time.UnixMilli(int64(v)).UTC()
}

func decodeMetric(b []byte) (metric, error) {
	var m metric
	err := each(b, func(n protowire.Number, t protowire.Type, rest []byte) (int, error) {
		switch t {
		case protowire.VarintType:
			v, length := protowire.ConsumeVarint(rest)
			m.varint(n, v)
			return length, nil
		case protowire.Fixed32Type:
			v, length := protowire.ConsumeFixed32(rest)
			if n == 12 {
				m.real, m.form = float64(math.Float32frombits(v)), formReal
			}
			return length, nil
		case protowire.Fixed64Type:
			v, length := protowire.ConsumeFixed64(rest)
			if n == 13 {
				m.real, m.form = math.Float64frombits(v), formReal
			}
			return length, nil
		case protowire.BytesType:
			v, length := protowire.ConsumeBytes(rest)
			if length < 0 {
				return length, nil
			}
			return length, m.bytes(n, v)
		}
		return 0, nil
	})
	return m, err
}

func (m *metric) varint(n protowire.Number, v uint64) {
	switch n {
	case 2:
		m.alias, m.aliased = v, true
	case 3:
		m.time = milliseconds(v)
	case 4:
		m.datatype = v
	case 5:
		m.historical = v != 0
	case 7:
		m.null = v != 0
	case 10, 11:
		m.whole, m.form = v, formWhole
	case 14:
		m.whole, m.form = min(v, 1), formTruth
	}
}

func (m *metric) bytes(n protowire.Number, v []byte) error {
	switch n {
	case 1:
		m.name = string(v)
	case 9:
		return m.properties(v)
	case 15:
		m.text, m.form = string(v), formText
	case 16, 17, 18, 19:
		m.form = formOther
	}
	return nil
}

// properties finds the quality among the properties of a metric.
func (m *metric) properties(b []byte) error {
	var keys []string
	var values []int64
	err := each(b, func(n protowire.Number, t protowire.Type, rest []byte) (int, error) {
		if t != protowire.BytesType || n > 2 {
			return 0, nil
		}
		v, length := protowire.ConsumeBytes(rest)
		if length < 0 {
			return length, nil
		}
		if n == 1 {
			keys = append(keys, string(v))
			return length, nil
		}
		var number int64
		err := each(v, func(n protowire.Number, t protowire.Type, rest []byte) (int, error) {
			if t != protowire.VarintType {
				return 0, nil
			}
			u, length := protowire.ConsumeVarint(rest)
			if n == 3 || n == 4 {
				number = int64(int32(u))
			}
			return length, nil
		})
		values = append(values, number)
		return length, err
	})
	for i, k := range keys {
		if k == "Quality" && i < len(values) {
			m.quality, m.rated = values[i], true
		}
	}
	return err
}

// number is the value of a metric whose birth certificate gave the data type.
func (m metric) number(datatype uint64) (float64, error) {
	if m.datatype != 0 {
		datatype = m.datatype
	}
	switch m.form {
	case formReal:
		return m.real, nil
	case formTruth:
		return float64(m.whole), nil
	case formWhole:
		switch datatype {
		case typeInt8:
			return float64(int8(m.whole)), nil
		case typeInt16:
			return float64(int16(m.whole)), nil
		case typeInt32:
			return float64(int32(m.whole)), nil
		case typeInt64:
			return float64(int64(m.whole)), nil
		case 0:
			return 0, errors.New("an integer of unknown type: its birth certificate has not been seen")
		}
		return float64(m.whole), nil
	case formText:
		return 0, fmt.Errorf("the text %s is not a number", shown([]byte(m.text)))
	}
	return 0, errors.New("has no value that is a number")
}
