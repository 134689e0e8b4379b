package config

import (
	"slices"
	"time"
)

var (
	modbusAll  = []string{string(ModbusTCP), string(ModbusRTU), string(ModbusRTUTCP)}
	polled     = append(modbusAll[:3:3], string(OPCUA), string(MQTT), string(SparkplugB), string(CSVFolder))
	asked      = append(modbusAll[:3:3], string(OPCUA), string(MQTT), string(SparkplugB))
	serialOnly = []string{string(ModbusRTU)}
	networked  = []string{string(ModbusTCP), string(ModbusRTUTCP)}
	opcuaOnly  = []string{string(OPCUA)}
)

func sourceShape() shape[Source] {
	return shape[Source]{
		name:    "source",
		decides: "protocol",
		kind:    func(s *Source) string { return string(s.Protocol) },
		begin:   func(s *Source, n *node) { s.Place = n.place },
		keys:    slices.Concat(sourceKeys(), brokerKeys(), folderKeys()),
	}
}

func sourceKeys() []key[Source] {
	return []key[Source]{
		value("name", "Name that signals refer to.", asName(), func(s *Source) *string { return &s.Name }).need(),
		value("protocol", "How the endpoint is spoken to; history is a file for replay.",
			words(ModbusTCP, ModbusRTU, ModbusRTUTCP, OPCUA, MQTT, SparkplugB, CSVFolder, ReplayHistory), func(s *Source) *Protocol { return &s.Protocol }).need(),
		value("every", "Poll interval.",
			duration(100*time.Millisecond, 24*time.Hour), func(s *Source) *time.Duration { return &s.Every }).otherwise("1 s").onlyFor(polled...),
		value("timeout", "Time one request may take.",
			duration(10*time.Millisecond, 5*time.Minute), func(s *Source) *time.Duration { return &s.Timeout }).otherwise("1 s").onlyFor(asked...),
		value("max_age", "Age after which a value is stale; three poll intervals unless given, for ever in history. Must be given for mqtt and csv-folder.",
			duration(100*time.Millisecond, 30*24*time.Hour), func(s *Source) *time.Duration { return &s.MaxAge }),

		value("address", `"host:port" of the device or gateway, or the serial device of modbus-rtu.`,
			asText(), func(s *Source) *string { return &s.Address }).need().onlyFor(modbusAll...),
		value("baud", "Line speed.",
			integer(300, 1_000_000), func(s *Source) *int { return &s.Baud }).otherwise("19200").onlyFor(serialOnly...),
		value("parity", "Parity of the line.",
			words("none", "even", "odd"), func(s *Source) *string { return &s.Parity }).otherwise("even").onlyFor(serialOnly...),
		value("stop_bits", "Stop bits; 1 with parity, 2 without, unless given.",
			integer(1, 2), func(s *Source) *int { return &s.StopBits }).onlyFor(serialOnly...),
		value("pause_between_requests", "Rest the device gets between two requests.",
			duration(0, time.Minute), func(s *Source) *time.Duration { return &s.PauseBetweenRequests }).otherwise("0 s").onlyFor(modbusAll...),
		value("pause_after_connect", "Rest the device gets after a connection is made.",
			duration(0, time.Minute), func(s *Source) *time.Duration { return &s.PauseAfterConnect }).otherwise("0 s").onlyFor(networked...),
		value("close_after_cycle", "Free the connection after each poll, for devices that serve one client.",
			yesNo(), func(s *Source) *bool { return &s.CloseAfterCycle }).otherwise("false").onlyFor(networked...),
		value("ignore_transaction_id", "For gateways that do not echo it; costs a quiet time after each timeout.",
			yesNo(), func(s *Source) *bool { return &s.IgnoreTransactionID }).otherwise("false").onlyFor(string(ModbusTCP)),
		value("max_registers", "Registers the device gives in one request.",
			integer(1, 125), func(s *Source) *int { return &s.MaxRegisters }).otherwise("125").onlyFor(modbusAll...),
		value("max_bits", "Bits the device gives in one request.",
			integer(1, 2000), func(s *Source) *int { return &s.MaxBits }).otherwise("2000").onlyFor(modbusAll...),
		value("max_gap", "Registers read in vain to save a request; 0: as many as pay off, -1: none.",
			integer(-1, 124), func(s *Source) *int { return &s.MaxGap }).otherwise("0").onlyFor(modbusAll...),
		several("forbidden", "Addresses that must never be read.",
			forbiddenShape(), func(s *Source) *[]Forbidden { return &s.Forbidden }).onlyFor(modbusAll...),
		value("plan_for", "What the requests are planned for: the fewest requests, or the least time on the line; time on a serial line, otherwise requests, unless given.",
			words("requests", "time"), func(s *Source) *string { return &s.PlanFor }).onlyFor(modbusAll...),
		value("turnaround", "How long a device usually takes to answer; the planner counts with it.",
			duration(0, 10*time.Second), func(s *Source) *time.Duration { return &s.Turnaround }).otherwise("5 ms").onlyFor(modbusAll...),
		value("reprobe_every", "How often an address that was refused is tried again.",
			duration(time.Minute, 365*24*time.Hour), func(s *Source) *time.Duration { return &s.ReprobeEvery }).otherwise("1 day").onlyFor(modbusAll...),
		value("break_after", "Timeouts in a row after which one unit is only probed.",
			integer(1, 1000), func(s *Source) *int { return &s.BreakAfter }).otherwise("3").onlyFor(modbusAll...),
		value("probe_every", "How often a unit that does not answer is probed.",
			duration(time.Second, time.Hour), func(s *Source) *time.Duration { return &s.ProbeEvery }).otherwise("30 s").onlyFor(modbusAll...),

		value("endpoint", "Address of the server, opc.tcp://host:4840.",
			asText(), func(s *Source) *string { return &s.Endpoint }).need().onlyFor(opcuaOnly...),
		value("security_policy", "Security policy of the channel.",
			words("None", "Basic256Sha256", "Aes128_Sha256_RsaOaep", "Aes256_Sha256_RsaPss"),
			func(s *Source) *string { return &s.SecurityPolicy }).otherwise("Basic256Sha256").onlyFor(opcuaOnly...),
		value("security_mode", "What the channel does with messages; SignAndEncrypt unless the policy is None.",
			words("None", "Sign", "SignAndEncrypt"), func(s *Source) *string { return &s.SecurityMode }).onlyFor(opcuaOnly...),
		value("accept_no_security", "Must be said when the policy is None.",
			yesNo(), func(s *Source) *bool { return &s.AcceptNoSecurity }).otherwise("false").onlyFor(opcuaOnly...),
		value("user", "User name at the server or broker.",
			asText(), func(s *Source) *string { return &s.User }).onlyFor(withUsers...),
		value("password", "Password of the user.",
			reference(), func(s *Source) *Secret { return &s.Password }).onlyFor(withUsers...),
		value("user_certificate", "User certificate file instead of a password, PEM or DER; of a broker the client certificate, PEM, read anew for each connection.",
			asText(), func(s *Source) *string { return &s.CertFile }).onlyFor(withUsers...),
		value("user_key", "Key file of the user certificate.",
			asText(), func(s *Source) *string { return &s.KeyFile }).onlyFor(withUsers...),
		value("server_thumbprint", "SHA-256 of the server's certificate in hex; pins it beside the trust folder.",
			asText(), func(s *Source) *string { return &s.ServerThumbprint }).onlyFor(opcuaOnly...),
		value("trust_directory", "Folder with trusted and rejected server certificates; in the data directory unless given.",
			asText(), func(s *Source) *string { return &s.TrustDir }).onlyFor(opcuaOnly...),
		value("namespace", "Namespace URI of nodes that are written without one.",
			asText(), func(s *Source) *string { return &s.Namespace }).onlyFor(opcuaOnly...),
		value("max_nodes", "Nodes read in one request; what the server states, at most 500, unless given.",
			integer(1, 10_000), func(s *Source) *int { return &s.MaxNodes }).onlyFor(opcuaOnly...),
		value("subscribe", "Let the server report changes instead of reading every value each time.",
			yesNo(), func(s *Source) *bool { return &s.Subscribe }).otherwise("false").onlyFor(opcuaOnly...),
		value("sampling_every", "Sampling interval asked for with subscribe; half the poll interval unless given.",
			duration(10*time.Millisecond, time.Hour), func(s *Source) *time.Duration { return &s.SamplingEvery }).onlyFor(opcuaOnly...),
	}
}

func forbiddenShape() shape[Forbidden] {
	return shape[Forbidden]{name: "forbidden addresses", keys: []key[Forbidden]{
		value("unit_id", "Unit.", integer(0, 255), func(f *Forbidden) *int { return &f.UnitID }).otherwise("1"),
		value("table", "Table.",
			words("holding", "input", "coil", "discrete"), func(f *Forbidden) *string { return &f.Table }).otherwise("holding"),
		value("from", "First address, counted from 0.",
			integer(0, 65535), func(f *Forbidden) *int { return &f.From }).need(),
		value("to", "Last address.", integer(0, 65535), func(f *Forbidden) *int { return &f.To }).need(),
	}}
}
