package config

import "time"

var (
	brokers     = []string{string(MQTT), string(SparkplugB)}
	jsonOnly    = []string{string(MQTT)}
	foldersOnly = []string{string(CSVFolder)}
	timed       = []string{string(MQTT), string(CSVFolder)}
	withUsers   = append(brokers[:2:2], string(OPCUA))
)

// brokerKeys are those of sources that are published to an MQTT broker.
func brokerKeys() []key[Source] {
	return []key[Source]{
		value("broker", "Address of the broker, mqtts://host:8883, or mqtt://host:1883 without encryption.",
			asText(), func(s *Source) *string { return &s.Broker }).need().onlyFor(brokers...),
		value("client_id", "Client identifier at the broker; made of the name of the source unless given.",
			asText(), func(s *Source) *string { return &s.ClientID }).onlyFor(brokers...),
		value("ca_file", "Certificates (PEM) the broker's is checked against, instead of those of the system.",
			asText(), func(s *Source) *string { return &s.CAFile }).onlyFor(brokers...),
		value("time_path", "Path of the time in a payload, as in data.time; left out when it has none.",
			asText(), func(s *Source) *string { return &s.TimePath }).onlyFor(jsonOnly...),
		value("quality_path", "Path of the quality in a payload; left out when it has none.",
			asText(), func(s *Source) *string { return &s.QualityPath }).onlyFor(jsonOnly...),
		values("good", "What quality_path holds when the value is good.",
			asText(), func(s *Source) *[]string { return &s.GoodWords }).otherwise("good, true, 192, 0").onlyFor(jsonOnly...),
	}
}

// folderKeys are those of files left in a folder, and of times as others
// write them.
func folderKeys() []key[Source] {
	return []key[Source]{
		value("folder", "Folder in which files are left. It is only read.",
			asText(), func(s *Source) *string { return &s.Folder }).need().onlyFor(foldersOnly...),
		value("files", "Names of the files, * for anything.",
			asText(), func(s *Source) *string { return &s.Files }).otherwise("*.csv").onlyFor(foldersOnly...),
		value("settled", "A file is complete when nobody has written to it for this long.",
			duration(0, 24*time.Hour), func(s *Source) *time.Duration { return &s.Settled }).otherwise("5 s").onlyFor(foldersOnly...),
		value("time_column", `Name of the column that holds the time, or "#1" for the first.`,
			asText(), func(s *Source) *string { return &s.TimeColumn }).otherwise("time").onlyFor(foldersOnly...),
		value("time_format", `How the time is written: rfc3339, epoch (seconds), epoch-ms, or a pattern made of the reference time, such as "2006-01-02 15:04:05".`,
			asText(), func(s *Source) *string { return &s.TimeFormat }).otherwise("rfc3339").onlyFor(timed...),
		value("zone", "Zone of times written without an offset.",
			zone(), func(s *Source) **time.Location { return &s.Zone }).otherwise("UTC").onlyFor(timed...),
		value("header", "The first line names the columns.",
			yesNo(), func(s *Source) *bool { return &s.Header }).otherwise("true").onlyFor(foldersOnly...),
		value("separator", "What stands between columns.",
			words(",", ";", "tab"), func(s *Source) *string { return &s.Separator }).otherwise(",").onlyFor(foldersOnly...),
		value("decimal_comma", "Numbers are written 1,5.",
			yesNo(), func(s *Source) *bool { return &s.DecimalComma }).otherwise("false").onlyFor(foldersOnly...),
		value("encoding", "How letters are encoded.",
			words("utf-8", "windows-1252", "iso-8859-1", "utf-16"), func(s *Source) *string { return &s.Encoding }).otherwise("utf-8").onlyFor(foldersOnly...),
		values("missing", "Texts that mean there is no value, beside an empty cell.",
			asText(), func(s *Source) *[]string { return &s.Missing }).otherwise("NaN, null, -, Bad").onlyFor(foldersOnly...),
	}
}
