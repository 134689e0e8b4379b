package config_test

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"bridlewatch/config"
)

// FuzzLoad feeds any text to the loader: it never panics, reports problems
// only as Errors with a place, and what it accepts can be printed and loaded
// again to the same version.
func FuzzLoad(f *testing.F) {
	for _, pattern := range []string{"good/*.yaml", "bad/*.yaml", "base.yaml"} {
		files, err := filepath.Glob(filepath.Join(corpus, pattern))
		if err != nil {
			f.Fatal(err)
		}
		for _, file := range files {
			data, err := os.ReadFile(file)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data)
		}
	}
	f.Add(config.Reference())
	load := func(data []byte) (*config.Config, error) {
		return config.Load(config.LoadOptions{File: "x.yaml", Root: fstest.MapFS{"x.yaml": {Data: data}}, Env: testEnv, WithoutSecrets: true})
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := load(data)
		if err != nil {
			var problems config.Errors
			if !errors.As(err, &problems) || len(problems) == 0 || problems[0].Place.File == "" {
				t.Fatalf("%v has no place", err)
			}
			if lines := strings.Count(err.Error(), "\n") + 1; lines != len(problems) {
				t.Errorf("%d problems on %d lines:\n%v", len(problems), lines, err)
			}
			return
		}
		var out bytes.Buffer
		if err := config.Print(c, &out); err != nil {
			t.Fatal(err)
		}
		again, err := load(out.Bytes())
		if err != nil {
			t.Fatalf("printed configuration is refused:\n%v\n%s", err, out.Bytes())
		}
		if again.Version != c.Version {
			t.Errorf("version %s became %s", c.Version, again.Version)
		}
	})
}
