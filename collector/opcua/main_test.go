package opcua

import (
	"os"
	"testing"

	"bridlewatch/collector/collectortest"
)

func TestMain(m *testing.M) {
	if collectortest.ServeElsewhere(beServer) {
		return
	}
	os.Exit(m.Run())
}
