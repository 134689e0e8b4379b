package modbus_test

import (
	"flag"
	"os"
	"testing"

	"go.uber.org/goleak"

	"bridlewatch/collector/collectortest"
)

// TestMain lets many fault tests wait side by side, which costs no time of a
// processor, and looks for goroutines left over.
func TestMain(m *testing.M) {
	if collectortest.ServeElsewhere(beDevice) {
		return
	}
	flag.Parse()
	flag.Set("test.parallel", "16")
	code := m.Run()
	if err := goleak.Find(); code == 0 && err != nil {
		os.Stderr.WriteString(err.Error() + "\n")
		code = 1
	}
	os.Exit(code)
}
