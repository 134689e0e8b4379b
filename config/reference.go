package config

import (
	"bytes"
	_ "embed"
)

//go:embed reference.yaml
var referenceFile []byte

// Reference returns the commented reference configuration: every key there
// is, with what it means and what it defaults to.
func Reference() []byte { return bytes.Clone(referenceFile) }
