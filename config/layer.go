package config

import (
	"slices"
	"strings"

	"bridlewatch/compare/quantity"

	"github.com/spf13/pflag"
	"github.com/spf13/viper"
)

// environmentPrefix begins every environment variable that overrides a key:
// service.log_level is BRIDLEWATCH_SERVICE_LOG_LEVEL.
const environmentPrefix = "BRIDLEWATCH_"

// delimiter between the parts of a key for viper, which would otherwise split
// keys at every dot.
const delimiter = "::"

// serviceKey is a single value that flags and environment may override.
type serviceKey struct {
	group string
	entry
}

func (k serviceKey) path() string { return k.group + delimiter + k.name }

func (k serviceKey) variable() string {
	return environmentPrefix + strings.ToUpper(k.group+"_"+k.name)
}

// serviceKeys lists the single values of the top-level groups.
func serviceKeys() []serviceKey {
	var keys []serviceKey
	for _, g := range documentShape().group().entries {
		if g.list {
			continue
		}
		for _, e := range g.group.entries {
			if !e.list && e.group == nil {
				keys = append(keys, serviceKey{g.name, e})
			}
		}
	}
	return keys
}

// layer lets viper decide, for every service-level key, whether flag,
// environment, file or default wins, and puts a winner from outside the files
// into the tree, where it is read as strictly as everything else.
func (l *loader) layer(flags *pflag.FlagSet) {
	v := viper.NewWithOptions(viper.KeyDelimiter(delimiter))
	files, environment := map[string]any{}, map[string]any{}
	for _, k := range l.keys {
		v.SetDefault(k.path(), k.preset)
		if n := l.root.field(k.group).field(k.name); n != nil && n.kind == scalar {
			put(files, k, n.text)
		}
		if value, set := l.env[k.variable()]; set {
			put(environment, k, value)
		}
		if f := lookup(flags, k.flag); f != nil {
			if err := v.BindPFlag(k.path(), f); err != nil {
				l.report(Place{File: "--" + k.flag}, "%v", err)
			}
		}
	}
	for _, layer := range []map[string]any{files, environment} {
		if err := v.MergeConfigMap(layer); err != nil {
			l.report(Place{Path: "layers"}, "%v", err)
		}
	}
	for _, k := range l.keys {
		l.take(k, v.GetString(k.path()), lookup(flags, k.flag))
	}
}

func lookup(flags *pflag.FlagSet, name string) *pflag.Flag {
	if flags == nil || name == "" {
		return nil
	}
	return flags.Lookup(name)
}

func put(tree map[string]any, k serviceKey, text string) {
	group, ok := tree[k.group].(map[string]any)
	if !ok {
		group = map[string]any{}
		tree[k.group] = group
	}
	group[k.name] = text
}

// take puts the effective value of a key into the tree when it did not come
// from a file.
func (l *loader) take(k serviceKey, value string, flag *pflag.Flag) {
	place := Place{Path: k.group + "." + k.name}
	_, inEnvironment := l.env[k.variable()]
	switch {
	case flag != nil && flag.Changed:
		place.File = "--" + k.flag
	case inEnvironment:
		place.File = "$" + k.variable()
	default:
		return
	}
	group := l.root.field(k.group)
	if group == nil || group.kind != mapping {
		group = &node{kind: mapping, place: Place{File: place.File, Path: k.group}}
		l.root.set(field{k.group, group.place, group})
	}
	group.set(field{k.name, place, &node{kind: scalar, text: value, place: place}})
}

// reserved are variables with our prefix that are not keys.
var reserved = []string{"BRIDLEWATCH_CONFIG", "BRIDLEWATCH_SERVER", "BRIDLEWATCH_TOKEN_FILE"}

// checkEnvironment advises on variables that look like keys and are none: a
// misspelt one would be ignored in silence. What a secret refers to may have
// any name.
func (l *loader) checkEnvironment() {
	known := slices.Clone(reserved)
	for _, k := range l.keys {
		known = append(known, k.variable())
	}
	for name := range l.env {
		if strings.HasPrefix(name, environmentPrefix) && !slices.Contains(known, name) && !slices.Contains(l.decoder.vault.asked, name) {
			l.decoder.advise(Place{File: "$" + name}, "is not a key%s", didYouMean(name, known))
		}
	}
}

// atmosphere is read before everything else, because gauge pressures anywhere
// in the file depend on it. What is wrong with it is reported later.
func (l *loader) atmosphere() quantity.Pressure {
	if n := l.root.field("site").field("atmospheric_pressure"); n != nil && n.kind == scalar {
		if p, err := airPressure().read(nil, n.text); err == nil {
			return p
		}
	}
	return quantity.StandardAtmosphere
}
