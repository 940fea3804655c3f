// Package templates contains the studio's own pattern sets as data, embedded into the programs.
//
// Each set is a folder named after it with pattern.svg (millimetres) and pattern.toml; package pattern says what the two
// mean. What always holds: every set parses, grades over the range of bodies in this package's test, and is our own
// drawing.
package templates

import (
	"embed"
	"fmt"
	"io/fs"
	"strings"
)

//go:embed */pattern.svg */pattern.toml
var files embed.FS

// FS has the sets as files: "<name>/pattern.svg" and "<name>/pattern.toml".
func FS() fs.FS { return files }

// Sets is the names of all sets, sorted.
func Sets() []string {
	entries, err := files.ReadDir(".") // sorted by name
	if err != nil {
		return nil // an embedded root is always readable
	}
	var out []string
	for _, e := range entries {
		if e.IsDir() {
			out = append(out, e.Name())
		}
	}
	return out
}

// Source is the two files of one set. An unknown name is an error that lists the names there are.
func Source(name string) (svg, toml []byte, err error) {
	for _, n := range Sets() {
		if n != name {
			continue
		}
		if svg, err = files.ReadFile(name + "/pattern.svg"); err == nil {
			toml, err = files.ReadFile(name + "/pattern.toml")
		}
		if err != nil {
			return nil, nil, fmt.Errorf("pattern set %q is incomplete: %w", name, err)
		}
		return svg, toml, nil
	}
	return nil, nil, fmt.Errorf("there is no pattern set %q; the sets are %s", name, strings.Join(Sets(), ", "))
}
