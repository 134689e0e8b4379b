package signal

import (
	"fmt"
	"strconv"
	"strings"
)

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

// NumberText reads a number or a contact state as files and messages write it. A
// decimal comma is never guessed.
func NumberText(text string, decimalComma bool) (float64, error) {
	if state, ok := ContactText(text); ok {
		return state, nil
	}
	decimal := text
	if decimalComma {
		if strings.Contains(text, ".") {
			return 0, fmt.Errorf("%q has a point, and numbers are written with a decimal comma", text)
		}
		decimal = strings.Replace(text, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(decimal, 64)
	switch {
	case err == nil:
		return v, nil
	case strings.Contains(text, ",") && !decimalComma:
		return 0, fmt.Errorf("%q has a comma; set decimal_comma if that is how numbers are written", text)
	}
	return 0, fmt.Errorf("%q is not a number", text)
}
