package config

import "strings"

// published fills in where a signal is on a broker or in a file.
func (d *decoder) published(s *Signal, f *signalForm, source *Source) {
	d.refuse(f, "is used by a Modbus or OPC UA source only", "unit_id", "table", "address", "register", "type", "order", "bit", "every_scan", "node")
	switch source.Protocol {
	case CSVFolder:
		d.refuse(f, "is used by a source on a broker only", "topic", "path", "metric")
		if !source.Header && !strings.HasPrefix(s.Column, "#") {
			d.lacks(f, "column", `the file has no header: "#3" for the third column`)
		}
		return
	case MQTT:
		d.refuse(f, "is used by a sparkplug-b source only", "metric")
		if strings.ContainsAny(f.Topic, "#+") {
			d.report(f.node.find("topic"), "%q: one topic without the wildcards # and +", f.Topic)
		}
	case SparkplugB:
		d.refuse(f, "is used by an mqtt source only", "path")
		if f.Metric == "" {
			d.lacks(f, "metric", "the name of the metric in the birth certificate")
		}
		levels := strings.Split(f.Topic, "/")
		if f.Topic != "" && (len(levels) < 2 || len(levels) > 3 || strings.ContainsAny(f.Topic, "#+") || strings.Contains("/"+f.Topic+"/", "//")) {
			d.report(f.node.find("topic"), "%q: write GROUP/NODE or GROUP/NODE/DEVICE", f.Topic)
		}
	}
	if f.Topic == "" {
		d.lacks(f, "topic", map[Protocol]string{MQTT: "the topic it is published on", SparkplugB: "GROUP/NODE or GROUP/NODE/DEVICE"}[source.Protocol])
	}
}
