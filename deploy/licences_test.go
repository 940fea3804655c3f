package deploy_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"benchbell/quote/gaugetest"
)

// module is a module of others that a program is linked with.
type module struct {
	Path, Version, Dir string
	programs           []string
}

// Each notice is known by words that no other has; the first that fits is its licence. One that fits none was never read:
// read it, and add it here if the programs may be handed on under it.
var knownLicences = []struct {
	name  string
	words *regexp.Regexp
}{
	{"FreeType licence", regexp.MustCompile(`The FreeType Project LICENSE`)},
	{"Apache, version 2.0", regexp.MustCompile(`Apache License\s+Version 2\.0, January 2004`)},
	{"public domain", regexp.MustCompile(`dedicated to the public\s+domain`)},
	{"MIT and others, as listed", regexp.MustCompile(`Third-Party Software Notices`)},
	{"BSD, 3 clauses", regexp.MustCompile(`(?s)Redistribution and use in source and binary forms.*Neither\s+the\s+names?\s+of`)},
	{"BSD, 2 clauses", regexp.MustCompile(`(?s)Redistribution and use in source and binary forms.*THIS SOFTWARE IS PROVIDED`)},
	{"MIT", regexp.MustCompile(`Permission is hereby granted, free of charge, to any person`)},
	{"patent grant", regexp.MustCompile(`Additional IP Rights Grant \(Patents\)`)},
}

// Files that no notice of a linked package is in, or whose place another takes.
var otherNotices = map[string]string{
	"modernc.org/sqlite/LICENSE-3RD-PARTY.md": "repeats the notices of the modules around it, and of its own tests",
	"modernc.org/sqlite/LICENSE-SQLITE_VEC":   "a search for vectors, which is not linked",
	"modernc.org/memory/LICENSE-LOGO":         "a picture, which is not linked",
	"github.com/golang/freetype/LICENSE":      "offers a choice of two licences; the FreeType licence is taken",
}

// Notices that do not lie where every other one does.
var moreNotices = map[string][]string{
	"github.com/golang/freetype": {"licenses/ftl.txt"},
	"golang.org/x/image":         {"font/gofont/ttfs/README"},
}

// TestLicencesOfWhatIsLinked holds licences.md to the two programs as they are installed: it has every module that is
// linked into one, at its version, with the notices that its licence wants handed on, and no other.
func TestLicencesOfWhatIsLinked(t *testing.T) {
	var linked []*module
	for _, program := range []string{"bot", "worker"} {
		for _, m := range modulesOf(t, "../"+program) {
			i := slices.IndexFunc(linked, func(l *module) bool { return l.Path == m.Path })
			if i < 0 {
				linked, i = append(linked, m), len(linked)
			}
			linked[i].programs = append(linked[i].programs, program)
		}
	}
	slices.SortFunc(linked, func(a, b *module) int { return strings.Compare(a.Path, b.Path) })
	if len(linked) < 10 {
		t.Fatalf("only %d linked modules found; the query is broken", len(linked))
	}
	// Go's own notice is word for word that of its modules; where a distribution keeps the toolchain's copy differs.
	sys := slices.IndexFunc(linked, func(m *module) bool { return m.Path == "golang.org/x/sys" })
	goroot := &module{Path: "Go", Version: "the standard library and runtime", Dir: linked[sys].Dir, programs: []string{"bot", "worker"}}

	var b bytes.Buffer
	b.WriteString("# Licences of what is linked in\n\nWhoever hands on a built bot or worker hands these notices on with it. Benchbell's own licence is in LICENSE.\n" +
		"Portions of this software are copyright 1996-2010 The FreeType Project (www.freetype.org). All rights reserved.\n\n" +
		"This file is written by `go test ./deploy -run Licences -update`.\n\n| module | version | in | licence |\n|---|---|---|---|\n")
	texts, order := map[string][]string{}, []string{}
	for _, m := range append([]*module{goroot}, linked...) {
		var names []string
		for _, file := range noticesOf(t, m) {
			text, err := os.ReadFile(filepath.Join(m.Dir, file))
			if err != nil {
				t.Fatal(err)
			}
			name := licence(text)
			if name == "" {
				t.Errorf("%s of %s has a licence that was never read; read it, then name it in knownLicences", file, m.Path)
			}
			if !slices.Contains(names, name) {
				names = append(names, name)
			}
			key := strings.TrimSpace(strings.ToValidUTF8(strings.ReplaceAll(string(text), "\r\n", "\n"), "(c)"))
			if texts[key] == nil {
				order = append(order, key)
			}
			texts[key] = append(texts[key], m.Path)
		}
		if names == nil {
			t.Errorf("%s has no notice of a licence; without one it cannot be handed on", m.Path)
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s |\n", m.Path, m.Version, strings.Join(m.programs, ", "), strings.Join(names, "; "))
	}
	for _, text := range order {
		fmt.Fprintf(&b, "\n## %s\n\n````\n%s\n````\n", strings.Join(texts[text], ", "), text)
	}
	compareLicences(t, b.Bytes(), linked)
}

func licence(text []byte) string {
	for _, k := range knownLicences {
		if k.words.Match(text) {
			return k.name
		}
	}
	return ""
}

// modulesOf asks for linux/amd64 without C, which is what is installed.
func modulesOf(t *testing.T, program string) []*module {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), "go", "list", "-deps", "-json=Module", program)
	cmd.Env = append(os.Environ(), "GOOS=linux", "GOARCH=amd64", "CGO_ENABLED=0")
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v: %v", cmd, err)
	}
	found := map[string]*module{}
	for dec := json.NewDecoder(bytes.NewReader(out)); ; {
		var pkg struct {
			Module *struct {
				Path, Version, Dir string
				Main               bool
			}
		}
		if err := dec.Decode(&pkg); errors.Is(err, io.EOF) {
			return slices.Collect(maps.Values(found))
		} else if err != nil {
			t.Fatal(err)
		}
		if m := pkg.Module; m != nil && !m.Main {
			found[m.Path] = &module{Path: m.Path, Version: m.Version, Dir: m.Dir}
		}
	}
}

func noticesOf(t *testing.T, m *module) []string {
	t.Helper()
	entries, err := os.ReadDir(m.Dir)
	if err != nil {
		t.Fatal(err)
	}
	notice := regexp.MustCompile(`(?i)^(licen[sc]e|copying|notice|patents)`)
	var files []string
	for _, e := range entries {
		if !e.IsDir() && notice.MatchString(e.Name()) && otherNotices[m.Path+"/"+e.Name()] == "" {
			files = append(files, e.Name())
		}
	}
	return append(files, moreNotices[m.Path]...)
}

func compareLicences(t *testing.T, want []byte, linked []*module) {
	t.Helper()
	if gaugetest.Update() {
		gaugetest.Golden(t, "licences.md", want)
		return
	}
	got, err := os.ReadFile("licences.md")
	if err != nil {
		t.Fatal(err)
	}
	listed := map[string]string{}
	for _, row := range regexp.MustCompile(`(?m)^\| ([^ |]+\.[^ |]+) \| (v[^ |]+) \|`).FindAllStringSubmatch(string(got), -1) {
		listed[row[1]] = row[2]
	}
	for _, m := range linked {
		if listed[m.Path] != m.Version {
			t.Errorf("%s %s is linked into %v, and licences.md has it as %q", m.Path, m.Version, m.programs, listed[m.Path])
		}
		delete(listed, m.Path)
	}
	for path := range listed {
		t.Errorf("licences.md lists %s, which is not linked", path)
	}
	gaugetest.Golden(t, "licences.md", want)
}
