package opcua

import (
	"flag"
	"os"
	"testing"

	"bridlewatch/collector/collectortest"
)

func TestMain(m *testing.M) {
	if collectortest.ServeElsewhere(beServer) {
		return
	}
	flag.Parse()
	flag.Set("test.parallel", "16") // fault tests wait side by side
	os.Exit(m.Run())
}
