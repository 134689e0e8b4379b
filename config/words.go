package config

import (
	"fmt"
	"strings"
)

func orList(words []string) string  { return listed(words, " or ") }
func andList(words []string) string { return listed(words, " and ") }

func listed(words []string, last string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + last + words[len(words)-1]
}

func lowerFirst(s string) string {
	if s == "" || len(s) > 1 && s[1] >= 'A' && s[1] <= 'Z' {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// didYouMean returns `; did you mean "x"?` for the nearest of the names, or
// nothing when none is near.
func didYouMean(word string, names []string) string {
	best, least := "", min(len(word)/3+2, len(word)) // a word of which no letter is left is no slip
	for _, name := range names {
		if d := distance(word, name); d < least {
			best, least = name, d
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf("; did you mean %q?", best)
}

// distance is the number of letters to insert, remove or replace.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := 1
			if a[i] == b[j] {
				cost = 0
			}
			diagonal, row[j+1] = row[j+1], min(row[j]+1, row[j+1]+1, diagonal+cost)
		}
	}
	return row[len(b)]
}
