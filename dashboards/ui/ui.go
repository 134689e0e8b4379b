// Package ui holds the templates, style sheets and scripts of the pages. They
// are plain files without a build step and are part of the program. Static
// files are served under a path that carries a hash of all of them, so a
// browser may keep them for ever and never mixes two versions.
package ui

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
)

//go:embed templates static
var files embed.FS

// Templates returns the page templates.
func Templates() fs.FS { return sub("templates") }

// Static returns the style sheets, scripts and pictures.
func Static() fs.FS { return sub("static") }

func sub(name string) fs.FS {
	tree, err := fs.Sub(files, name)
	if err != nil {
		panic(err) // the name is a constant of this file
	}
	return tree
}

// Hash returns a short hash of every static file and its name.
func Hash() (string, error) {
	h := sha256.New()
	err := fs.WalkDir(Static(), ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		body, err := fs.ReadFile(Static(), path)
		if err != nil {
			return err
		}
		h.Write([]byte(path))
		h.Write(body)
		return nil
	})
	return hex.EncodeToString(h.Sum(nil))[:12], err
}

// Handler serves the static files below prefix, to be kept by browsers.
func Handler(prefix string) http.Handler {
	tree := http.StripPrefix(prefix, http.FileServerFS(Static()))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
		tree.ServeHTTP(w, r)
	})
}
