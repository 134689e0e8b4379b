package config_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"bridlewatch/config"
)

// environment of every bad file.
var testEnv = []string{
	"PRESENT=a-value-nobody-may-see",
	"EMPTY=",
	"HASH=$argon2id$v=19$m=19456,t=2,p=1$c2FsdHNhbHRzYWx0$aGFzaGhhc2hoYXNoaGFzaA",
}

// loadBad loads a bad file as if it lay in conf.d beside a good one.
func loadBad(t *testing.T, name string) config.Errors {
	t.Helper()
	root := fstest.MapFS{
		"base.yaml":                {Data: read(t, "base.yaml")},
		"conf.d/" + name + ".yaml": {Data: read(t, "bad", name+".yaml")},
	}
	_, err := config.Load(config.LoadOptions{File: "base.yaml", Root: root, Env: testEnv})
	var problems config.Errors
	if err != nil && !errors.As(err, &problems) {
		t.Fatalf("%v is not an Errors", err)
	}
	return problems
}

func read(t *testing.T, path ...string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(append([]string{corpus}, path...)...))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// TestBadFiles loads every file of bad/ and compares all that is reported with
// its row: place, path and how the message begins.
func TestBadFiles(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(corpus, "bad", "*.yaml"))
	if err != nil || len(files) != len(bad) {
		t.Errorf("%d files in bad/, %d rows in the table (%v)", len(files), len(bad), err)
	}
	for name, want := range bad {
		t.Run(name, func(t *testing.T) {
			problems := loadBad(t, name)
			prefix := "conf.d/" + name + ".yaml:"
			for i, p := range problems {
				line := strings.TrimPrefix(p.String(), prefix)
				if i >= len(want) || !strings.HasPrefix(line, want[i]) {
					t.Errorf("problem %d is\n%s", i, line)
				}
			}
			if len(problems) < len(want) {
				t.Errorf("%d problems, want %d", len(problems), len(want))
			}
			for _, p := range problems {
				if strings.Contains(p.Message, "nobody-may-see") || strings.Contains(p.Message, "hunter2") || strings.Contains(p.Message, "s3cr3t") {
					t.Errorf("a secret is shown: %s", p.Message)
				}
			}
		})
	}
}

// bad says what each file of bad/ must produce.
var bad = map[string][]string{
	"address-at-history": {
		`9:115: gauges[LG-102].float.signal.address: is not used by a history source`,
	},
	"address-at-opc-ua": {
		`10:138: gauges[LG-102].float.signal.address: is not used by an OPC UA source`,
	},
	"address-missing": {
		`2:5: sources[a].address: is missing: "host:port" of the device or gateway, or the serial device of modbus-rtu (text)`,
	},
	"address-not-given": {
		`6:103: gauges[LG-102].float.signal.address: is missing: the first register or bit, counted from 0`,
	},
	"address-without-port": {
		`4:14: sources[a].address: "192.0.2.11" is not "host:port", for example 192.0.2.10:502`,
	},
	"alias-loop": {
		`2:5: gauges[0]: alias *a contains itself`,
		`2:5: gauges[0].chamber: is missing: the external chamber, with at least centre_to_centre and below_lower_tap`,
		`2:5: gauges[0].data_sheet: is missing: what the engineer knew when specifying it, with at least maximum_pressure, maximum_temperature, operating_pressure, operating_temperature and specific_gravity`,
		`2:5: gauges[0].fluid: is missing: what is in the vessel and how its density is found, with at least model`,
		`2:5: gauges[0].tag: is missing: tag of the gauge (a name of at most 64 characters)`,
	},
	"atmosphere-gauge": {
		`2:25: site.atmospheric_pressure: 1 bar(g): the pressure of the air itself is absolute, for example 1.01325 bar(a)`,
	},
	"base-path": {
		`2:14: service.base_path: "levels/" must begin with / and not end with it, for example /levels`,
	},
	"below-absolute-zero": {
		`3:131: gauges[LG-102].data_sheet.operating_temperature: cannot read "-300 degC" as temperature: it is below absolute zero`,
	},
	"bit-not-given": {
		`8:50: gauges[LG-102].points[LS-201].signal.bit: is missing: which bit of the register, 0 the least significant`,
	},
	"bit-of-bit-table": {
		`8:98: gauges[LG-102].points[LS-201].signal.bit: the table discrete holds single bits already`,
	},
	"bit-of-number": {
		`6:149: gauges[LG-102].float.signal.bit: is used with type bit only, not with uint16`,
	},
	"blend-fractions": {
		`5:34: gauges[LG-102].fluid.parts: the mass fractions add up to 0.9, not to 1`,
	},
	"blend-part-of-blend": {
		`5:108: gauges[LG-102].fluid.parts[1].fluid.model: "blend" is not one of water, petroleum, lpg, pure, table, coefficient, polynomial, constant, measured`,
		`5:115: gauges[LG-102].fluid.parts[1].fluid.parts: unknown key "parts"`,
	},
	"bore-wider-than-pipe": {
		`4:83: gauges[LG-102].chamber.inner_diameter: bore of`,
	},
	"box-empty": {
		`2:8: site.box: must not be empty`,
	},
	"certificate-twice": {
		`4:18: service.tls_self_made: and tls_certificate exclude each other: leave one out`,
	},
	"certificate-without-key": {
		`2:20: service.tls_certificate: needs tls_key as well`,
	},
	"coefficient-without-expansion": {
		`5:12: gauges[LG-102].fluid.expansion: is missing: without it the density would be constant (model: constant)`,
	},
	"colon-in-value": {
		`2:8: mapping value is not allowed in this context; indent keys of one group alike, and put a value with a colon and a space in it in quotes`,
	},
	"comma-in-number": {
		`4:33: gauges[LG-102].chamber.centre_to_centre: cannot read "1,2 m" as length: a comma in the number: write a decimal point and no thousands separator, for example "1250.5"`,
	},
	"common-range-outside-taps": {
		`7:28: gauges[LG-102].limits.common_range: 0 to`,
	},
	"contact-not-a-point": {
		`6:150: gauges[LG-102].float.signal.kind: a float signal cannot be of kind contact`,
	},
	"contact-of-two-registers": {
		`8:98: gauges[LG-102].points[LS-201].signal.type: a contact is a bit or one register that is 0 or 1, not uint32`,
	},
	"coverage": {
		`7:24: gauges[LG-102].budget.coverage: 0.5 is outside 1 to 5`,
	},
	"credential-directory": {
		`6:15: sources[a].password: secret credential:password: $CREDENTIALS_DIRECTORY is not set; the service manager sets it (LoadCredential=)`,
	},
	"credential-path": {
		`6:15: sources[a].password: secret credential:../password: a credential has a plain name; use file: for a path`,
	},
	"design-gravity-outside-range": {
		`3:188: gauges[LG-102].data_sheet.specific_gravity_range: highest specific`,
	},
	"directory-empty": {
		`2:14: store.directory: must not be empty`,
	},
	"displacer-floats": {
		`7:121: gauges[LG-102].transmitter.displacer_mass: a displacer`,
	},
	"dp-in-millimetres": {
		`7:110: gauges[LG-102].transmitter.signal.unit: cannot read "mm" as pressure difference: "mm" is a unit of length`,
	},
	"drift": {
		`7:21: gauges[LG-102].limits.drift: cannot read "25" as length: it has no unit`,
	},
	"duplicate-key": {
		`3:3: site.box: "box" is given twice, first at line 2`,
	},
	"duration-out-of-range": {
		`2:15: service.scan_every: 1 ms is outside 100 ms to 1 h`,
	},
	"empty-tag": {
		`2:10: gauges[0].tag: must not be empty: tag of the gauge`,
	},
	"endpoint": {
		`4:15: sources[a].endpoint: "http://192.0.2.20" is not an address such as opc.tcp://192.0.2.20:4840`,
	},
	"endpoint-with-password": {
		`4:15: sources[a].endpoint: must not hold a user or password; write user and password`,
	},
	"endpoint-wrong-with-password": {
		`4:15: sources[a].endpoint: "...@192.0.2.20" is not an address such as opc.tcp://192.0.2.20:4840`,
	},
	"external-url": {
		`2:17: service.external_url: "levels.example" is not a web address such as https://levels.example`,
	},
	"float-head-room": {
		`4:84: gauges[LG-102].chamber.above_upper_tap: 50 mm`,
	},
	"float-longer-than-chamber": {
		`4:59: gauges[LG-102].chamber.below_lower_tap: 100 mm`,
	},
	"float-rating-below-gauge": {
		`6:113: gauges[LG-102].float.maximum_pressure: the float`,
	},
	"float-sinks": {
		`6:12: gauges[LG-102].float.built_for: built for`,
		`6:32: gauges[LG-102].float.mass: at the`,
	},
	"float-sinks-in-service": {
		`6:32: gauges[LG-102].float.mass: at the`,
	},
	"float-wider-than-bore": {
		`4:14: gauges[LG-102].chamber.above_upper_tap: 150 mm`,
		`6:49: gauges[LG-102].float.diameter: a float`,
	},
	"fluid-key-missing": {
		`5:12: gauges[LG-102].fluid.group: is missing: petroleum group of API MPMS 11.1: A crude oil, B products, C by its own expansion, D lubricating oil (one of A, B, C, D)`,
	},
	"fluid-key-of-other-model": {
		`5:27: gauges[LG-102].fluid.group: belongs to petroleum only; here model is water`,
	},
	"folder-comma": {
		`2:5: sources[a].time_column: "time": without a header a column is given by its number`,
		`2:64: sources[a].decimal_comma: a comma cannot stand in numbers and between columns: write the separator`,
		`2:92: sources[a].files: "[" is no pattern such as *.csv`,
		`8:103: gauges[LG-102].float.signal.column: is missing: the file has no header`,
		`8:115: gauges[LG-102].float.signal.topic: is used by a source on a broker only`,
	},
	"forbidden-upside-down": {
		`5:32: sources[a].forbidden[0].to: 10 is below from, 20`,
	},
	"gauge-twice": {
		`2:5: gauges[LG-101]: gauge "LG-101" is used twice; first at base.yaml:9:5`,
	},
	"gauge-without-tag": {
		`2:5: gauges[0].tag: is missing: tag of the gauge (a name of at most 64 characters)`,
	},
	"gravity-of-no-place": {
		`3:173: gauges[LG-102].data_sheet.gravity: 1.62`,
	},
	"group-for-value": {
		`2:8: site.box: must be a name of at most 64 characters; it is a group of keys`,
	},
	"group-missing": {
		`2:5: gauges[LG-102].data_sheet: is missing: what the engineer knew when specifying it, with at least maximum_pressure, maximum_temperature, operating_pressure, operating_temperature and specific_gravity`,
	},
	"mqtt-good-without-quality": {
		`2:39: sources[a].broker: "tcp://192.0.2.30" is not an address such as mqtts://192.0.2.30:8883`,
		`2:81: sources[a].good: is used with quality_path only`,
		`8:103: gauges[LG-102].float.signal.topic: is missing: the topic it is published on`,
	},
	"mqtt-password-in-clear": {
		`2:82: sources[a].user: a password is never sent without encryption: the broker must be mqtts://`,
	},
	"mqtt-certificate-in-clear": {
		`2:94: sources[a].user_certificate: is shown on an encrypted connection only: the broker must be mqtts://`,
	},
	"mqtt-certificate-without-key": {
		`2:95: sources[a].user_certificate: needs user_key as well`,
	},
	"mqtt-wildcard": {
		`8:122: gauges[LG-102].float.signal.topic: "x/#": one topic without the wildcards # and +`,
		`8:129: gauges[LG-102].float.signal.metric: is used by a sparkplug-b source only`,
	},
	"mqtt-without-age": {
		`2:5: sources[a].max_age: is missing: how long a value holds that is not published again`,
	},
	"pair-url": {
		`1:13: pair.url: "http://bus.example:4222" is not an address such as tls://bus.example:4222`,
	},
	"pair-url-with-password": {
		`1:13: pair.url: must not hold a user or password; give a credentials file`,
	},
	"influx-url": {
		`1:15: influx.url: "influx.example" is not an address such as https://influx.example:8086`,
	},
	"influx-without-bucket": {
		`1:9: influx.bucket: is missing: bucket (text)`,
	},
	"influx-without-encryption": {
		`1:15: influx.url: is not encrypted and not on this box; use https, or say accept_no_encryption: true`,
	},
	"invert-of-value": {
		`6:154: gauges[LG-102].float.signal.invert: is used by a contact only`,
	},
	"item-not-group": {
		`2:5: gauges[0]: must be a group of keys; it is a single value`,
	},
	"keep-too-short": {
		`2:13: store.keep_raw: 1 h is outside 1 day to 200 years`,
	},
	"key-in-two-files": {
		`2:3: site.name: is given in two files: the other is base.yaml:3:9`,
	},
	"key-missing": {
		`4:14: gauges[LG-102].chamber.centre_to_centre: is missing: distance between lower and upper tap; the measured range (length with its unit: mm, cm, m, in, ft)`,
	},
	"key-of-other-protocol": {
		`5:5: sources[a].baud: belongs to modbus-rtu only; here protocol is modbus-tcp`,
	},
	"last-register": {
		`6:126: gauges[LG-102].float.signal.address: a float32 at 65535 would end at 65536; the last register is 65535`,
	},
	"list-at-top": {
		`1:1: must be a group of keys such as site, sources and gauges; it is a list`,
	},
	"listen": {
		`2:11: service.listen: "localhost" is not an address to listen on such as 127.0.0.1:8080 or :8080`,
	},
	"literal-secret": {
		`6:15: sources[a].password: a secret is never written here: write where it is kept, "env:NAME", "file:PATH" or "credential:NAME"`,
	},
	"local-zone": {
		`2:14: site.time_zone: "Local" depends on the box: name the zone, for example "UTC" or "Europe/Lisbon"`,
	},
	"magnet-outside-float": {
		`6:87: gauges[LG-102].float.magnet_height: height of`,
	},
	"max-age-below-interval": {
		`6:14: sources[a].max_age: 5 s is shorter than the poll interval of 10 s: every value would be stale`,
	},
	"measured-without-densitometer": {
		`5:20: gauges[LG-102].fluid.model: measured needs a densitometer on the gauge`,
	},
	"merge-key": {
		`3:5: sources[1].<<: merge keys (<<) are not used here; write the keys out or alias a whole group`,
		`3:7: sources[1].name: is missing: name that signals refer to (a name of at most 64 characters)`,
		`3:7: sources[1].protocol: is missing: how the endpoint is spoken to; history is a file for replay (one of modbus-tcp, modbus-rtu, modbus-rtu-over-tcp, opc-ua, mqtt, sparkplug-b, csv-folder, history)`,
	},
	"metrics-same-address": {
		`3:19: service.metrics_listen: is the same address as listen; leave it out to have both on one`,
	},
	"mode-without-policy": {
		`6:20: sources[a].security_mode: Sign needs a security policy`,
	},
	"mole-fractions": {
		`5:38: gauges[LG-102].fluid.components: the mole fractions add up to 0.9, not to 1`,
	},
	"more-registers-than-device": {
		`11:138: gauges[LG-102].float.signal.type: float32 takes 2 registers, but source small gives 1 in one request`,
	},
	"nan": {
		`3:158: gauges[LG-102].data_sheet.specific_gravity: ".nan" is not a number`,
	},
	"negative-length": {
		`4:33: gauges[LG-102].chamber.centre_to_centre: distance between`,
	},
	"negative-mass": {
		`6:32: gauges[LG-102].float.mass: cannot read`,
	},
	"nine-points": {
		`8:7: gauges[LG-102].points: 9 point switches; a gauge has at most 8`,
	},
	"no-duration": {
		`2:15: service.scan_every: "5" is no duration: a number with its unit, "250 ms", "10 s", "5 min", "3 h", "400 days", "10 years"`,
	},
	"no-security": {
		`5:22: sources[a].security_policy: None means that anybody on the network can pose as the server: choose a policy, or say accept_no_security: true`,
	},
	"no-security-said-for-nothing": {
		`5:25: sources[a].accept_no_security: is said although the policy is Basic256Sha256; remove it, or write security_policy: None`,
	},
	"no-size": {
		`2:17: store.max_raw_size: "20" is not a size: write "500 MB", "20 GB", "1 TB" or "no limit"`,
	},
	"no-unit": {
		`4:33: gauges[LG-102].chamber.centre_to_centre: cannot read "1200" as length: it has no unit`,
	},
	"no-zone": {
		`2:14: site.time_zone: "Atlantis/Poseidonis" is not a time zone of the tz database: write a place such as Europe/Lisbon, or UTC`,
	},
	"node-at-modbus": {
		`6:144: gauges[LG-102].float.signal.node: is not used by a Modbus source`,
	},
	"node-nonsense": {
		`10:121: gauges[LG-102].float.signal.node: "LI-102" is no node: write nsu=NAMESPACE-URI;s=NAME (or ;i=NUMBER) or path:/{NAMESPACE-URI}NAME/NAME`,
	},
	"node-not-given": {
		`10:103: gauges[LG-102].float.signal.node: is missing: nsu=NAMESPACE-URI;s=NAME or path:/{NAMESPACE-URI}NAME/NAME`,
	},
	"node-number": {
		`10:121: gauges[LG-102].float.signal.node: "nsu=urn:x;i=five" has no identifier after the namespace: nsu=NAMESPACE-URI;s=NAME or ;i=NUMBER`,
	},
	"node-path-brace": {
		`10:121: gauges[LG-102].float.signal.node: "{urn:x/Drum": a namespace stands in braces, {NAMESPACE-URI}NAME`,
	},
	"node-path-empty-step": {
		`10:121: gauges[LG-102].float.signal.node: "path:/Drum//LI-102" has an empty step`,
	},
	"node-path-relative": {
		`10:121: gauges[LG-102].float.signal.node: "path:Drum" is no path: write path:/{NAMESPACE-URI}NAME/NAME, beginning below the Objects folder`,
	},
	"node-path-with-index": {
		`10:121: gauges[LG-102].float.signal.node: a namespace index changes when the server restarts: write {NAMESPACE-URI} in place of 2:`,
	},
	"node-with-index": {
		`10:121: gauges[LG-102].float.signal.node: a namespace index changes when the server restarts: write nsu=NAMESPACE-URI;... in place of ns=NUMBER;...`,
	},
	"node-without-identifier": {
		`10:121: gauges[LG-102].float.signal.node: "nsu=urn:x" has no identifier after the namespace: nsu=NAMESPACE-URI;s=NAME or ;i=NUMBER`,
	},
	"node-without-namespace": {
		`10:121: gauges[LG-102].float.signal.node: "s=LI-102" has no namespace: write nsu=NAMESPACE-URI;s=LI-102, or give the source a namespace`,
	},
	"not-a-number": {
		`3:158: gauges[LG-102].data_sheet.specific_gravity: "light" is not a number`,
	},
	"not-a-word": {
		`2:14: service.log_level: "verbose" is not one of debug, info, warn, error`,
	},
	"not-true-or-false": {
		`2:14: service.read_only: "yes" is not true or false`,
	},
	"not-utf-8": {
		`2:9: is no UTF-8 text from here on; save the file as UTF-8`,
	},
	"number-out-of-range": {
		`6:126: gauges[LG-102].float.signal.address: 70000 is outside 0 to 65535`,
	},
	"octal-number": {
		`6:126: gauges[LG-102].float.signal.address: "010" begins with 0: write it without, octal numbers are not used here`,
	},
	"open-access": {
		`3:16: service.open_access: is allowed on a loopback address only; listen is 0.0.0.0:8080`,
	},
	"operating-above-maximum": {
		`3:98: gauges[LG-102].data_sheet.operating_pressure: operating pressure`,
	},
	"order-of-one-register": {
		`6:151: gauges[LG-102].float.signal.order: one register has two bytes: ABCD, or BADC when they are swapped`,
	},
	"password-without-encryption": {
		`6:11: sources[a].user: a password is never sent without encryption: security_mode must be SignAndEncrypt`,
	},
	"password-without-user": {
		`5:15: sources[a].password: needs user as well`,
	},
	"percent-without-range": {
		`6:103: gauges[LG-102].float.signal.range: is missing: the value at 0 % and at 100 %, for example "0..1200 mm"`,
	},
	"petroleum-base-temperature": {
		`5:84: gauges[LG-102].fluid.base_temperature: must be 60 degF, 15 degC or 20 degC for petroleum`,
	},
	"petroleum-expansion": {
		`5:77: gauges[LG-102].fluid.expansion: is used by group C only; groups A, B and D have theirs in the standard`,
	},
	"petroleum-group-c": {
		`5:12: gauges[LG-102].fluid.expansion: is missing: group C is described by its own expansion`,
	},
	"pipe-schedule": {
		`4:77: gauges[LG-102].chamber.schedule: pipe: schedule "41" of NPS 2-1/2 is not one of 5S, 10S, 40, 80, 160; give the chamber's inner and outer diameter instead`,
	},
	"pipe-size": {
		`4:78: gauges[LG-102].chamber.pipe_size: pipe: nominal size "5" is not one of 1-1/2, 2, 2-1/2, 3, 3-1/2, 4, 6; give the chamber's inner and outer diameter instead`,
	},
	"plausible": {
		`6:165: gauges[LG-102].float.signal.plausible: cannot read "5 bar" as length: "bar" is a unit of pressure difference`,
	},
	"point-not-a-contact": {
		`8:82: gauges[LG-102].points[LS-201].signal.kind: a point signal cannot be of kind current; a point switch is a contact`,
	},
	"point-outside-chamber": {
		`8:34: gauges[LG-102].points[LS-201].elevation: elevation above`,
	},
	"point-without-float": {
		`7:9: gauges[LG-102].points[LS-201].operated: the float's`,
	},
	"policy-without-mode": {
		`5:20: sources[a].security_mode: None switches off the policy Basic256Sha256; write Sign or SignAndEncrypt`,
	},
	"polynomial-of-one": {
		`5:41: gauges[LG-102].fluid.factors: must be two at least: the density at base temperature and its slope`,
	},
	"polynomial-range": {
		`5:81: gauges[LG-102].fluid.hottest: is not above coldest`,
	},
	"pressure-without-reference": {
		`3:98: gauges[LG-102].data_sheet.operating_pressure: cannot read "3 bar" as absolute pressure: "bar" does not say against what: write "(g)" for gauge or "(a)" for absolute after the unit`,
	},
	"pt100-of-length": {
		`6:150: gauges[LG-102].float.signal.kind: a pt100 measures a temperature, not a length`,
	},
	"quiet-ends-before-it-begins": {
		`2:50: quiet[q].until: is not after from`,
	},
	"quiet-unknown-gauge": {
		`2:23: quiet[q].gauges: there is no gauge "LG-1O1"; did you mean "LG-101"?`,
	},
	"quiet-without-reason": {
		`2:5: quiet[q].reason: is missing: why; shown with every alert it holds back (text)`,
	},
	"radar-below-upper-tap": {
		`7:67: gauges[LG-102].transmitter.reference_point: a reference`,
	},
	"range-not-given": {
		`6:103: gauges[LG-102].float.signal.range: is missing: the value at both ends of the signal, for example "0..1200 mm"`,
	},
	"range-of-nothing": {
		`6:166: gauges[LG-102].float.signal.range: cannot read "5..5 mm" as length: both ends are the same`,
	},
	"range-of-value": {
		`6:154: gauges[LG-102].float.signal.range: is used with unit % only; a current, a voltage or counts has a range as well (write the kind)`,
	},
	"range-upside-down": {
		`3:188: gauges[LG-102].data_sheet.specific_gravity_range: "1.0..0.9": write the lower end first`,
	},
	"range-without-dots": {
		`6:166: gauges[LG-102].float.signal.range: cannot read "1200 mm" as length: no range: write the ends with ".." between them and the unit once, for example "0..1200 mm"`,
	},
	"raw-equal": {
		`6:103: gauges[LG-102].float.signal: counts 4 to 4 are no range; give the counts at both ends`,
	},
	"raw-not-two": {
		`6:149: gauges[LG-102].float.signal.raw: must be two numbers, the counts at both ends of the range, for example [0, 27648]`,
	},
	"raw-of-current": {
		`6:159: gauges[LG-102].float.signal.raw: is used by counts only`,
	},
	"register-beside-address": {
		`6:134: gauges[LG-102].float.signal.address: is given beside register, which says both`,
	},
	"register-number": {
		`6:127: gauges[LG-102].float.signal.register: "20101" is not a register number of 5 or 6 digits beginning with 0 (coil), 1 (discrete), 3 (input) or 4 (holding), such as 40101`,
	},
	"reserved-character": {
		`2:8: '@' is a reserved character; put the value in quotes`,
	},
	"route-certificate-without-key": {
		`2:77: notify[a].certificate: needs key as well`,
	},
	"route-key-missing": {
		`2:5: notify[a].to: is missing: receiver addresses (list of text)`,
	},
	"route-key-of-other-kind": {
		`2:64: notify[a].topic: belongs to mqtt only; here kind is webhook`,
	},
	"route-literal-secret": {
		`2:72: notify[a].secret: a secret is never written here: write where it is kept, "env:NAME", "file:PATH" or "credential:NAME"`,
	},
	"route-mail-address": {
		`2:77: notify[a].to: "levels" is not a mail address`,
	},
	"route-password-in-url": {
		`2:35: notify[a].url: must not hold a user or password; write user and password`,
	},
	"route-password-without-encryption": {
		`2:32: notify[a].url: a password, token or secret address is never sent without encryption: use mqtts://`,
	},
	"route-secret-in-url": {
		`2:35: notify[a].url: holds a secret (access_token): keep the address elsewhere and write url_from`,
	},
	"route-secret-url-is-none": {
		`2:40: notify[a].url_from: must begin with https:// or http:// and name a host`,
	},
	"route-two-urls": {
		`2:74: notify[a].url_from: is given beside url; one of them is enough`,
	},
	"route-unknown-gauge": {
		`2:72: notify[a].gauges: there is no gauge "LG-110"; did you mean "LG-101"?`,
		`2:89: notify[a].areas: there is no area "roof"`,
	},
	"route-url-scheme": {
		`2:35: notify[a].url: must begin with https:// or http:// and name a host`,
	},
	"route-user-without-password": {
		`2:70: notify[a].user: needs password as well`,
	},
	"route-without-encryption": {
		`2:35: notify[a].url: is not encrypted and not on this box: use https://, or say accept_no_encryption: true`,
	},
	"route-without-url": {
		`2:5: notify[a].url: is missing: where to, or url_from when the address is a secret`,
	},
	"sampling-slower-than-polling": {
		`6:21: sources[a].sampling_every: 5 s is longer than the poll interval of 1 s`,
	},
	"sampling-without-subscribe": {
		`5:21: sources[a].sampling_every: is used with subscribe: true only`,
	},
	"scale-of-counts": {
		`6:161: gauges[LG-102].float.signal.scale: is not used by counts; raw says what the device sends`,
	},
	"comma-twice": {
		`2:18: history.decimal_comma: a comma cannot stand in numbers and between columns: write the separator`,
	},
	"scale-zero-of-a-current": {
		`6:166: gauges[LG-102].float.signal.scale: is 0: every reading would be the same`,
	},
	"scale-zero": {
		`6:161: gauges[LG-102].float.signal.scale: is 0: every reading would be the same`,
	},
	"secret-empty": {
		`6:15: sources[a].password: secret env:EMPTY is empty`,
	},
	"secret-file-missing": {
		`6:15: sources[a].password: secret file:/nowhere/password: there is no file /nowhere/password`,
	},
	"secret-not-set": {
		`6:15: sources[a].password: secret env:ABSENT: the environment variable is not set`,
	},
	"secret-of-unknown-kind": {
		`6:15: sources[a].password: a secret is never written here: write where it is kept, "env:NAME", "file:PATH" or "credential:NAME"`,
	},
	"sentinel-in-range": {
		`6:103: gauges[LG-102].float.signal: sentinel 12000 lies within the measuring range of the signal; a real value would be thrown away`,
	},
	"serial-device": {
		`4:14: sources[a].address: "192.0.2.11:502" is not a serial device such as /dev/ttyS0`,
	},
	"several-at-once": {
		`2:3: site.nam: unknown key "nam"; did you mean "name"?`,
		`4:15: service.scan_every: "5" is no duration: a number with its unit, "250 ms", "10 s", "5 min", "3 h", "400 days", "10 years"`,
		`8:33: gauges[LG-102].chamber.centre_to_centre: cannot read "1200" as length: it has no unit`,
		`8:56: gauges[LG-102].chamber.below_lower_tap: cannot read "400 g" as length: "g" is a unit of mass`,
	},
	"shared-signal-missing": {
		`7:15: gauges[LG-102].pressure.signal: is missing: where its value comes from, unless another gauge has a signal of this kind for the same tag`,
	},
	"shared-signal-of-other-kind": {
		`7:15: gauges[LG-102].pressure.signal: is missing: where its value comes from, unless another gauge has a signal of this kind for the same tag`,
	},
	"signal-tag-twice": {
		`6:103: gauges[LG-102].float.signal: signal tag "LI-101" is used twice; first at base.yaml:27:15`,
	},
	"signal-without-follower": {
		`6:105: gauges[LG-102].float.follower: none gives no signal; name the follower, or leave the signal out`,
	},
	"signal-without-tag": {
		`6:12: gauges[LG-102].float.tag: is missing: tag of the follower's signal`,
	},
	"slow-signal-stale": {
		`6:142: gauges[LG-102].float.signal.every_scan: reads every 10 s, but values of source plc are stale after 3 s: give the source a longer max_age`,
	},
	"source-not-named": {
		`9:103: gauges[LG-102].float.signal.source: is missing: with 2 sources a signal must name the one it is read from`,
	},
	"source-twice": {
		`2:5: sources[plc]: source "plc" is used twice; first at base.yaml:5:5`,
	},
	"source-without-name": {
		`2:5: sources[0].name: is missing: name that signals refer to (a name of at most 64 characters)`,
	},
	"sparkplug-topic": {
		`8:103: gauges[LG-102].float.signal.metric: is missing: the name of the metric in the birth certificate`,
		`8:122: gauges[LG-102].float.signal.topic: "spBv1.0/G/NDATA/N": write GROUP/NODE or GROUP/NODE/DEVICE`,
	},
	"syntax": {
		`2:1: ',' or '}' must be specified`,
	},
	"tab": {
		`2:1: found character '	' that cannot start any token; indent with spaces, tabs are not allowed`,
	},
	"table-not-sorted": {
		`5:97: gauges[LG-102].fluid.densities[1].temperature: is not above the one before; sort the table by pressure and temperature`,
	},
	"table-of-one": {
		`5:38: gauges[LG-102].fluid.densities: has 1 density; a table needs two at least`,
	},
	"tag-dots": {
		`2:10: gauges[..].tag: ".." is no name`,
	},
	"tag-not-printable": {
		`2:10: gauges["LG\a102"].tag: "LG\a102" holds a character that cannot be printed`,
	},
	"tag-too-long": {
		`2:10: gauges[LLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLLL...].tag: "LLLLLLLLLLLLLLLLLLLL"... has more than 64 characters`,
	},
	"tag-with-blank": {
		`2:10: gauges[LG-102 ].tag: "LG-102 " begins or ends with a blank`,
	},
	"tag-with-line-break": {
		`2:10: gauges["LG-102\n"].tag: "LG-102\n" begins or ends with a blank`,
	},
	"thumbprint": {
		`5:24: sources[a].server_thumbprint: must be the SHA-256 of the certificate, 64 hexadecimal digits`,
	},
	"time-format": {
		`2:16: history.time_format: "dd.mm.yyyy" is neither rfc3339 nor epoch, nor a pattern with date, hour and minute of the reference time "2006-01-02 15:04:05"`,
	},
	"time-without-offset": {
		`2:21: quiet[a].from: "2026-04-06T06:00:00" is not a time with offset such as 2026-05-04T06:00:00+02:00`,
	},
	"timestamp-column-separator": {
		`2:14: history.separator: "|" is not one of ,, ;, tab`,
	},
	"token-short": {
		`2:22: tokens[t].value: refers to a token of 22 characters; it must have at least 32`,
	},
	"too-far-from-the-air": {
		`2:25: site.atmospheric_pressure: 3 bar(a) is not the pressure of the air: 0.5 to 1.1 bar(a)`,
	},
	"transmitter-key-missing": {
		`7:18: gauges[LG-102].transmitter.reference_point: is missing: radar: process seal above the lower tap, from which the device measures down; its signal is the level it makes of that (length with its unit: mm, cm, m, in, ft)`,
	},
	"transmitter-key-of-other-principle": {
		`7:55: gauges[LG-102].transmitter.leg_density: belongs to dp-wet-leg or dp-remote-seals only; here principle is dp-dry-leg`,
	},
	"two-documents": {
		`4:5: a file holds one document; put the second one (after ---) into a file of its own`,
	},
	"two-framings": {
		`4:14: sources[a].address: source plc speaks modbus-tcp to the same address, this one modbus-rtu-over-tcp: one framing per address`,
	},
	"type-not-given": {
		`6:103: gauges[LG-102].float.signal.type: is missing: how the registers make a number, for example uint16 or float32`,
	},
	"type-of-bit-table": {
		`6:149: gauges[LG-102].float.signal.type: the table coil holds single bits, not uint16`,
	},
	"uneven-indent": {
		`3:3: value is not allowed in this context; indent keys of one group alike`,
	},
	"unit-capitals": {
		`4:33: gauges[LG-102].chamber.centre_to_centre: cannot read "1200 MM" as length: unknown unit "MM": write "mm", capitals matter`,
	},
	"unit-id-on-serial-line": {
		`10:127: gauges[LG-102].float.signal.unit_id: 0 is outside 1 to 247, the addresses of a serial line`,
	},
	"unit-not-given": {
		`6:103: gauges[LG-102].float.signal.unit: is missing: the unit of the value, of length: mm, cm, m, in, ft, or % of a range`,
	},
	"unit-of-other-quantity": {
		`6:150: gauges[LG-102].float.signal.unit: cannot read "bar" as length: "bar" is a unit of pressure difference`,
	},
	"unknown-alias": {
		`2:8: site.box: alias *nowhere has no anchor &nowhere above it`,
	},
	"unknown-group": {
		`1:1: sevice: unknown key "sevice"; did you mean "service"?`,
	},
	"unknown-key": {
		`2:3: service.lisen: unknown key "lisen"; did you mean "listen"?`,
	},
	"unknown-key-in-signal": {
		`6:103: gauges[LG-102].float.signal.address: is missing: the first register or bit, counted from 0`,
		`6:117: gauges[LG-102].float.signal.adress: unknown key "adress"; did you mean "address"?`,
	},
	"unknown-key-of-another-group": {
		`3:5: gauges[LG-102].specific_gravity: unknown key "specific_gravity"; it belongs under data_sheet`,
	},
	"unknown-protocol": {
		`3:15: sources[a].protocol: "modbus" is not one of modbus-tcp, modbus-rtu, modbus-rtu-over-tcp, opc-ua, mqtt, sparkplug-b, csv-folder, history`,
	},
	"unknown-source": {
		`6:112: gauges[LG-102].float.signal.source: no source is called "pcl"; did you mean "plc"? (sources: plc)`,
	},
	"unknown-unit-set": {
		`2:10: service.units: "imperial" is not one of metric, us`,
	},
	"upper-liquid-heavier": {
		`5:94: gauges[LG-102].fluid.upper.base_density: 950 kg/m3 is not lighter than the 900 kg/m3 of the liquid below`,
	},
	"user-and-certificate": {
		`5:11: sources[a].user: is given beside a user certificate; the server takes one of them`,
	},
	"user-certificate-without-key": {
		`5:23: sources[a].user_certificate: needs user_key as well`,
	},
	"user-hash": {
		`2:44: users[me].password_hash: does not refer to an argon2id hash in PHC form; a password itself is never kept`,
	},
	"user-role": {
		`2:22: users[me].role: "boss" is not one of viewer, technician, engineer, admin`,
	},
	"user-twice": {
		`3:5: users[me]: user "me" is used twice; first at conf.d/user-twice.yaml:2:5`,
	},
	"user-without-password": {
		`5:11: sources[a].user: needs password as well`,
	},
	"value-for-group": {
		`1:1: site: is given in two files: the other is base.yaml:3:3`,
	},
	"value-for-list": {
		`1:1: gauges: is given in two files: the other is base.yaml:9:3`,
	},
	"wrong-unit": {
		`6:102: gauges[LG-102].float.pitch: cannot read "10 g" as length: "g" is a unit of mass`,
	},
	"yaml-tag": {
		`2:8: site.box: the YAML tag !!binary is not used here`,
	},
}
