package desk

import (
	"fmt"

	"benchbell/quote"
	"benchbell/quote/pattern"
	"benchbell/templates"
)

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

// setOf is a parsed set as the conversation needs it.
func setOf(p *pattern.Set, source quote.PatternSource) Set {
	return Set{Name: p.Name, Title: p.Title, Kind: p.Kind, Summary: p.Summary, Sided: p.Sided, Measures: p.Measures,
		Finishes: p.Finishes, Cautions: p.Cautions, Source: source}
}
