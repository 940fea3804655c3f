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
	{"quote/press", []string{"quote/geom", "quote/draw"}, engineNever, "the press prints what it is given; the layout is its users'"},
	{"quote/pdf", []string{"quote/geom", "quote/draw", "quote/press"}, engineNever, "the printer takes text and scenes ready to print"},
	{"quote/paper", []string{"quote/geom", "quote/draw", "quote/press"}, engineNever, "the paper pattern is printed from outlines, whoever graded them"},
	{"quote/foam", []string{"quote/geom"}, engineNever, "pieces are values: who carries them needs neither drawings nor grading"},
	{"quote/pattern", []string{"quote/geom", "quote/drawing", "quote/foam"}, engineNever, "a pattern is a drawing with a meaning; it knows nothing of what is done with its pieces"},
	{"quote/nest/inspect", []string{"quote/geom", "quote/nest", "quote/nest/exact"}, engineNever, "who looks at layouts shares with who made them nothing but the exact predicates, so that they cannot be wrong in the same way"},
	{"quote/nest/lay", []string{"quote/geom", "quote/nest", "quote/nest/search", "quote/nest/exact", "quote/nest/inspect"}, engineNever, "the door of the search; what it takes and gives is in quote/nest"},
	{"quote/nest/", []string{"quote/geom"}, engineNever, "the search and the exact test know outlines, not what they are of"},
	{"quote/nest", []string{"quote/geom"}, engineNever, "the words of nesting are values: who carries a layout needs no search"},
	{"quote/plan/check", []string{"quote/plan"}, engineNever, "who looks at a plan shares nothing with who made it, so that they cannot be wrong in the same way"},
	{"quote/plan/proof", nil, engineNever, "proof knows work, resources and distances between starts, in numbers: what they stand for is the planner's"},
	{"quote/plan/schedule", []string{"quote/plan", "quote/plan/check", "quote/plan/proof"}, engineNever, "the planner takes and gives the words of the plan, and can be replaced behind its door; what it made is looked at before it leaves"},
	{"quote/plan/", []string{"quote/plan"}, engineNever, "who reads problems knows the words of the plan and nothing else"},
	{"quote/plan", nil, engineNever, "the words of the plan are values: who carries a plan needs no planner"},
	{"quote/body", []string{"quote", "quote/foam", "quote/measure"}, engineNever, "which measurement stands for what is one question with one answer, for asking and for grading"},
	{"quote/breakdown", []string{"quote", "quote/foam", "quote/geom", "quote/cure", "quote/labour", "quote/plan", "quote/price"}, engineNever, "the work follows from pieces, rates and cures; nothing of drawings, sheets or paper"},
	{"quote/settings", []string{"quote", "quote/..."}, engineNever, "settings are checked against all that they name"},
	{"quote/picture", []string{"quote", "quote/foam", "quote/geom", "quote/nest", "quote/plan", "quote/draw", "quote/figure"}, engineNever, "pictures show values; they work nothing out"},
	{"quote/library", []string{"quote", "quote/foam", "quote/geom", "quote/measure", "quote/pattern", "quote/price", "quote/picture", "quote/draw", "quote/figure"}, engineNever, "the library looks at sets, not at commissions"},
	{"quote/cutting", []string{"quote", "quote/foam", "quote/geom", "quote/nest", "quote/nest/lay", "quote/picture", "quote/draw", "quote/drawing", "quote/paper", "quote/price"}, engineNever, "cutting needs pieces and sheets, neither patterns nor plans"},
	{"quote/document", []string{"quote", "quote/..."}, engineNever, "people read of everything"},
	{"quote/floor", []string{"quote", "quote/geom", "quote/price", "quote/breakdown", "quote/plan", "quote/plan/schedule", "quote/picture", "quote/draw"}, engineNever, "the floor plans what quotes say; it neither grades nor nests"},
	{"quote/engine", []string{"quote", "quote/..."}, engineNever, "the engine composes the rooms and is pure: no queue, no bot, no network"},
	{"quote/quotetest", []string{"quote", "quote/...", "templates"}, nil, "tests of the rooms need whole commissions"},
	{"quote/", []string{"quote/geom"}, engineNever, "leaves know nothing of each other, so that an engine can be replaced behind its door"},
	{"quote", []string{"quote/geom", "quote/foam", "quote/nest", "quote/plan", "quote/cure", "quote/labour", "quote/price"}, engineNever, "the words of the studio rest on the words of the leaves, so that who carries a quote reaches no search, drawing, paper or picture"},
	{"jobs/queue", []string{"jobs", "quote"}, []string{"database/sql"}, "the queue carries messages; what they mean is not its business"},
	{"jobs/embedded", nil, []string{"database/sql"}, "an embedded server is a server: it knows no messages"},
	{"jobs/jobstest", []string{"jobs", "quote", "quote/..."}, nil, "what tests of a queue need is what the queue's users have"},
	{"jobs", []string{"quote"}, []string{"database/sql", "github.com/hibiken/asynq"}, "messages are made of the engine's words only"},
	{"worker/compute", []string{"jobs", "quote/..."}, []string{"database/sql", "github.com/hibiken/asynq"}, "a worker shares nothing but the queue"},
	{"bot/chat/", []string{"bot/chat"}, nil, "what tests of a transport need is the conversation's words only"},
	{"bot/chat", nil, []string{"database/sql", "net/http", "github.com/bwmarrin/discordgo"}, "the conversation's words know no transport and no trade"},
	{"bot/browser", []string{"bot/chat/...", "bot/browser/..."}, []string{"database/sql", "github.com/bwmarrin/discordgo"}, "a transport carries messages; the trade is the desk's"},
	{"bot/discord", []string{"bot/chat/...", "bot/discord/..."}, []string{"database/sql"}, "a transport carries messages; the trade is the desk's"},
	{"bot/ledger", []string{"quote", "quote/foam", "quote/geom", "quote/plan", "quote/price", "jobs", "bot/chat", "bot/browser/..."}, []string{"github.com/hibiken/asynq", "github.com/bwmarrin/discordgo"}, "the ledger keeps what happened: the engine's words, requests, and posts on their way (hence bot/chat and the browser's store)"},
	{"bot/shop", []string{"bot/ledger", "bot/chat", "bot/shop/...", "jobs", "quote", "quote/...", "templates"}, []string{"database/sql", "github.com/hibiken/asynq", "github.com/bwmarrin/discordgo"}, "the rules are the same behind every door (bot/chat for the names of people, threads and files, which the ledger keeps; a test of bot/shop holds it to these)"},
	{"bot/rehearsal", []string{"bot/shop", "bot/ledger", "bot/chat", "jobs", "worker/compute", "quote", "quote/..."}, []string{"database/sql", "net", "net/http", "os", "github.com/hibiken/asynq", "github.com/bwmarrin/discordgo"}, "a rehearsal plays with the rules, the ledger and the engine themselves, behind no door and no queue (worker/compute: it computes as a worker does)"},
	{"bot/board", []string{"bot/shop", "quote", "quote/plan", "quote/geom", "quote/price"}, []string{"database/sql", "github.com/hibiken/asynq", "github.com/bwmarrin/discordgo"}, "a page is made of facts that the shop hands over, outlines and prices' units of measure among them: it knows neither the conversation nor the ledger, and the desk it is mounted in does not know it"},
	{"bot/counter", []string{"bot/shop", "bot/ledger", "quote", "quote/body", "quote/measure", "quote/plan", "quote/price"}, []string{"database/sql", "github.com/hibiken/asynq", "github.com/bwmarrin/discordgo"}, "a client's page is made of facts that the shop hands over, in the ledger's words for states and appointments, and reads lengths as the shop does: it knows no conversation, draws nothing, and is handed what works prices out"},
	{"bot/calendar", []string{"bot/shop", "quote"}, []string{"database/sql", "net/http", "github.com/hibiken/asynq", "github.com/bwmarrin/discordgo"}, "a calendar is made of facts that the shop hands over; who fetches it is the browser's business"},
	{"bot/desk", []string{"bot/chat/...", "bot/ledger", "bot/shop/...", "jobs/...", "quote", "quote/..."}, []string{"database/sql", "github.com/hibiken/asynq", "github.com/bwmarrin/discordgo"}, "the desk words what the shop does, for any transport and any queue"},
	{"templates", []string{"quote/pattern", "quote/geom"}, nil, "the library is data; its tests grade it"},
	{"bot", []string{"..."}, nil, "mains wire everything"},
	{"worker", []string{"..."}, nil, "mains wire everything"},
	{"deploy", nil, nil, "deployment is files, and what it takes to be a process; it knows nothing of the trade"},
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
	"github.com/jung-kurt/gofpdf":      {"quote/press", "quote/pdf", "quote/paper"},
	"github.com/alicebob/miniredis/v2": {"jobs/embedded"},
	"github.com/pelletier/go-toml/v2":  {"quote/settings", "quote/pattern"},
	"github.com/rivo/uniseg":           {"bot/chat"},
	"github.com/arran4/golang-ical":    {"bot/calendar"},
	"rsc.io/qr":                        {"bot/desk", "quote/press"},
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
		{"quote/nest", "quote/geom", true}, {"quote/nest", "quote/price", false}, {"quote/nest", "quote", false}, {"quote/nest", "quote/nest/search", false},
		{"quote/nest/inspect", "quote/nest/search", false}, {"quote/nest/inspect", "quote/nest/lay", false}, {"quote/nest/lay", "quote/nest/inspect", true},
		{"quote/plan/check", "quote/plan/schedule", false}, {"quote/plan/schedule", "quote/plan/check", true}, {"quote/plan/project", "quote/plan/schedule", false}, {"quote/plan/proof", "quote/plan", false}, {"quote/plan/schedule", "quote/plan/proof", true},
		{"quote", "quote/nest", true}, {"quote", "quote/nest/lay", false}, {"quote", "quote/engine", false}, {"quote", "jobs", false}, {"quote/floor", "quote/engine", false}, {"jobs/queue", "jobs", true}, {"jobs/queue", "bot/desk", false},
		{"bot/desk", "bot/discord", false}, {"bot/shop", "bot/desk", false}, {"bot/shop", "bot/board", false}, {"bot/browser", "bot/board", false}, {"bot/board", "bot/chat", false}, {"bot/board", "bot/ledger", false}, {"bot/board", "bot/shop", true}, {"bot/counter", "bot/shop", true}, {"bot/counter", "bot/chat", false}, {"bot/counter", "bot/browser", false}, {"bot/counter", "quote/engine", false}, {"bot/browser", "bot/counter", false}, {"bot/ledger", "bot/shop", false}, {"bot/desk", "quote/plan", true}, {"bot/discord/discordtest", "bot/ledger", false},
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
