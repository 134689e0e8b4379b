package signal_test

import (
	"fmt"
	"time"

	"bridlewatch/collector/signal"
	"bridlewatch/compare/quantity"
)

// A transmitter sends 4-20 mA for 0 to 1200 mm. Its last milliamperes tell
// more than a level.
func ExampleSpec_Convert() {
	level := signal.Spec{Kind: signal.Current, Range: [2]float64{0, 1.2}}
	for _, milliamperes := range []float64{12, 20.2, 20.7, 21.5} {
		r := level.Convert(quantity.Reading{Value: milliamperes, Time: time.Now(), Quality: quantity.Good})
		fmt.Printf("%4.1f mA: %.4f m, %v (%v)\n", milliamperes, r.Value, r.Quality, r.Reason)
	}
	// Output:
	// 12.0 mA: 0.6000 m, good ()
	// 20.2 mA: 1.2150 m, good (saturated)
	// 20.7 mA: 1.2525 m, uncertain (saturated)
	// 21.5 mA: 1.3125 m, bad (sensor fault current)
}
