package opcua

import (
	"cmp"
	"context"
	"crypto/rsa"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"github.com/gopcua/opcua"
	"github.com/gopcua/opcua/ua"
)

// Security says how a session is protected and who we are.
type Security struct {
	Policy  string // "None", "Basic256Sha256", "Aes128_Sha256_RsaOaep", "Aes256_Sha256_RsaPss"
	Mode    string // "None", "Sign", "SignAndEncrypt"
	Allowed bool   // for policy None: the configuration says so in words

	User     string
	Password string

	UserCertificate []byte // DER
	UserKey         *rsa.PrivateKey

	Identity *Identity // our application certificate; needed for every policy but None

	// Trusted decides about the server's certificate (DER) before anything is
	// sent to it. Nil trusts nobody but with policy None.
	Trusted func(endpoint string, certificate []byte) error
}

var policies = map[string]bool{"None": true, "Basic256Sha256": true, "Aes128_Sha256_RsaOaep": true, "Aes256_Sha256_RsaPss": true}

// check refuses combinations that would be unsafe or cannot work.
func (s Security) check(source string) error {
	switch {
	case !policies[s.Policy]:
		return fmt.Errorf("opc ua source %q: security policy %q: want None, Basic256Sha256, Aes128_Sha256_RsaOaep or Aes256_Sha256_RsaPss", source, s.Policy)
	case s.Policy == "None" && !s.Allowed:
		return fmt.Errorf("opc ua source %q: security policy None sends everything in clear; say accept_no_security: true or choose Basic256Sha256", source)
	case s.Policy == "None" && s.User != "":
		return fmt.Errorf("opc ua source %q: user %q with security policy None would send the password in clear; choose Basic256Sha256 with SignAndEncrypt", source, s.User)
	case s.User != "" && s.Mode != "SignAndEncrypt":
		return fmt.Errorf("opc ua source %q: user %q needs security mode SignAndEncrypt, not %q", source, s.User, s.Mode)
	case s.Policy != "None" && s.Mode != "Sign" && s.Mode != "SignAndEncrypt":
		return fmt.Errorf("opc ua source %q: security mode %q: want Sign or SignAndEncrypt with policy %s", source, s.Mode, s.Policy)
	case s.Policy != "None" && s.Identity == nil:
		return fmt.Errorf("opc ua source %q: policy %s needs an application certificate and there is none", source, s.Policy)
	}
	return nil
}

// options turns the security settings into options of a fresh client. With a
// policy it first asks the server for its endpoints and has its certificate
// judged.
func (s Security) options(ctx context.Context, o Options, nodes int) ([]opcua.Option, error) {
	common := []opcua.Option{
		opcua.AutoReconnect(false),
		o.dialer(nodes),
		opcua.RequestTimeout(o.Timeout),
		opcua.Lifetime(cmp.Or(o.lifetime, time.Hour)),
		opcua.SessionTimeout(time.Minute),
		opcua.ApplicationName("bridlewatch"),
	}
	if s.Policy == "None" {
		return append(common, opcua.SecurityPolicy("None"), opcua.SecurityModeString("None"), opcua.AuthAnonymous()), nil
	}
	ep, err := s.endpoint(ctx, o)
	if err != nil {
		return nil, err
	}
	options := append(common,
		opcua.ApplicationURI(s.Identity.URI),
		opcua.Certificate(s.Identity.Certificate),
		opcua.PrivateKey(s.Identity.Key),
	)
	switch {
	case s.User != "":
		return append(options, opcua.AuthUsername(s.User, s.Password), opcua.SecurityFromEndpoint(ep, ua.UserTokenTypeUserName)), nil
	case s.UserCertificate != nil:
		return append(options, opcua.AuthCertificate(s.UserCertificate), opcua.AuthPrivateKey(s.UserKey),
			opcua.SecurityFromEndpoint(ep, ua.UserTokenTypeCertificate)), nil
	}
	return append(options, opcua.AuthAnonymous(), opcua.SecurityFromEndpoint(ep, ua.UserTokenTypeAnonymous)), nil
}

// endpoint picks the endpoint of the wanted policy and mode and has the
// server's certificate judged.
func (s Security) endpoint(ctx context.Context, o Options) (*ua.EndpointDescription, error) {
	eps, err := opcua.GetEndpoints(ctx, o.Endpoint, opcua.AutoReconnect(false), opcua.DialTimeout(o.Timeout), opcua.RequestTimeout(o.Timeout))
	if err != nil {
		return nil, fmt.Errorf("ask %s for its endpoints: %w", o.Endpoint, err)
	}
	want := ua.SecurityPolicyURIPrefix + s.Policy
	mode := ua.MessageSecurityModeFromString(s.Mode)
	var offers []string
	for _, ep := range eps {
		if ep.SecurityPolicyURI == want && ep.SecurityMode == mode {
			if err := s.judge(o.Endpoint, ep.ServerCertificate); err != nil {
				return nil, err
			}
			ep.UserIdentityTokens = byKeySize(ep.UserIdentityTokens)
			return ep, nil
		}
		offers = append(offers, strings.TrimPrefix(ep.SecurityPolicyURI, ua.SecurityPolicyURIPrefix)+"/"+ep.SecurityMode.String())
	}
	return nil, fmt.Errorf("%s offers %s, not %s with %s", o.Endpoint, strings.Join(offers, ", "), s.Policy, s.Mode)
}

// byKeySize puts user token policies of obsolete security policies last: they
// limit the server's key to 2048 bits and would fail with a larger one.
func byKeySize(tokens []*ua.UserTokenPolicy) []*ua.UserTokenPolicy {
	var first, last []*ua.UserTokenPolicy
	for _, t := range tokens {
		switch t.SecurityPolicyURI {
		case ua.SecurityPolicyURIBasic128Rsa15, ua.SecurityPolicyURIBasic256, ua.SecurityPolicyURINone:
			last = append(last, t)
		default:
			first = append(first, t)
		}
	}
	return append(first, last...)
}

func (s Security) judge(endpoint string, certificate []byte) error {
	if len(certificate) == 0 {
		return fmt.Errorf("%s shows no certificate", endpoint)
	}
	if s.Trusted == nil {
		return fmt.Errorf("%s shows the certificate %s and nothing is trusted; approve it first", endpoint, Thumbprint(certificate))
	}
	return s.Trusted(endpoint, certificate)
}

// Thumbprint is the SHA-256 of a certificate in DER form, in hexadecimal.
func Thumbprint(der []byte) string {
	sum := sha256.Sum256(der)
	return hex.EncodeToString(sum[:])
}

// Pinned trusts exactly the certificate with this thumbprint.
func Pinned(thumbprint string) func(string, []byte) error {
	want := strings.ToLower(strings.ReplaceAll(thumbprint, ":", ""))
	return func(endpoint string, der []byte) error {
		if got := Thumbprint(der); got != want {
			return fmt.Errorf("%s shows the certificate %s, trusted is %s; if the server's certificate was renewed, approve the new one", endpoint, got, want)
		}
		return nil
	}
}
