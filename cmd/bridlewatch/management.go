package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/config"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/access/audit"
	"bridlewatch/dashboards/api"
)

// manager manages users and tokens, in a data directory or at a service.
type manager interface {
	Users(ctx context.Context) ([]api.User, error)
	AddUser(ctx context.Context, u access.User, password string) error
	SetRole(ctx context.Context, name string, role access.Role) error
	SetPassword(ctx context.Context, name, password string) error
	RemoveUser(ctx context.Context, name string) error
	Tokens(ctx context.Context) ([]api.Token, error)
	AddToken(ctx context.Context, t access.Token) (string, error)
	RevokeToken(ctx context.Context, name string) error
	Audit(ctx context.Context, limit int) ([]audit.Entry, error)
	Verify(ctx context.Context) (audit.Report, error)
}

// management is where the commands that manage users and tokens find them.
type management struct {
	config, data, server, tokenFile, output string
}

func (f *management) flags(c *cobra.Command) {
	fl := c.PersistentFlags()
	fl.StringVar(&f.config, "config", "bridlewatch.yaml", "configuration file, for the data directory and its own users and tokens")
	fl.StringVar(&f.data, "data", "", "data directory, instead of the configured one; then no configuration is needed")
	fl.StringVar(&f.server, "server", os.Getenv("BRIDLEWATCH_SERVER"), "ask this service; needs a token of scope admin; also $BRIDLEWATCH_SERVER")
	fl.StringVar(&f.tokenFile, "token-file", os.Getenv("BRIDLEWATCH_TOKEN_FILE"), "file with an access token; also $BRIDLEWATCH_TOKEN_FILE")
	outputFlag(fl, &f.output, "lists as text or json")
}

// manage finds what to manage and does it.
func (f *management) manage(c *cobra.Command, do func(context.Context, manager) error) error {
	ctx := c.Context()
	if f.server != "" {
		m, err := f.remote()
		if err != nil {
			return err
		}
		return do(ctx, m)
	}
	cfg, err := f.configuration(c.Flags().Changed("config"))
	if err != nil {
		return err
	}
	db, err := embedded.Open(ctx, embedded.Options{Dir: cfg.Store.Dir, Upkeep: -1, Retain: retention(cfg)})
	if errors.Is(err, store.ErrLocked) {
		return f.running(ctx, cfg.Store.Dir, err, do)
	}
	if err != nil {
		return fmt.Errorf("open data directory %s: %w", cfg.Store.Dir, err)
	}
	a, err := access.Open(ctx, access.Options{Store: db, Users: configuredUsers(cfg), Tokens: configuredTokens(cfg)})
	if err == nil {
		err = errors.Join(do(ctx, directory{a, db}), a.Close())
	}
	return errors.Join(err, db.Close())
}

// configuration reads the configuration; with --data one is needed only when
// it is named.
func (f *management) configuration(named bool) (*config.Config, error) {
	cfg := &config.Config{}
	if _, err := os.Stat(f.config); f.data == "" || named || err == nil {
		if cfg, err = config.Load(config.LoadOptions{File: f.config}); err != nil {
			return nil, err
		}
	}
	if f.data != "" {
		cfg.Store.Dir = f.data
	}
	return cfg, nil
}

// running asks the service that has the data directory open.
func (f *management) running(ctx context.Context, dir string, locked error, do func(context.Context, manager) error) error {
	file := filepath.Join(dir, access.ConsoleFile)
	c, err := access.ReadConsole(file)
	if errors.Is(err, fs.ErrPermission) {
		return fmt.Errorf("%w; only the owner of the data directory manages users while the service runs: try sudo", err)
	}
	if err != nil {
		return fmt.Errorf("%w, and it does not say how to reach it (%w)", locked, err)
	}
	m := &service{url: c.URL, token: c.Key, client: &http.Client{Timeout: 30 * time.Second}}
	if c.Certificate != "" {
		m.client.Transport = &http.Transport{TLSClientConfig: pinned(c.Certificate)}
	}
	return do(ctx, m)
}

// pinned trusts one certificate, by its hash, whatever name it is for.
func pinned(fingerprint string) *tls.Config {
	return &tls.Config{InsecureSkipVerify: true, MinVersion: tls.VersionTLS12, VerifyPeerCertificate: func(raw [][]byte, _ [][]*x509.Certificate) error {
		if len(raw) > 0 {
			if sum := sha256.Sum256(raw[0]); hex.EncodeToString(sum[:]) == fingerprint {
				return nil
			}
		}
		return errors.New("the certificate is not the one the service wrote into its data directory")
	}}
}

func (f *management) remote() (*service, error) {
	if f.tokenFile == "" {
		return nil, withCode(exitUsage, errors.New("--server needs --token-file with a token of scope admin"))
	}
	token, err := os.ReadFile(f.tokenFile)
	if err != nil {
		return nil, fmt.Errorf("read token: %w", err)
	}
	return &service{url: strings.TrimSuffix(f.server, "/"), token: strings.TrimSpace(string(token)), client: &http.Client{Timeout: 30 * time.Second}}, nil
}

// directory manages the users of a data directory no service has open.
type directory struct {
	access *access.Access
	store  store.Store
}

// account is the account of the operating system the command line runs under.
func account() string {
	if u, err := user.Current(); err == nil {
		return u.Username
	}
	return "uid " + strconv.Itoa(os.Getuid())
}

// by is who changes a data directory: whoever may write to it.
func (directory) by() access.Actor {
	return access.Actor{Name: "console (" + account() + ")", Role: access.Admin, Via: access.ByConsole, From: "this machine"}
}

func (d directory) Users(context.Context) ([]api.User, error) {
	var out []api.User
	for _, u := range d.access.Users() {
		out = append(out, api.UserOf(u))
	}
	return out, nil
}

func (d directory) AddUser(ctx context.Context, u access.User, password string) error {
	return d.access.AddUser(ctx, d.by(), u, password)
}

func (d directory) SetRole(ctx context.Context, name string, role access.Role) error {
	return d.access.SetRole(ctx, d.by(), name, role)
}

func (d directory) SetPassword(ctx context.Context, name, password string) error {
	return d.access.SetPassword(ctx, d.by(), name, password)
}

func (d directory) RemoveUser(ctx context.Context, name string) error {
	return d.access.RemoveUser(ctx, d.by(), name)
}

func (d directory) Tokens(context.Context) ([]api.Token, error) {
	var out []api.Token
	for _, t := range d.access.Tokens() {
		out = append(out, api.TokenOf(t))
	}
	return out, nil
}

func (d directory) AddToken(ctx context.Context, t access.Token) (string, error) {
	return d.access.AddToken(ctx, d.by(), t)
}

func (d directory) RevokeToken(ctx context.Context, name string) error {
	return d.access.RevokeToken(ctx, d.by(), name)
}

func (d directory) Audit(ctx context.Context, limit int) ([]audit.Entry, error) {
	return audit.List(ctx, d.store, 0, limit)
}

func (d directory) Verify(ctx context.Context) (audit.Report, error) {
	return audit.Verify(ctx, d.store)
}

// service manages the users of a running service over its interface.
type service struct {
	url, token string
	client     *http.Client
}

func (s *service) Users(ctx context.Context) (out []api.User, err error) {
	return out, s.call(ctx, http.MethodGet, "/users", nil, &out)
}

func (s *service) AddUser(ctx context.Context, u access.User, password string) error {
	return s.call(ctx, http.MethodPost, "/users", api.NewUser{Name: u.Name, FullName: u.FullName, Role: string(u.Role), Password: password}, nil)
}

func (s *service) SetRole(ctx context.Context, name string, role access.Role) error {
	return s.call(ctx, http.MethodPut, "/users/"+url.PathEscape(name)+"/role", api.NewRole{Role: string(role)}, nil)
}

func (s *service) SetPassword(ctx context.Context, name, password string) error {
	return s.call(ctx, http.MethodPut, "/users/"+url.PathEscape(name)+"/password", api.NewPassword{Password: password}, nil)
}

func (s *service) RemoveUser(ctx context.Context, name string) error {
	return s.call(ctx, http.MethodDelete, "/users/"+url.PathEscape(name), nil, nil)
}

func (s *service) Tokens(ctx context.Context) (out []api.Token, err error) {
	return out, s.call(ctx, http.MethodGet, "/tokens", nil, &out)
}

func (s *service) AddToken(ctx context.Context, t access.Token) (string, error) {
	wish := api.NewToken{Name: t.Name, Role: string(t.Role), Expires: t.Expires}
	for _, scope := range t.Scopes {
		wish.Scopes = append(wish.Scopes, string(scope))
	}
	var made api.Token
	err := s.call(ctx, http.MethodPost, "/tokens", wish, &made)
	return made.Text, err
}

func (s *service) RevokeToken(ctx context.Context, name string) error {
	return s.call(ctx, http.MethodDelete, "/tokens/"+url.PathEscape(name), nil, nil)
}

func (s *service) Audit(ctx context.Context, limit int) (out []audit.Entry, err error) {
	return out, s.call(ctx, http.MethodGet, "/audit?limit="+strconv.Itoa(limit), nil, &out)
}

func (s *service) Verify(ctx context.Context) (out audit.Report, err error) {
	return out, s.call(ctx, http.MethodGet, "/audit/verification", nil, &out)
}

// call asks for one thing and reads the answer into out, which may be nil.
func (s *service) call(ctx context.Context, method, path string, in, out any) error {
	var body io.Reader
	if in != nil {
		text, err := json.Marshal(in)
		if err != nil {
			return fmt.Errorf("encode question: %w", err)
		}
		body = bytes.NewReader(text)
	}
	req, err := http.NewRequestWithContext(ctx, method, s.url+api.Prefix+path, body)
	if err != nil {
		return withCode(exitUsage, fmt.Errorf("--server %q: %w", s.url, err))
	}
	req.Header.Set("Authorization", "Bearer "+s.token)
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set(access.ConsoleUserHeader, account())
	res, err := s.client.Do(req)
	if err != nil {
		return withCode(exitUnreachable, unreached(s.url, err))
	}
	defer res.Body.Close() // read to its end below
	text, err := io.ReadAll(res.Body)
	if err != nil {
		return withCode(exitUnreachable, fmt.Errorf("answer of %s: %w", s.url, err))
	}
	if res.StatusCode != http.StatusOK {
		var problem struct{ Detail string }
		if json.Unmarshal(text, &problem) == nil && problem.Detail != "" {
			return errors.New(problem.Detail)
		}
		return fmt.Errorf("%s answered %s", s.url, res.Status)
	}
	if out == nil {
		return nil
	}
	if err := json.Unmarshal(text, out); err != nil {
		return fmt.Errorf("%s does not speak this version of the interface: %w", s.url, err)
	}
	return nil
}
