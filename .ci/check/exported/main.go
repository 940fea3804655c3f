// Command exported lists exported names that no package but their own uses, tests of other packages counted: what should be
// written small. A type counts as used where a used name's signature, fields or methods lead to it, and a constant where
// its type does: the values of a kind go together. It fails when there are more than -most of them, or when the list of those
// kept for a reason holds one that is used or gone.
package main

import (
	"bufio"
	"flag"
	"fmt"
	"go/types"
	"log"
	"os"
	"slices"
	"strings"

	"golang.org/x/tools/go/packages"
)

func main() {
	log.SetFlags(0)
	most := flag.Int("most", 0, "how many such names there may be")
	kept := flag.String("kept", "", "file of names kept for a reason, one a line: quote/plan.Check it is the law of tests")
	module := flag.String("module", "benchbell", "path of the module")
	flag.Parse()
	pkgs, err := packages.Load(&packages.Config{
		Mode:       packages.NeedName | packages.NeedTypes | packages.NeedTypesInfo | packages.NeedSyntax | packages.NeedImports | packages.NeedDeps,
		Tests:      true,
		BuildFlags: []string{"-tags=chromium"},
	}, "./...")
	if err != nil {
		log.Fatal(err)
	}
	if packages.PrintErrors(pkgs) > 0 {
		os.Exit(1)
	}
	own := func(path string) string { // a test's package is its package
		return strings.TrimSuffix(strings.TrimSuffix(strings.TrimPrefix(path, *module+"/"), "_test"), ".test")
	}
	used, declared := map[string]bool{}, map[string]types.Object{}
	name := func(o types.Object) string { return own(o.Pkg().Path()) + "." + o.Name() }
	top := func(o types.Object) bool {
		return o != nil && o.Pkg() != nil && strings.HasPrefix(o.Pkg().Path(), *module+"/") && o.Exported() && o.Parent() == o.Pkg().Scope()
	}
	for _, p := range pkgs {
		if p.ID == p.PkgPath && p.Name != "main" && !strings.HasSuffix(p.PkgPath, "test") {
			for _, n := range p.Types.Scope().Names() {
				if o := p.Types.Scope().Lookup(n); top(o) {
					declared[name(o)] = o
				}
			}
		}
		for _, o := range p.TypesInfo.Uses {
			if top(o) && own(o.Pkg().Path()) != own(p.PkgPath) {
				used[name(o)] = true
			}
		}
	}
	seen := map[types.Type]bool{}
	var reach func(types.Type)
	reach = func(t types.Type) {
		if t == nil || seen[t] {
			return
		}
		seen[t] = true
		switch t := t.(type) {
		case *types.Named:
			if top(t.Obj()) {
				used[name(t.Obj())] = true
			}
			for m := range t.Methods() {
				if m.Exported() {
					reach(m.Type())
				}
			}
			reach(t.Underlying())
		case *types.Alias:
			if top(t.Obj()) {
				used[name(t.Obj())] = true
			}
			reach(t.Rhs())
		case *types.Struct:
			for f := range t.Fields() {
				if f.Exported() {
					reach(f.Type())
				}
			}
		case *types.Signature:
			for _, tuple := range []*types.Tuple{t.Params(), t.Results()} {
				for v := range tuple.Variables() {
					reach(v.Type())
				}
			}
		case *types.Interface:
			for m := range t.Methods() {
				reach(m.Type())
			}
		case *types.Map:
			reach(t.Key())
			reach(t.Elem())
		case interface{ Elem() types.Type }: // slices, arrays, pointers, channels
			reach(t.Elem())
		}
	}
	for n, o := range declared {
		if used[n] {
			reach(o.Type())
		}
	}
	for n, o := range declared {
		if t, ok := o.Type().(*types.Named); ok && top(t.Obj()) {
			if _, ok := o.(*types.Const); ok && used[name(t.Obj())] {
				used[n] = true
			}
		}
	}
	reasons := read(*kept)
	var unused []string
	for n := range declared {
		if !used[n] && reasons[n] == "" {
			unused = append(unused, n)
		}
	}
	slices.Sort(unused)
	bad := len(unused) > *most
	for n := range reasons {
		if declared[n] == nil || used[n] {
			fmt.Printf("%s is kept for a reason, and is used elsewhere or gone: take it off %s\n", n, *kept)
			bad = true
		}
	}
	if bad {
		fmt.Println(strings.Join(unused, "\n"))
	}
	fmt.Printf("%d of %d exported names are used in no other package; at most %d may be, and %d are kept for a reason\n", len(unused), len(declared), *most, len(reasons))
	if bad {
		os.Exit(1)
	}
}

func read(file string) map[string]string {
	out := map[string]string{}
	if file == "" {
		return out
	}
	f, err := os.Open(file)
	if err != nil {
		log.Fatal(err)
	}
	defer f.Close()
	for s := bufio.NewScanner(f); s.Scan(); {
		n, why, ok := strings.Cut(s.Text(), " ")
		if n == "" || n == "#" {
			continue
		}
		if !ok {
			log.Fatalf("%s: %s has no reason", file, n)
		}
		out[n] = why
	}
	return out
}
