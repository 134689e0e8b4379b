package plant

import "time"

// Trust is where the certificates of servers wait for somebody to approve
// them. The command line uses the same.
type Trust interface {
	// Certificates returns what every source keeps, those that wait first.
	Certificates() ([]Certificate, error)
	// Approve trusts a certificate from the next connection on.
	Approve(source, thumbprint string) (Certificate, error)
	// Withdraw trusts it no more.
	Withdraw(source, thumbprint string) (Certificate, error)
}

// Certificate is one certificate a server has shown.
type Certificate struct {
	Source     string // whose folder it is in; several names when sources share one
	Thumbprint string // SHA-256
	SHA1       string // what many tools of servers show
	Subject    string
	URI        string // application URI
	NotBefore  time.Time
	NotAfter   time.Time
	Trusted    bool
	Warning    string // that it ends soon or has ended
	Problem    string // why it cannot be read
}
