package shop

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/pattern"
	"benchbell/templates"
)

// Set is a cutting-pattern set of the library, as far as the shop needs it.
type Set struct {
	Name, Title, Kind, Summary string
	Sided                      bool
	Measures                   []string // measurement keys, in asking order
	Finishes                   []string // finishes it can have; empty: any
	Cautions                   []string
	Source                     quote.PatternSource
	Withdrawn                  bool // not offered any more
}

// Library is the built-in pattern sets, sorted by name.
func Library() ([]Set, error) {
	var out []Set
	for _, name := range templates.Sets() {
		svg, toml, err := templates.Source(name)
		if err != nil {
			return nil, err
		}
		s, err := SetFrom(svg, toml)
		if err != nil {
			return nil, fmt.Errorf("pattern set %q: %w", name, err)
		}
		out = append(out, s)
	}
	return out, nil
}

// SetFrom reads a set's two files, pattern.svg and pattern.toml; the set goes by the name in the latter.
func SetFrom(svg, toml []byte) (Set, error) {
	p, err := pattern.Parse(svg, toml)
	if err != nil {
		return Set{}, err
	}
	return setOf(p, quote.PatternSource{Drawing: string(svg), TOML: string(toml)}), nil
}

// setOf is a parsed set as the shop needs it.
func setOf(p *pattern.Set, source quote.PatternSource) Set {
	return Set{Name: p.Name, Title: p.Title, Kind: p.Kind, Summary: p.Summary, Sided: p.Sided, Measures: p.Measures,
		Finishes: p.Finishes, Cautions: p.Cautions, Source: source}
}

// shelf is the library as it is now: the sets that the shop was given and those that the studio brought itself.
type shelf struct {
	offered []Set // sorted by title
	all     map[string]Set
	cards   map[string][]byte
}

// readShelf reads the studio's own sets from the ledger. A set that this program cannot read any more is left out and
// said so in the log: it must not keep the others from being offered.
func (s *Shop) readShelf(ctx context.Context) error {
	var own []ledger.Pattern
	err := s.ledger.Tx(ctx, func(t *ledger.Tx) (err error) {
		own, err = t.Patterns()
		return err
	})
	if err != nil {
		return fmt.Errorf("the studio's own pattern sets cannot be read: %w", err)
	}
	now := shelf{all: map[string]Set{}, cards: map[string][]byte{}}
	for _, x := range s.cfg.Library {
		now.offered, now.all[x.Name] = append(now.offered, x), x
	}
	for _, p := range own {
		set, err := SetFrom([]byte(p.Source.Drawing), []byte(p.Source.TOML))
		if err != nil {
			s.log.Error("a pattern set of the studio is not offered: it cannot be read any more", "set", p.Name, "version", p.Version, "err", err)
			continue
		}
		if _, taken := now.all[set.Name]; taken {
			s.log.Warn("a pattern set of the studio is not offered: the library has its name", "set", p.Name)
			continue
		}
		set.Withdrawn = p.State != ledger.PatternShelved
		now.all[set.Name] = set
		if len(p.Card) > 0 {
			now.cards[set.Name] = p.Card
		}
		if !set.Withdrawn {
			now.offered = append(now.offered, set)
		}
	}
	slices.SortStableFunc(now.offered, func(a, b Set) int { return cmp.Compare(a.Title, b.Title) })
	s.shelves.Lock()
	defer s.shelves.Unlock()
	s.shelf = &now
	return nil
}

// withShelf reads the shelf where it was not read yet.
func (s *Shop) withShelf(ctx context.Context) error {
	s.shelves.Lock()
	have := s.shelf != nil
	s.shelves.Unlock()
	if have {
		return nil
	}
	return s.readShelf(ctx)
}

func (s *Shop) shelfNow() shelf {
	s.shelves.Lock()
	defer s.shelves.Unlock()
	if s.shelf == nil {
		return shelf{}
	}
	return *s.shelf
}

// Offered is the sets of the library, by title.
func (s *Shop) Offered() []Set { return s.shelfNow().offered }

// Known is the sets of the library with those that are not offered any more, by title.
func (s *Shop) Known() []Set {
	return slices.SortedFunc(maps.Values(s.shelfNow().all), func(a, b Set) int { return cmp.Or(cmp.Compare(a.Title, b.Title), cmp.Compare(a.Name, b.Name)) })
}

// Set by name, also one that is not offered any more: commissions that have it keep it.
func (s *Shop) Set(name string) (Set, bool) {
	x, ok := s.shelfNow().all[name]
	return x, ok
}

// Card is the picture (PNG) of a set that the studio brought itself, where there is one.
func (s *Shop) Card(set string) ([]byte, bool) {
	png, ok := s.shelfNow().cards[set]
	return png, ok
}

// builtIn reports whether a set of that name comes with the program.
func (s *Shop) builtIn(name string) bool {
	return slices.ContainsFunc(s.cfg.Library, func(x Set) bool { return x.Name == name })
}

// Finishes are the studio's finishes that every set ordered can have.
func (s *Shop) Finishes(items []quote.Item) []quote.Finish {
	var out []quote.Finish
	for _, f := range s.cfg.Studio().Finishes {
		if !slices.ContainsFunc(items, func(it quote.Item) bool {
			x, ok := s.Set(it.Set)
			return ok && len(x.Finishes) > 0 && !slices.Contains(x.Finishes, f.Key)
		}) {
			out = append(out, f)
		}
	}
	return out
}

// Describe names what is ordered of a set: "Forearm cuff: 2 pairs".
func (s *Shop) Describe(it quote.Item) string {
	title := it.Set
	if x, ok := s.Set(it.Set); ok {
		title = x.Title
	}
	switch it.Sides {
	case quote.Pair:
		if it.Count == 1 {
			return title + ": 1 pair"
		}
		return fmt.Sprintf("%s: %d pairs", title, it.Count)
	case quote.Plain:
		return fmt.Sprintf("%s: %d", title, it.Count)
	}
	return fmt.Sprintf("%s: %d %s", title, it.Count, it.Sides)
}

// named finds a set by its name, or by its title, which is what people read; whatever the case.
func (s *Shop) named(name string) (Set, bool) {
	if x, ok := s.Set(strings.ToLower(name)); ok {
		return x, true
	}
	i := slices.IndexFunc(s.Offered(), func(x Set) bool { return strings.EqualFold(x.Title, name) })
	if i < 0 {
		return Set{}, false
	}
	return s.Offered()[i], true
}

func (s *Shop) unknownSet(name string) error {
	var names []string
	for _, x := range s.Offered() {
		names = append(names, x.Title)
	}
	slices.Sort(names)
	return &Refusal{Kind: UnknownSet, Name: name, Names: names}
}
