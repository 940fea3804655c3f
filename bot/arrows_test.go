package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// An arrow says what the packages under a path may import of this module and which foreign packages are theirs alone.
// The first rule whose path holds the package is its rule.
type arrow struct {
	from   string
	to     []string // prefixes of packages of this module; a trailing "/..." takes the tree
	never  []string // foreign packages
	reason string
}

var arrows = []arrow{
	{kit, nil, nil, "what tests are measured against knows nothing of what is tested"},
	{"quote/geom", nil, engineNever, "geometry is the ground: it stands on nothing of ours"},
	{"quote/draw", []string{"quote/geom"}, engineNever, "the drawing board knows figures, not the trade, so that every engine's pictures share it"},
	{"quote/figure", []string{"quote/geom", "quote/draw"}, engineNever, "the figure is a drawing; it is told what to mark"},
	{"quote/pdf", []string{"quote/geom", "quote/draw"}, engineNever, "the printer takes text and scenes ready to print"},
	{"quote/paper", []string{"quote/geom", "quote/draw"}, engineNever, "the paper pattern is printed from outlines, whoever graded them"},
	{"quote/pattern", []string{"quote/geom", "quote/drawing"}, engineNever, "a pattern is a drawing with a meaning; it knows nothing of what is done with it"},
	{"quote/nest", []string{"quote/geom", "quote/nest/..."}, engineNever, "leaves know nothing of each other, so that an engine can be replaced behind its door"},
	{"quote/plan", []string{"quote/geom", "quote/plan/..."}, engineNever, "leaves know nothing of each other, so that an engine can be replaced behind its door"},
	{"quote/", []string{"quote/geom"}, engineNever, "leaves know nothing of each other, so that an engine can be replaced behind its door"},
	{"quote", []string{"quote/..."}, engineNever, "the engine composes its leaves and is pure: no queue, no bot, no network"},
	{"jobs/queue", []string{"jobs", "quote"}, []string{"database/sql"}, "the queue carries messages; what they mean is not its business"},
	{"jobs/embedded", nil, []string{"database/sql"}, "an embedded server is a server: it knows no messages"},
	{"jobs/jobstest", []string{"jobs", "quote/..."}, nil, "what tests of a queue need is what the queue's users have"},
	{"jobs", []string{"quote"}, []string{"database/sql", "github.com/hibiken/asynq"}, "messages are made of the engine's words only"},
	{"worker/compute", []string{"jobs", "quote/..."}, []string{"database/sql", "github.com/hibiken/asynq"}, "a worker shares nothing but the queue"},
	{"bot/chat/", []string{"bot/chat"}, nil, "what tests of a transport need is the conversation's words only"},
	{"bot/chat", nil, []string{"database/sql", "net/http", "github.com/bwmarrin/discordgo"}, "the conversation's words know no transport and no trade"},
	{"bot/browser", []string{"bot/chat/...", "bot/browser/..."}, []string{"database/sql", "github.com/bwmarrin/discordgo"}, "a transport carries messages; the trade is the desk's"},
	{"bot/discord", []string{"bot/chat/...", "bot/discord/..."}, []string{"database/sql"}, "a transport carries messages; the trade is the desk's"},
	{"bot/ledger", []string{"quote/...", "jobs", "bot/chat", "bot/browser/..."}, []string{"github.com/hibiken/asynq", "github.com/bwmarrin/discordgo"}, "the ledger keeps what happened: the engine's words, requests, and posts on their way (hence bot/chat and the browser's store)"},
	{"bot/desk", []string{"bot/chat/...", "bot/ledger", "jobs/...", "quote/...", "templates"}, []string{"database/sql", "github.com/hibiken/asynq", "github.com/bwmarrin/discordgo"}, "the desk holds the conversation for any transport and any queue"},
	{"templates", []string{"quote/pattern", "quote/geom"}, nil, "the library is data; its tests grade it"},
	{"bot", []string{"..."}, nil, "mains wire everything"},
	{"worker", []string{"..."}, nil, "mains wire everything"},
	{"deploy", nil, nil, "deployment is files"},
}

// kit is for tests, as is every package whose name ends in "test": files of tests and such packages may import one, and
// nothing else may. The kit is open to all of them.
const kit = "quote/gaugetest"

func forTests(pkg string) bool { return strings.HasSuffix(pkg, "test") }

// The engine touches neither the network, nor files at run time, nor a database.
var engineNever = []string{"net", "net/http", "database/sql", "os", "github.com/hibiken/asynq", "github.com/redis/go-redis/v9", "github.com/bwmarrin/discordgo"}

// Each of these is imported, outside tests, by the package trees named alone; the rest of the program must not know that it is there.
var onlyImporter = map[string][]string{
	"github.com/bwmarrin/discordgo":    {"bot/discord"},
	"github.com/hibiken/asynq":         {"jobs/queue"},
	"database/sql":                     {"bot/ledger"},
	"modernc.org/sqlite":               {"bot/ledger"},
	"github.com/jung-kurt/gofpdf":      {"quote/pdf", "quote/paper"},
	"github.com/alicebob/miniredis/v2": {"jobs/embedded"},
	"github.com/pelletier/go-toml/v2":  {"quote"}, // settings, and quote/pattern for sidecars
}

func TestArrows(t *testing.T) {
	const module = "benchbell/"
	seen := 0
	err := filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "testdata" || (strings.HasPrefix(d.Name(), ".") && path != "..")) {
			return filepath.SkipDir
		}
		if !strings.HasSuffix(path, ".go") {
			return nil
		}
		seen++
		pkg := filepath.ToSlash(filepath.Dir(strings.TrimPrefix(filepath.ToSlash(path), "../")))
		test := strings.HasSuffix(path, "_test.go")
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		rule := ruleOf(pkg)
		if rule == nil {
			t.Errorf("%s: package %s has no rule; add one to arrows with its reason", path, pkg)
			return nil
		}
		for _, imp := range f.Imports {
			name, _ := strconv.Unquote(imp.Path.Value)
			if ours, ok := strings.CutPrefix(name, module); ok {
				if ours != pkg && !test && !mayImport(pkg, rule, ours) {
					t.Errorf("%s imports %s, but %s may import only %v, and what is for tests only if it is itself: %s", path, ours, pkg, rule.to, rule.reason)
				}
				continue
			}
			if test {
				continue
			}
			for _, n := range rule.never {
				if name == n {
					t.Errorf("%s imports %s, which %s must not: %s", path, name, pkg, rule.reason)
				}
			}
			for foreign, owners := range onlyImporter {
				owns := func(owner string) bool { return pkg == owner || strings.HasPrefix(pkg, owner+"/") }
				if (name == foreign || strings.HasPrefix(name, foreign+"/")) && !slices.ContainsFunc(owners, owns) {
					t.Errorf("%s imports %s, which only %v may import", path, name, owners)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if seen < 50 {
		t.Fatalf("only %d Go files seen; the walk is broken", seen)
	}
}

func ruleOf(pkg string) *arrow {
	for i, a := range arrows {
		if pkg == a.from || (strings.HasSuffix(a.from, "/") && strings.HasPrefix(pkg, a.from)) || strings.HasPrefix(pkg, a.from+"/") {
			return &arrows[i]
		}
	}
	return nil
}

// mayImport says whether a package, outside its tests, may import another of this module.
func mayImport(pkg string, rule *arrow, imports string) bool {
	if forTests(imports) && !forTests(pkg) {
		return false
	}
	return allowed(rule.to, imports) || imports == kit
}

func allowed(to []string, pkg string) bool {
	for _, p := range to {
		tree := strings.TrimSuffix(p, "...")
		if p == "..." || pkg == p || (tree != p && (strings.HasPrefix(pkg, tree) || pkg+"/" == tree)) {
			return true
		}
	}
	return false
}

// The rules themselves: a rule that allowed everything, or a matcher that matched nothing, would prove nothing.
func TestArrowsBite(t *testing.T) {
	for _, c := range []struct {
		pkg, imports string
		want         bool
	}{
		{"quote/nest", "quote/geom", true}, {"quote/nest", "quote/price", false}, {"quote/nest", "quote", false},
		{"quote", "quote/nest", true}, {"quote", "jobs", false}, {"jobs/queue", "jobs", true}, {"jobs/queue", "bot/desk", false},
		{"bot/desk", "bot/discord", false}, {"bot/desk", "quote/plan", true}, {"bot/discord/discordtest", "bot/ledger", false},
		{"worker", "jobs/queue", true},
		// What is for tests, in no program.
		{"bot", "bot/chat/chattest", false}, {"worker", "jobs/jobstest", false}, {"quote", kit, false}, {"bot/desk", kit, false}, {"deploy", kit, false},
		{"bot/discord/discordtest", kit, true}, {"jobs/jobstest", kit, true}, {"bot/browser/browsertest", "bot/chat/chattest", true}, {kit, "quote/geom", false},
	} {
		r := ruleOf(c.pkg)
		if r == nil || mayImport(c.pkg, r, c.imports) != c.want {
			t.Errorf("%s importing %s: allowed must be %v", c.pkg, c.imports, c.want)
		}
	}
}

// The engine never asks the clock: its dates are fields.
func TestEngineHasNoClock(t *testing.T) {
	err := filepath.WalkDir("../quote", func(path string, d fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") || forTests(filepath.Dir(path)) {
			return err
		}
		src, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		for _, call := range []string{"time." + "Now(", "time." + "Since(", "time." + "Until("} {
			if strings.Contains(string(src), call) {
				t.Errorf("%s calls %s); take the time as a field", path, call)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
