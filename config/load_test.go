package config_test

import (
	"os"
	"path/filepath"
	"testing"

	"bridlewatch/config"
)

const corpus = "../testdata/config"

func TestGoodFilesLoad(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(corpus, "good", "*.yaml"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no good files: %v", err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := config.LoadBytes(filepath.Base(file), data); err != nil {
				t.Errorf("does not load:\n%v", err)
			}
		})
	}
}
