package cause

// Test is something a person can do that splits the causes that remain.
type Test struct {
	Name     string    `json:"name"` // e.g. "drain and watch"
	Steps    []string  `json:"steps"`
	Minutes  int       `json:"minutes"`
	Tools    []string  `json:"tools"`
	Permit   string    `json:"permit"` // what the site will ask for, in words
	Cautions []string  `json:"cautions"`
	Outcomes []Outcome `json:"outcomes"`
	Splits   float64   `json:"splits_nats"` // expected information about the cause
}

// Outcome is one thing a test may show and what it then means.
type Outcome struct {
	Seen  string  `json:"seen"`
	Means []Cause `json:"means"` // causes that remain
}
