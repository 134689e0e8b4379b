package config

import (
	"math"
	"time"

	"bridlewatch/collector/signal"
)

// signalForm is a signal as it is written, before its range is known to be
// one of length, pressure or temperature.
type signalForm struct {
	Source string
	Kind   signal.Kind
	Unit   string
	Range  string
	Raw    []float64
	Scale  float64
	Offset float64

	Plausible string
	LiveZero  bool
	Class     signal.Class
	Invert    bool
	Sentinels []float64
	Delay     time.Duration

	UnitID    *int
	Table     string
	Address   *int
	Register  string
	EveryScan int
	Type      string
	Order     string
	Bit       *int
	Node      string
	Topic     string
	Path      string
	Metric    string
	Column    string

	node *node
}

func signalShape() shape[signalForm] {
	type form = signalForm
	return shape[form]{name: "signal", begin: func(s *form, n *node) { s.node = n }, keys: []key[form]{
		value("source", "Name of the source; may be left out when there is only one.",
			asText(), func(s *form) *string { return &s.Source }),

		maybe("unit_id", "Modbus: number of the unit behind the address; 1 unless given.",
			integer(0, 255), func(s *form) **int { return &s.UnitID }),
		value("table", "Modbus: table that is read; holding, or discrete for a contact, unless given.",
			words("holding", "input", "coil", "discrete"), func(s *form) *string { return &s.Table }),
		maybe("address", "Modbus: first register or bit as it goes over the wire, counted from 0.",
			integer(0, 65535), func(s *form) **int { return &s.Address }),
		value("register", "Modbus: in place of table and address, the number of a register list counted from 1: 40101 is holding 100, 30101 input 100, 10101 discrete 100, 00101 coil 100; 6 digits are read alike.",
			asText(), func(s *form) *string { return &s.Register }),
		value("type", "Modbus: how registers make a number.",
			words("uint16", "int16", "uint32", "int32", "uint64", "int64", "float32", "float64", "bit"), func(s *form) *string { return &s.Type }),
		value("order", "Modbus: order of the bytes, A the most significant; ABCD unless given.",
			words("ABCD", "CDAB", "BADC", "DCBA"), func(s *form) *string { return &s.Order }),
		maybe("bit", "Modbus: bit of a register, 0 the least significant.",
			integer(0, 15), func(s *form) **int { return &s.Bit }),
		value("every_scan", "Modbus: read at every n-th poll of the source only; 1 unless given.",
			integer(1, 86_400), func(s *form) *int { return &s.EveryScan }),
		value("node", "OPC UA: nsu=NAMESPACE-URI;s=NAME (or ;i=NUMBER), or path:/{NAMESPACE-URI}NAME/NAME of browse names below the Objects folder.",
			asText(), func(s *form) *string { return &s.Node }),
		value("topic", "MQTT: topic the signal is published on. Sparkplug B: GROUP/NODE or GROUP/NODE/DEVICE.",
			asText(), func(s *form) *string { return &s.Topic }),
		value("path", "MQTT: path of the value in the payload, as in data.level or values.0.v; left out when the payload is the value.",
			asText(), func(s *form) *string { return &s.Path }),
		value("metric", "Sparkplug B: name of the metric.",
			asText(), func(s *form) *string { return &s.Metric }),
		value("column", `Files: column; the tag unless given. In a folder also "#3" for the third.`,
			asText(), func(s *form) *string { return &s.Column }),

		value("kind", "What the number is: value in a unit, current (mA, NE 43), voltage (1-5 V), counts, pt100 (ohms) or contact.",
			words(signal.Value, signal.Current, signal.Voltage, signal.Counts, signal.Pt100, signal.Contact), func(s *form) *signal.Kind { return &s.Kind }),
		value("unit", "Unit of a value; % is that of a range.", asText(), func(s *form) *string { return &s.Unit }),
		value("range", `Value at both ends of a current, voltage or counts, for example "0..1200 mm".`,
			asText(), func(s *form) *string { return &s.Range }),
		values("raw", "Counts at both ends of the range: [0, 27648].",
			number(-1e12, 1e12), func(s *form) *[]float64 { return &s.Raw }),
		value("scale", "Factor from what the device sends to the unit, or to mA, V or ohms.",
			number(-1e12, 1e12), func(s *form) *float64 { return &s.Scale }),
		value("offset", "Added to a value after scale, in its unit.",
			number(-1e12, 1e12), func(s *form) *float64 { return &s.Offset }),
		value("live_zero", "The counts stand for 4-20 mA, so that NE 43 applies in proportion.",
			yesNo(), func(s *form) *bool { return &s.LiveZero }),
		value("class", "Tolerance class of a pt100; B unless given.",
			words[signal.Class]("AA", "A", "B", "C"), func(s *form) *signal.Class { return &s.Class }),
		value("invert", "Contact: 0 means wet.", yesNo(), func(s *form) *bool { return &s.Invert }),
		values("sentinels", "Numbers by which the device says that it has no value.",
			number(-math.MaxFloat64, math.MaxFloat64), func(s *form) *[]float64 { return &s.Sentinels }),
		value("delay", "How long before its stamp the value was true: an instrument that averages or dampens for a fixed time. What the level moves in that time is allowed for.",
			duration(0, 5*time.Minute), func(s *form) *time.Duration { return &s.Delay }),
		value("plausible", `Limits beyond which a value is not believed, for example "-50..1300 mm".`,
			asText(), func(s *form) *string { return &s.Plausible }),
	}}
}
