package signal

import "strings"

// ContactText reads the state of a contact as files of other systems write it:
// 1 is wet, 0 is dry. ok is false for any other text.
func ContactText(text string) (state float64, ok bool) {
	switch strings.ToLower(text) {
	case "true", "on", "wet", "closed":
		return 1, true
	case "false", "off", "dry", "open":
		return 0, true
	}
	return 0, false
}
