package config_test

import (
	"fmt"

	"bridlewatch/config"
)

// Everything that is wrong is reported at once, each with its place.
func ExampleLoadBytes() {
	_, err := config.LoadBytes("plant.yaml", []byte(`
service:
  lisen: 127.0.0.1:8080
  scan_every: 5
sources:
  - name: dcs
    protocol: opc-ua
    endpoint: opc.tcp://192.0.2.20:4840
    security_policy: None
`))
	fmt.Println(err)
	// Output:
	// plant.yaml:3:3: service.lisen: unknown key "lisen"; did you mean "listen"?
	// plant.yaml:4:15: service.scan_every: "5" is no duration: a number with its unit, "250 ms", "10 s", "5 min", "3 h", "400 days", "10 years"
	// plant.yaml:9:22: sources[dcs].security_policy: None means that anybody on the network can pose as the server: choose a policy, or say accept_no_security: true
}

// Two configurations are compared in words, for a reload.
func ExampleDiff() {
	older, _ := config.LoadBytes("old", []byte("service: {log_level: info}\nsources: [{name: a, protocol: history}]"))
	newer, _ := config.LoadBytes("new", []byte("service: {log_level: warn}"))
	for _, change := range config.Diff(older, newer) {
		fmt.Println(change)
	}
	// Output:
	// service.log_level: is now warn, was info
	// sources[a]: is gone
}
