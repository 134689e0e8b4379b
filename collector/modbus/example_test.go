package modbus_test

import (
	"fmt"

	"bridlewatch/collector/modbus"
)

// A float follower and a transmitter lie apart in the table of a device on a
// slow line. Reading the registers between them takes longer than a second
// request.
func ExampleNewPlan() {
	e := modbus.Endpoint{Name: "skid", Framing: modbus.RTU, Address: "/dev/ttyUSB0", Baud: 9600, Parity: "even"}
	plan, err := modbus.NewPlan(e, []modbus.Field{
		{Tag: "LT-101-F", UnitID: 7, Table: modbus.Holding, Address: 100, Type: modbus.Float32, Order: modbus.CDAB},
		{Tag: "LT-101-R", UnitID: 7, Table: modbus.Holding, Address: 150, Type: modbus.Float32, Order: modbus.CDAB},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Print(plan)
	// Output:
	// skid, planned for least line time
	//   unit  table    address  quantity  in vain  scans  time     tags
	//   7     holding  100      2         0        each   32.5 ms  LT-101-F
	//   7     holding  150      2         0        each   32.5 ms  LT-101-R
	//   requests per scan  2, the fewest possible are 1
	//   line time per scan 65.0 ms, the least possible is 65.0 ms (37.1 ms if the fields lay side by side)
}
