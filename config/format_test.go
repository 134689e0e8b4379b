package config

import (
	"testing"
	"time"
)

func TestReadDuration(t *testing.T) {
	day := 24 * time.Hour
	for text, want := range map[string]time.Duration{
		"250 ms": 250 * time.Millisecond, "10 s": 10 * time.Second, "10s": 10 * time.Second, "1.5 h": 90 * time.Minute,
		"5 min": 5 * time.Minute, "5 minutes": 5 * time.Minute, "1h30m": 90 * time.Minute, "400 days": 400 * day,
		"1 day": day, "2 weeks": 14 * day, "10 years": 3650 * day, "0 s": 0, "-1 s": -time.Second,
	} {
		if got, err := readDuration(text); err != nil || got != want {
			t.Errorf("%q is %v (%v), want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"", "5", "0", "s", "5 moons", "1e300 years", "NaN s", "0x10 s", "1_0 s", "5 s 3"} {
		if got, err := readDuration(text); err == nil {
			t.Errorf("%q was read as %v", text, got)
		}
	}
}

func TestPrintDurationReadsBack(t *testing.T) {
	for _, d := range []time.Duration{0, time.Millisecond, 1500 * time.Millisecond, time.Second, 90 * time.Second, time.Hour, 36 * time.Hour, 24 * time.Hour, 7 * 24 * time.Hour, 365 * 24 * time.Hour, 730 * 24 * time.Hour, 1234567 * time.Microsecond} {
		if got, err := readDuration(printDuration(d)); err != nil || got != d {
			t.Errorf("%v is printed %q and read %v (%v)", d, printDuration(d), got, err)
		}
	}
}

func TestReadRegister(t *testing.T) {
	for _, test := range []struct {
		text    string
		table   string
		address int
	}{
		{"40001", "holding", 0}, {"40101", "holding", 100}, {"49999", "holding", 9998}, {"400001", "holding", 0}, {"465536", "holding", 65535},
		{"30101", "input", 100}, {"10101", "discrete", 100}, {"00101", "coil", 100}, {"000101", "coil", 100},
	} {
		table, address, err := readRegister(test.text)
		if err != nil || table != test.table || address != test.address {
			t.Errorf("%s is %s %d (%v), want %s %d", test.text, table, address, err, test.table, test.address)
		}
	}
	for _, text := range []string{"", "4", "40000", "4001", "4000001", "465537", "20001", "4x001", "-4001", "+4001"} {
		if table, address, err := readRegister(text); err == nil {
			t.Errorf("%q was read as %s %d", text, table, address)
		}
	}
}

func TestShortNumbers(t *testing.T) {
	for v, want := range map[float64]string{
		0: "0", 0.1 + 0.2: "0.3", 1e-9: "1e-09", 12450.000000000002: "12450", 1234567.5: "1234567.5", 4e-10: "4e-10",
	} {
		if got := short(v); got != want {
			t.Errorf("%g is written %q, want %q", v, got, want)
		}
	}
}

func TestIntegers(t *testing.T) {
	for text, want := range map[string]int64{"0": 0, "100": 100, "0x64": 100, "-1": -1} {
		if got, err := readInteger(text); err != nil || got != want {
			t.Errorf("%q is %d (%v), want %d", text, got, err, want)
		}
	}
	for _, text := range []string{"", "010", "1.0", "1e2", "0x", "ten", "1_000", "0b1", "99999999999999999999"} {
		if got, err := readInteger(text); err == nil {
			t.Errorf("%q was read as %d", text, got)
		}
	}
}

func TestDidYouMean(t *testing.T) {
	names := []string{"listen", "log_level", "centre_to_centre"}
	for word, want := range map[string]string{
		"lisen": `; did you mean "listen"?`, "center_to_center": `; did you mean "centre_to_centre"?`, "loglevel": `; did you mean "log_level"?`, "zebra": "",
	} {
		if got := didYouMean(word, names); got != want {
			t.Errorf("%s gives %q, want %q", word, got, want)
		}
	}
}

// TestEveryKeyIsDocumented keeps the table fit to be shown to people: a
// sentence per key, no name twice in a group, a default that the reader takes.
func TestEveryKeyIsDocumented(t *testing.T) {
	keys(documentShape().group(), "", func(e entry, path string) {
		if len(e.doc) < 4 || e.doc[len(e.doc)-1] != '.' {
			t.Errorf("%s: %q is no sentence", path, e.doc)
		}
		if e.preset != "" && e.required {
			t.Errorf("%s has a default and is required", path)
		}
		if e.group == nil {
			return
		}
		seen := map[string]bool{}
		for _, below := range e.group.entries {
			if seen[below.name] {
				t.Errorf("%s.%s stands in the table twice", path, below.name)
			}
			seen[below.name] = true
		}
	})
}

// TestGroupsOfOneNameAreAlike: the schema keeps each kind of group once, under
// its name.
func TestGroupsOfOneNameAreAlike(t *testing.T) {
	byName := map[string]*group{}
	keys(documentShape().group(), "", func(e entry, path string) {
		if e.group == nil {
			return
		}
		first, seen := byName[e.group.name]
		if !seen {
			byName[e.group.name] = e.group
			return
		}
		if len(first.entries) != len(e.group.entries) {
			t.Fatalf("%s: two groups are called %q", path, e.group.name)
		}
		for i, below := range e.group.entries {
			if below.name != first.entries[i].name || below.takes != first.entries[i].takes {
				t.Errorf("%s.%s differs from the other group called %q", path, below.name, e.group.name)
			}
		}
	})
}
