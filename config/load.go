package config

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/spf13/pflag"
)

// LoadOptions says where a configuration comes from.
type LoadOptions struct {
	File  string         // main file; conf.d/*.yaml beside it is read as well
	Flags *pflag.FlagSet // flags that were set win over everything; nil: none
	Env   []string       // environment as "NAME=value"; nil: that of the process
	Root  fs.FS          // files are opened in it; nil: the file system of the box

	// WithoutSecrets checks the references of secrets but does not read them,
	// so that a configuration can be checked where they are not kept.
	WithoutSecrets bool
}

// Load reads, checks and completes a configuration. The error is an Errors
// with everything that is wrong.
func Load(opts LoadOptions) (*Config, error) {
	l := newLoader(opts)
	l.readFiles(opts.File)
	l.keys = serviceKeys()
	l.layer(opts.Flags)
	c, err := l.finish()
	if err != nil {
		return nil, err
	}
	l.checkEnvironment()
	c.Advice = l.decoder.advice.sorted()
	return c, nil
}

// LoadBytes loads a configuration that is not in a file of its own, such as
// an embedded one. Neither environment nor flags override it.
func LoadBytes(name string, data []byte) (*Config, error) {
	l := newLoader(LoadOptions{})
	l.add(name, data)
	return l.finish()
}

// loader gathers the files of a configuration into one tree.
type loader struct {
	root     *node
	first    string // name of the main file
	open     func(name string) ([]byte, error)
	stat     func(name string) (fs.FileInfo, error)
	list     func(dir string) ([]string, error)
	env      map[string]string
	keys     []serviceKey // that flags and environment may override
	decoder  decoder
	problems Errors
}

func newLoader(opts LoadOptions) *loader {
	l := &loader{root: &node{kind: mapping}, env: environment(opts.Env), open: os.ReadFile, stat: os.Stat, list: yamlFiles(os.DirFS)}
	if opts.Root != nil {
		l.open = func(name string) ([]byte, error) { return fs.ReadFile(opts.Root, name) }
		l.stat = func(name string) (fs.FileInfo, error) { return fs.Stat(opts.Root, name) }
		l.list = yamlFiles(func(dir string) fs.FS {
			sub, err := fs.Sub(opts.Root, dir)
			if err != nil {
				return opts.Root
			}
			return sub
		})
	}
	l.decoder.vault = vault{
		lookup:   func(name string) (string, bool) { v, ok := l.env[name]; return v, ok },
		readFile: l.open,
		stat:     l.stat,
		closed:   opts.WithoutSecrets,
	}
	return l
}

func environment(list []string) map[string]string {
	if list == nil {
		list = os.Environ()
	}
	env := make(map[string]string, len(list))
	for _, pair := range list {
		if name, v, found := strings.Cut(pair, "="); found {
			env[name] = v
		}
	}
	return env
}

// yamlFiles lists the YAML files of a directory in order of their names; a
// directory that is not there has none.
func yamlFiles(at func(dir string) fs.FS) func(dir string) ([]string, error) {
	return func(dir string) ([]string, error) {
		entries, err := fs.ReadDir(at(dir), ".")
		if errors.Is(err, fs.ErrNotExist) {
			return nil, nil
		}
		var names []string
		for _, e := range entries {
			if ext := filepath.Ext(e.Name()); !e.IsDir() && (ext == ".yaml" || ext == ".yml") {
				names = append(names, filepath.Join(dir, e.Name()))
			}
		}
		slices.Sort(names)
		return names, err
	}
}

func (l *loader) report(at Place, format string, args ...any) {
	l.problems = append(l.problems, problem(at, format, args...))
}

func (l *loader) readFiles(main string) {
	if main == "" {
		l.report(Place{}, "no configuration file is named; give one with --config")
		return
	}
	names := []string{main}
	dir := filepath.Join(filepath.Dir(main), "conf.d")
	more, err := l.list(dir)
	if err != nil {
		l.report(Place{File: dir}, "cannot be listed: %v", err)
	}
	for _, name := range append(names, more...) {
		data, err := l.open(name)
		if errors.Is(err, fs.ErrNotExist) && name == main {
			l.report(Place{File: name}, "there is no such file: name another, or write one with `bridlewatch reference`")
			continue
		}
		if err != nil {
			l.report(Place{File: name}, "cannot be read: %v", bare(err))
			continue
		}
		l.add(name, data)
	}
}

// bare is the error below the name of the file, which the place shows already.
func bare(err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		return path.Err
	}
	return err
}

// add merges one file into the tree.
func (l *loader) add(name string, data []byte) {
	if l.first == "" {
		l.first = name
		l.root.place = Place{File: name, Line: 1, Column: 1}
	}
	n, problems := parseYAML(name, data)
	l.problems = append(l.problems, problems...)
	if n == nil || n.kind == null {
		return
	}
	if n.kind != mapping {
		l.report(n.place, "must be a group of keys such as site, sources and gauges; it is %s", n.kind)
		return
	}
	l.merge(l.root, n)
}

// shared are the lists that every file may add to.
var shared = []string{"sources", "gauges", "notify", "users", "tokens", "quiet"}

// merge adds the keys of one file to those before. Groups are joined, the
// shared lists grow, and a value given in two files is refused, because
// nobody could tell which one counts.
func (l *loader) merge(into, from *node) {
	for _, f := range from.fields {
		have := into.field(f.name)
		switch {
		case have == nil || have.kind == null:
			into.set(f)
		case f.value.kind == null:
		case have.kind == mapping && f.value.kind == mapping:
			l.merge(have, f.value)
		case have.kind == sequence && f.value.kind == sequence && into == l.root && slices.Contains(shared, f.name):
			have.items = append(have.items, f.value.items...)
		default:
			l.report(f.place, "is given in two files: the other is %s", have.place.position())
		}
	}
}

// finish decodes the tree, checks the whole and prints it once for its hash.
func (l *loader) finish() (*Config, error) {
	d := &l.decoder
	d.atmosphere = l.atmosphere()
	var doc document
	whole := documentShape()
	readShape(d, l.root, whole, &doc)
	c := d.assemble(&doc)
	d.check(c, l.root)
	if problems := append(l.problems, d.problems...).sorted(); len(problems) > 0 {
		return nil, problems
	}
	c.Advice = d.advice.sorted()
	c.Version = version(c, whole)
	return c, nil
}

// version is a hash over every effective value by its path; of a secret it
// knows the reference only.
func version(c *Config, whole shape[document]) string {
	hash := sha256.New()
	flatten("", writeShape(whole, c.document()), func(path, text string) {
		io.WriteString(hash, path+": "+text+"\n")
	})
	return hex.EncodeToString(hash.Sum(nil)[:8])
}

// flatten visits every single value below v.
func flatten(path string, v any, visit func(path, text string)) {
	switch v := v.(type) {
	case yaml.MapSlice:
		for _, item := range v {
			name, _ := item.Key.(string)
			flatten(join(path, name), item.Value, visit)
		}
	case []yaml.MapSlice:
		for i, item := range v {
			flatten(path+"["+strconv.Itoa(i)+"]", item, visit)
		}
	default:
		visit(path, text(v))
	}
}
