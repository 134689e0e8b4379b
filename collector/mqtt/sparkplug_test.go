package mqtt

import (
	"encoding/hex"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"google.golang.org/protobuf/encoding/protowire"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
)

// field of a message under construction.
func whole(n protowire.Number, v uint64) []byte {
	return protowire.AppendVarint(protowire.AppendTag(nil, n, protowire.VarintType), v)
}

func text(n protowire.Number, v string) []byte {
	return protowire.AppendString(protowire.AppendTag(nil, n, protowire.BytesType), v)
}

func real64(n protowire.Number, v float64) []byte {
	return protowire.AppendFixed64(protowire.AppendTag(nil, n, protowire.Fixed64Type), math.Float64bits(v))
}

func join(parts ...[]byte) (all []byte) {
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

// message is a payload with a sequence number; -1: none.
func message(seq int, metrics ...[]byte) []byte {
	b := whole(1, uint64(time.Now().UnixMilli()))
	for _, m := range metrics {
		b = append(b, text(2, string(m))...)
	}
	if seq >= 0 {
		b = append(b, whole(3, uint64(seq))...)
	}
	return b
}

const double = 10 // data type Double

func bd(n uint64) []byte { return join(text(1, "bdSeq"), whole(4, 4), whole(11, n)) }

// defined is a metric of a birth certificate, with an alias.
func defined(name string, alias uint64, v float64) []byte {
	return join(text(1, name), whole(2, alias), whole(4, double), real64(13, v))
}

// changed is a metric of later data, by its alias.
func changed(alias uint64, v float64) []byte { return join(whole(2, alias), real64(13, v)) }

// hub is a source that is fed without a broker.
func hub(t *testing.T, items ...Item) (*Source, func(topic string, body []byte) []collector.Sample) {
	t.Helper()
	s, err := New(Options{Name: "test", Broker: "mqtt://h", Sparkplug: true, MaxAge: time.Minute}, items, machine{})
	if err != nil {
		t.Fatal(err)
	}
	s.stop, s.up = func() {}, true
	return s, func(topic string, body []byte) []collector.Sample {
		if topic != "" {
			s.takeSparkplug("spBv1.0/"+topic, body)
		}
		got, _ := s.Read(t.Context())
		return got
	}
}

var (
	ofNode   = Item{Tag: "LT-101", Topic: "G/N", Metric: "level"}
	ofDevice = Item{Tag: "LT-102", Topic: "G/N/D", Metric: "level"}
)

// TestLifeOfANode goes through births, data and deaths.
func TestLifeOfANode(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, feed := hub(t, ofNode, ofDevice)
		check := func(step string, got []collector.Sample, quality0 quantity.Quality, value0 float64, quality1 quantity.Quality, value1 float64) {
			t.Helper()
			if got[0].Quality != quality0 || got[0].Value != value0 || got[1].Quality != quality1 || got[1].Value != value1 {
				t.Errorf("%s: %+v", step, got)
			}
			for _, g := range got {
				if !g.Quality.Usable() && g.Detail == "" {
					t.Errorf("%s: %s does not say why", step, g.Tag)
				}
			}
		}
		const good, bad, stale, uncertain = quantity.Good, quantity.Bad, quantity.Stale, quantity.Uncertain
		check("at first", feed("", nil), bad, 0, bad, 0)
		check("data by alias before a birth", feed("G/NDATA/N", message(5, changed(1, 9))), bad, 0, bad, 0)
		check("birth", feed("G/NBIRTH/N", message(0, bd(3), defined("level", 1, 0.5))), good, 0.5, bad, 0)
		check("birth of the device", feed("G/DBIRTH/N/D", message(1, defined("level", 2, 1.5))), good, 0.5, good, 1.5)
		check("data by alias", feed("G/NDATA/N", message(2, changed(1, 0.6))), good, 0.6, good, 1.5)
		check("data of the device", feed("G/DDATA/N/D", message(3, changed(2, 1.6))), good, 0.6, good, 1.6)
		check("a value of the past", feed("G/NDATA/N", message(4, join(changed(1, 9), whole(5, 1)))), good, 0.6, good, 1.6)
		time.Sleep(time.Hour)
		got := feed("", nil)
		check("nothing new for an hour", got, good, 0.6, good, 1.6)
		if time.Since(got[0].Time) > time.Second {
			t.Error("a node that is alive does not vouch for its value")
		}
		check("a message was lost", feed("G/NDATA/N", message(7, changed(1, 0.7))), good, 0.7, uncertain, 1.6)
		check("sent again", feed("G/DDATA/N/D", message(8, changed(2, 1.7))), good, 0.7, good, 1.7)
		check("the device dies", feed("G/DDEATH/N/D", message(9)), good, 0.7, stale, 0)
		check("the device is back", feed("G/DBIRTH/N/D", message(10, defined("level", 2, 1.8))), good, 0.7, good, 1.8)
		check("death of an earlier session", feed("G/NDEATH/N", message(-1, bd(2))), good, 0.7, good, 1.8)
		check("the node dies", feed("G/NDEATH/N", message(-1, bd(3))), stale, 0, stale, 0)
		check("data of the dead", feed("G/NDATA/N", message(11, changed(1, 9))), stale, 0, stale, 0)
		check("born with other aliases", feed("G/NBIRTH/N", message(0, bd(4), defined("other", 1, 99), defined("level", 7, 0.8))), good, 0.8, bad, 0)
		check("data by the old alias", feed("G/NDATA/N", message(1, changed(1, 98))), good, 0.8, bad, 0)
		check("a command passes by", feed("G/NCMD/N", message(2, defined("level", 7, 97))), good, 0.8, bad, 0)
		check("another group", feed("H/NDATA/N", message(2, defined("level", 7, 97))), good, 0.8, bad, 0)
		s.down(os.ErrClosed)
		check("the connection is lost", feed("", nil), bad, 0, bad, 0)
		s.up = true
		got = feed("G/NDATA/N", message(2, changed(7, 96)))
		if got[0].Value == 96 {
			t.Errorf("an alias was trusted across a lost connection: %+v", got[0])
		}
		check("by its name", feed("G/NDATA/N", message(3, defined("level", 7, 0.9))), good, 0.9, bad, 0)
	})
}

func TestMetricsAsTheyAreSent(t *testing.T) {
	quality := func(q uint64) []byte { // property set: keys, values with type and int_value
		return text(9, string(join(text(1, "Quality"), text(2, string(join(whole(1, 3), whole(3, q)))))))
	}
	of := func(datatype uint64, value []byte, more ...[]byte) []byte {
		return join(append([][]byte{text(1, "level"), whole(4, datatype), value}, more...)...)
	}
	rows := []struct {
		name    string
		metric  []byte
		value   float64
		quality quantity.Quality
		reason  quantity.Reason
	}{
		{"int8 below zero", of(1, whole(10, 0xFFFFFFFB)), -5, quantity.Good, 0},
		{"int16 below zero", of(2, whole(10, 0xFFFF)), -1, quantity.Good, 0},
		{"int32 below zero", of(3, whole(10, 0xFFFFFFFF)), -1, quantity.Good, 0},
		{"int64 below zero", of(4, whole(11, math.MaxUint64)), -1, quantity.Good, 0},
		{"uint16", of(6, whole(10, 27648)), 27648, quantity.Good, 0},
		{"uint64", of(8, whole(11, 1<<40)), 1 << 40, quantity.Good, 0},
		{"float", of(9, protowire.AppendFixed32(protowire.AppendTag(nil, 12, protowire.Fixed32Type), math.Float32bits(1.5))), 1.5, quantity.Good, 0},
		{"boolean", of(11, whole(14, 1)), 1, quantity.Good, 0},
		{"quality good", of(double, real64(13, 2), quality(192)), 2, quantity.Good, 0},
		{"quality bad", of(double, real64(13, 2), quality(0)), 0, quantity.Bad, quantity.Refused},
		{"quality stale", of(double, real64(13, 2), quality(500)), 0, quantity.Stale, quantity.TooOld},
		{"null", of(double, whole(7, 1)), 0, quantity.Bad, quantity.Sentinel},
		{"not a number", of(double, real64(13, math.NaN())), 0, quantity.Bad, quantity.NotANumber},
		{"text", of(12, text(15, "12")), 0, quantity.Bad, quantity.BadShape},
		{"no value", of(double, nil), 0, quantity.Bad, quantity.BadShape},
		{"time of the future", of(double, real64(13, 2), whole(3, 4102444800000)), 2, quantity.Uncertain, quantity.ClockSuspect},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			_, feed := hub(t, ofNode)
			got := feed("G/NBIRTH/N", message(0, bd(1), r.metric))
			if got[0].Value != r.value || got[0].Quality != r.quality || got[0].Reason != r.reason {
				t.Errorf("got %+v", got[0])
			}
		})
	}
	_, feed := hub(t, Item{Tag: "A", Topic: "G/N", Metric: "nothing"})
	if got := feed("G/NBIRTH/N", message(0, bd(1))); got[0].Reason != quantity.Refused || !strings.Contains(got[0].Detail, "nothing") {
		t.Errorf("a metric the node has not: %+v", got[0])
	}
}

// wire is a corpus of payloads in hexadecimal, with what became of them before.
func wire(t testing.TB) (all [][]byte) {
	files, err := filepath.Glob("../../testdata/wire/sparkplug/*.hex")
	if err != nil || len(files) == 0 {
		t.Fatalf("no payloads: %v", err)
	}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		b, err = hex.DecodeString(strings.Join(strings.Fields(string(b)), ""))
		if err != nil {
			t.Fatal(f, err)
		}
		all = append(all, b)
	}
	return all
}

func FuzzSparkplug(f *testing.F) {
	for _, b := range wire(f) {
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := New(Options{Name: "test", Broker: "mqtt://h", Sparkplug: true}, []Item{ofNode, ofDevice}, machine{})
		if err != nil {
			t.Fatal(err)
		}
		s.stop, s.up = func() {}, true
		for _, topic := range []string{"G/NBIRTH/N", "G/DBIRTH/N/D", "G/DDATA/N/D", "G/NDATA/N", "G/NDEATH/N"} {
			s.takeSparkplug("spBv1.0/"+topic, b)
			got, _ := s.Read(t.Context())
			for _, g := range got {
				if g.Quality.Usable() && (math.IsNaN(g.Value) || math.IsInf(g.Value, 0)) || !g.Quality.Usable() && g.Value != 0 {
					t.Errorf("%x after %s gives %+v", b, topic, g)
				}
			}
		}
	})
}
