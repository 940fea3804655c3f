package desk

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
)

// shelf is the library as it is now: the sets that the desk was given and those that the studio brought itself.
type shelf struct {
	offered []Set // sorted by title
	all     map[string]Set
	cards   map[string]chat.File
}

// readShelf reads the studio's own sets from the ledger. A set that this program cannot read any more is left out and
// said so in the log: it must not keep the others from being offered.
func (d *Desk) readShelf(ctx context.Context) error {
	var own []ledger.Pattern
	err := d.ledger.Tx(ctx, func(t *ledger.Tx) (err error) {
		own, err = t.Patterns()
		return err
	})
	if err != nil {
		return fmt.Errorf("the studio's own pattern sets cannot be read: %w", err)
	}
	s := shelf{all: map[string]Set{}, cards: map[string]chat.File{}}
	for _, x := range d.cfg.Library {
		s.offered, s.all[x.Name] = append(s.offered, x), x
	}
	for _, p := range own {
		set, err := SetFrom([]byte(p.Source.Drawing), []byte(p.Source.TOML))
		if err != nil {
			d.log.Error("a pattern set of the studio is not offered: it cannot be read any more", "set", p.Name, "version", p.Version, "cause", err)
			continue
		}
		if _, taken := s.all[set.Name]; taken {
			d.log.Warn("a pattern set of the studio is not offered: the library has its name", "set", p.Name)
			continue
		}
		s.all[set.Name] = set
		if len(p.Card) > 0 {
			s.cards[set.Name] = chat.File{Name: set.Name + ".png", MIME: "image/png", Alt: "The pieces of " + set.Title, Data: p.Card}
		}
		if p.State == ledger.PatternShelved {
			s.offered = append(s.offered, set)
		}
	}
	slices.SortStableFunc(s.offered, func(a, b Set) int { return cmp.Compare(a.Title, b.Title) })
	d.shelves.Lock()
	defer d.shelves.Unlock()
	d.shelf = &s
	return nil
}

// withShelf reads the shelf where it was not read yet.
func (d *Desk) withShelf(ctx context.Context) error {
	d.shelves.Lock()
	have := d.shelf != nil
	d.shelves.Unlock()
	if have {
		return nil
	}
	return d.readShelf(ctx)
}

func (d *Desk) shelfNow() shelf {
	d.shelves.Lock()
	defer d.shelves.Unlock()
	if d.shelf == nil {
		return shelf{}
	}
	return *d.shelf
}

// library is the sets offered, by title.
func (d *Desk) library() []Set { return d.shelfNow().offered }

// set by name, also one that is not offered any more: commissions that have it keep it.
func (d *Desk) set(name string) (Set, bool) {
	s, ok := d.shelfNow().all[name]
	return s, ok
}

// builtIn reports whether a set of that name comes with the program.
func (d *Desk) builtIn(name string) bool {
	return slices.ContainsFunc(d.cfg.Library, func(s Set) bool { return s.Name == name })
}

// setCard is the picture of a set, where there is one.
func (d *Desk) setCard(name string) (chat.File, bool) {
	if f, ok := d.shelfNow().cards[name]; ok {
		return f, true
	}
	if d.cfg.SetPicture == nil {
		return chat.File{}, false
	}
	f := d.cfg.SetPicture(name)
	return f, len(f.Data) > 0
}
