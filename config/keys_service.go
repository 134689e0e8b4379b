package config

import (
	"time"

	"bridlewatch/compare/quantity"
)

// document is a whole configuration as it is written.
type document struct {
	Site    Site
	Service Service
	Store   Store
	History History
	Influx  *Influx
	Pair    *Pair
	Sources []Source
	Gauges  []gaugeForm
	Notify  []Route
	Users   []User
	Tokens  []Token
	Quiet   []QuietWindow
}

func documentShape() shape[document] {
	return shape[document]{name: "configuration", keys: []key[document]{
		within("site", "The place.", siteShape(), func(c *document) *Site { return &c.Site }),
		within("service", "The process itself.", serviceShape(), func(c *document) *Service { return &c.Service }),
		within("store", "Where history goes on this box.", storeShape(), func(c *document) *Store { return &c.Store }),
		within("history", "How files of a historian are read by replay and import.",
			historyShape(), func(c *document) *History { return &c.History }),
		perhaps("influx", "Forwards history to a central InfluxDB.",
			influxShape(), func(c *document) **Influx { return &c.Influx }),
		perhaps("pair", "A second box that takes over when this one fails.",
			pairShape(), func(c *document) **Pair { return &c.Pair }),
		several("sources", "Endpoints that are polled.", sourceShape(), func(c *document) *[]Source { return &c.Sources }),
		several("gauges", "The gauges, each as its data sheet describes it.",
			gaugeShape(), func(c *document) *[]gaugeForm { return &c.Gauges }),
		several("notify", "Ways alerts leave the box.", routeShape(), func(c *document) *[]Route { return &c.Notify }),
		several("users", "People who may log in from the first start on.",
			userShape(), func(c *document) *[]User { return &c.Users }),
		several("tokens", "Programs that may use the interface.",
			tokenShape(), func(c *document) *[]Token { return &c.Tokens }),
		several("quiet", "Times in which no alert is sent.",
			quietShape(), func(c *document) *[]QuietWindow { return &c.Quiet }),
	}}
}

func siteShape() shape[Site] {
	return shape[Site]{name: "site", keys: []key[Site]{
		value("name", "Name of the plant, shown on every page.",
			asName(), func(s *Site) *string { return &s.Name }).otherwise("unnamed site"),
		value("box", "Name of this edge box; every forwarded point carries it.",
			asName(), func(s *Site) *string { return &s.Box }).otherwise("box-1"),
		value("time_zone", "Zone in which pages show times.",
			zone(), func(s *Site) **time.Location { return &s.TimeZone }).otherwise("UTC"),
		value("verify_every", "How often a gauge is to be verified, where the gauge does not say: your decision, never computed here.",
			days(), func(s *Site) *int { return &s.VerifyDays }),
		value("atmospheric_pressure", "Mean pressure of the air at the site, absolute; gauge pressures are above it.",
			airPressure(),
			func(s *Site) *quantity.Pressure { return &s.AtmosphericPressure }).otherwise("1.01325 bar(a)"),
	}}
}

func serviceShape() shape[Service] {
	return shape[Service]{name: "service", keys: []key[Service]{
		value("listen", "Address of the pages and the interface.",
			asText(), func(s *Service) *string { return &s.Listen }).otherwise("127.0.0.1:8080").byFlag("listen"),
		value("metrics_listen", "Address of a listener of its own for metrics; without it they are on the first.",
			asText(), func(s *Service) *string { return &s.MetricsListen }),
		value("verdict_listen", "Address at which a control system may read the verdicts over Modbus TCP; nothing can be written there. Off unless given.",
			asText(), func(s *Service) *string { return &s.VerdictListen }),
		value("external_url", "How people reach the pages; used for links in messages.",
			asText(), func(s *Service) *string { return &s.ExternalURL }).byFlag("external-url"),
		value("base_path", "Path below which a proxy in front serves the pages.",
			asText(), func(s *Service) *string { return &s.BasePath }).byFlag("base-path"),
		value("log_level", "How much is logged.",
			words("debug", "info", "warn", "error"), func(s *Service) *string { return &s.LogLevel }).otherwise("info").byFlag("log-level"),
		value("scan_every", "The tick at which all gauges are compared.",
			duration(100*time.Millisecond, time.Hour), func(s *Service) *time.Duration { return &s.ScanEvery }).otherwise("1 s"),
		value("read_only", "No records and no acknowledgements by page.",
			yesNo(), func(s *Service) *bool { return &s.ReadOnly }).otherwise("false").byFlag("read-only"),
		value("tls_certificate", "Certificate file (PEM) of the pages.",
			asText(), func(s *Service) *string { return &s.TLSCert }),
		value("tls_key", "Key file (PEM) of the certificate.", asText(), func(s *Service) *string { return &s.TLSKey }),
		value("tls_self_made", "Encrypt the pages with a certificate the box makes and renews itself; browsers warn until it is trusted on each device.",
			yesNo(), func(s *Service) *bool { return &s.TLSSelfMade }).otherwise("false"),
		value("open_access", "No login; only on a loopback address.",
			yesNo(), func(s *Service) *bool { return &s.OpenAccess }).otherwise("false"),
		value("import_upload", "Largest file of a historian that an engineer may hand in by page or interface, to be imported. Off unless given: then files are imported by command on the box.",
			size("off"), func(s *Service) *int64 { return &s.ImportUpload }).otherwise("off"),
		value("session_idle", "After this time without use a login ends.",
			duration(time.Minute, 90*24*time.Hour), func(s *Service) *time.Duration { return &s.SessionIdle }).otherwise("12 h"),
		value("units", "Units in which people are shown values unless they choose.",
			unitSet(), func(s *Service) *quantity.UnitSet { return &s.Units }).otherwise("metric"),
	}}
}

func storeShape() shape[Store] {
	return shape[Store]{name: "store", keys: []key[Store]{
		value("directory", "Data directory; one process only.",
			asText(), func(s *Store) *string { return &s.Dir }).otherwise("/var/lib/bridlewatch").byFlag("data"),
		value("keep_raw", "How long raw samples are kept.",
			keep(1), func(s *Store) *time.Duration { return &s.KeepRaw }).otherwise("2 years"),
		value("keep_levels", "How long computed levels and gaps are kept.",
			keep(1), func(s *Store) *time.Duration { return &s.KeepLevels }).otherwise("2 years"),
		value("keep_ten_minutes", "How long summaries (minimum, maximum, mean) of ten minutes are kept.",
			keep(1), func(s *Store) *time.Duration { return &s.KeepTenMinutes }).otherwise("2 years"),
		value("keep_summaries", "How long summaries of hours and days are kept.",
			keep(1), func(s *Store) *time.Duration { return &s.KeepSummaries }).otherwise("10 years"),
		value("keep_deliveries", "How long it is kept when and to whom each alert was sent.",
			keep(90), func(s *Store) *time.Duration { return &s.KeepDeliveries }).otherwise("2 years"),
		value("max_raw_size", "Size of the sealed raw samples at which the oldest days go.",
			size("no limit"), func(s *Store) *int64 { return &s.MaxRawBytes }).otherwise("no limit"),
		value("max_level_size", "Size of the sealed levels at which the oldest days go.",
			size("no limit"), func(s *Store) *int64 { return &s.MaxLevelBytes }).otherwise("no limit"),
		value("max_summary_size", "Size of all summaries at which those of ten minutes of the oldest days go, and then the oldest days.",
			size("no limit"), func(s *Store) *int64 { return &s.MaxSummaryBytes }).otherwise("no limit"),
		value("seal_after", "How long after its end a finished day (UTC) is sealed into the archive; samples that come later seal it anew.",
			duration(time.Minute, 7*24*time.Hour), func(s *Store) *time.Duration { return &s.SealAfter }).otherwise("1 h"),
	}}
}

func historyShape() shape[History] {
	return shape[History]{name: "history", keys: []key[History]{
		value("time_column", "Name of the column that holds the time.",
			asText(), func(h *History) *string { return &h.TimeColumn }).otherwise("time"),
		value("time_format", `How the time is written: rfc3339, epoch (seconds), or a pattern made of the reference time, such as "2006-01-02 15:04:05".`,
			asText(),
			func(h *History) *string { return &h.TimeFormat }).otherwise("rfc3339"),
		value("zone", "Zone of times written without an offset.",
			zone(), func(h *History) **time.Location { return &h.Zone }).otherwise("UTC"),
		values("missing", "Texts that mean there is no value, beside an empty cell.",
			asText(), func(h *History) *[]string { return &h.Missing }).otherwise("NaN, null, -, Bad"),
		value("separator", "What stands between columns.",
			words(",", ";", "tab"), func(h *History) *string { return &h.Separator }).otherwise(","),
		value("decimal_comma", "Numbers are written 1,5.",
			yesNo(), func(h *History) *bool { return &h.DecimalComma }).otherwise("false"),
	}}
}

func influxShape() shape[Influx] {
	return shape[Influx]{name: "influx", begin: func(i *Influx, n *node) { i.Place = n.place }, keys: []key[Influx]{
		value("url", "Address of the server, https://host:8086.",
			asText(), func(i *Influx) *string { return &i.URL }).need(),
		value("org", "Organisation; left out for version 1.8.", asText(), func(i *Influx) *string { return &i.Org }),
		value("bucket", "Bucket.", asText(), func(i *Influx) *string { return &i.Bucket }).need(),
		value("token", "Token that may write the bucket.", reference(), func(i *Influx) *Secret { return &i.Token }),
		value("read_token", "Token that may read the bucket, for the list of all boxes; the writing one is used unless given.",
			reference(), func(i *Influx) *Secret { return &i.ReadToken }),
		value("ca_file", "Certificate authority (PEM) that signed the server's certificate.",
			asText(), func(i *Influx) *string { return &i.CAFile }),
		value("catch_up", "Points per second while an outage is made up for.",
			integer(100, 1_000_000), func(i *Influx) *int { return &i.CatchUp }).otherwise("20000"),
		value("batch", "Points in one request.", integer(1, 100_000), func(i *Influx) *int { return &i.Batch }).otherwise("5000"),
		value("timeout", "Time one request may take.",
			duration(time.Second, 10*time.Minute), func(i *Influx) *time.Duration { return &i.Timeout }).otherwise("20 s"),
		value("accept_no_encryption", "Must be said when the address is http and not on this box.",
			yesNo(), func(i *Influx) *bool { return &i.AcceptNoEncryption }).otherwise("false"),
	}}
}
