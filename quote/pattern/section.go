package pattern

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"strings"

	"benchbell/quote/geom"
)

// section is a control section: its place along the piece, and the width it requires.
type section struct {
	at      float64
	doc     sectionDoc
	share   float64
	profile float64 // of a gore: girth at this latitude as a share of the measurement
	turns   float64 // share of a full turn that the piece bends through
	measure string
}

// estimateEase is how many standard deviations of an estimated measurement are added as ease: one, so that five out of six
// bodies fit into the piece without cutting again, and a strap or an overlap takes up the excess (common practice, no
// source).
const estimateEase = 1.0

// width is what a section asks of its piece, measured along the foam's neutral line:
//
//	share·(profile·measurement + ease) + 2π·turns·(clothing + thickness beneath + K·T)
//
// The second term is the bend allowance BA = A·(π/180)·(R + K·T) of Machinery's Handbook (sheet-metal bends; formula
// from memory, worked values in the test) for A = turns·360° less the body's own girth 2πR·turns. For foam K ≈ 0.5,
// the middle of the sheet, is common practice, no source. The mock-up allowance and the ease for an estimate are added
// to the measurement.
func (c section) width(f Fit, p *part) float64 {
	m, sd := float64(f.Body[c.measure]), float64(f.Uncertain[c.measure])
	if c.doc.Toward != "" {
		m += (float64(f.Body[c.doc.Toward]) - m) * c.doc.Part
		// Two estimates of one body err in the same direction: their deviations are mixed like the measurements.
		sd += (float64(f.Uncertain[c.doc.Toward]) - sd) * c.doc.Part
	}
	m = m*(1+c.doc.EasePercent/100) + estimateEase*sd
	if isGirth(c.measure) {
		m += float64(f.Allowance)
	}
	return c.share*(c.profile*m+c.doc.Ease) + 2*math.Pi*c.turns*p.offset(f)
}

// offset is the distance of the foam's neutral line from the skin.
func (p *part) offset(f Fit) float64 {
	return float64(f.Clothing) + float64(p.beneath) + f.FoamK*p.doc.Thickness
}

func isGirth(measure string) bool { return strings.HasSuffix(measure, "-girth") }

// asked is the length that the body requires of a piece with a length driver, computed like the width at a section.
func (l lengthDoc) asked(f Fit, p *part) float64 {
	var m float64
	for _, k := range l.Measures {
		m += float64(f.Body[k]) / float64(len(l.Measures))
	}
	return *l.Share*(m+l.Ease) + 2*math.Pi*l.Bend*p.offset(f)
}

// scaleAt blends the scales of the sections at position t; beyond the outermost sections they stay constant.
//
// Between two sections the scale eases from one to the other, level at every section with more of the piece beyond it, so
// that an edge has no kink there. No smoother blend is possible: if each graded width must match its section, grow when any
// measurement grows, and stay constant when all sections grow alike, the slope at an inner section cannot depend on its
// neighbours' scales, so it is zero (a monotone cubic through the scales sags next to a section that grows). At an end of
// the piece nothing lies beyond, and two sections at 0 and 1 blend along a straight line.
func (p *part) scaleAt(scale []float64, t float64) float64 {
	n := len(p.sections)
	if n == 0 {
		return 1 // only its length is driven: a strip along the limb
	}
	i := sort.Search(n, func(i int) bool { return p.sections[i].at >= t })
	switch {
	case i == 0:
		return scale[0]
	case i == n:
		return scale[n-1]
	}
	a, b := p.sections[i-1].at, p.sections[i].at
	u := (t - a) / (b - a)
	switch below, above := a > 0, b < 1; {
	case below && above:
		u = u * u * (3 - 2*u)
	case below:
		u = u * u
	case above:
		u = u * (2 - u)
	}
	return scale[i-1] + (scale[i]-scale[i-1])*u
}

// drive checks the control sections and the length driver.
func (s *Set) drive(p *part) error {
	for i, sd := range p.doc.Sections {
		c := section{at: sd.At, doc: sd, share: 1, profile: 1, measure: sd.Measure}
		if err := s.known(sd.Measure); err != nil {
			return fmt.Errorf("section %d: %w", i+1, err)
		}
		if sd.Toward != "" {
			if err := s.known(sd.Toward); err != nil {
				return fmt.Errorf("section %d: toward: %w", i+1, err)
			}
		}
		if sd.Share != nil {
			c.share = *sd.Share
		}
		if sd.Profile != nil {
			c.profile = *sd.Profile
		}
		if isGirth(sd.Measure) {
			// Foam over a dome stands off along the normal, which increases the girth there only by the profile's share.
			c.turns = c.share * c.profile
		}
		if sd.Bend != nil {
			c.turns = *sd.Bend
		}
		switch {
		case !(sd.At >= 0 && sd.At <= 1):
			return fmt.Errorf("section %d: at %g must be a share of the piece's length, from 0 (bottom) to 1 (top)", i+1, sd.At)
		case i > 0 && !(sd.At > p.doc.Sections[i-1].At):
			return fmt.Errorf("section %d: at %g must be greater than that of the section before", i+1, sd.At)
		case !(c.share > 0 && c.share <= 4):
			return fmt.Errorf("section %d: share %g must be more than 0 and at most 4", i+1, c.share)
		case sd.Profile != nil && p.doc.Frame != "gore":
			return fmt.Errorf("section %d: profile is only for frame \"gore\"", i+1)
		case !(c.profile > 0 && c.profile <= 2):
			return fmt.Errorf("section %d: profile %g must be more than 0 and at most 2; the crown itself needs no section", i+1, c.profile)
		case !(c.turns >= 0 && c.turns <= 4):
			return fmt.Errorf("section %d: bend %g must be a share of a full turn, from 0 to 4", i+1, c.turns)
		case !(sd.Part >= 0 && sd.Part <= 1) || (sd.Part > 0 && sd.Toward == ""):
			return fmt.Errorf("section %d: part %g must be from 0 to 1, the share of the way toward a second measure", i+1, sd.Part)
		case !(math.Abs(sd.Ease) <= 500) || !(math.Abs(sd.EasePercent) <= 100):
			return fmt.Errorf("section %d: ease must be at most 500 mm and ease_percent at most 100", i+1)
		}
		p.sections = append(p.sections, c)
		if w := c.width(s.base, p); !(w > 1) {
			return fmt.Errorf("section %d: the base width comes to %.1f mm; it must be more than 1", i+1, w)
		}
	}
	return s.driveLength(p)
}

func (s *Set) known(k string) error {
	if _, ok := s.Base[k]; !ok {
		return fmt.Errorf("measure %q is not among the set's measures", clip(k))
	}
	return nil
}

// driveLength checks the length driver and fills in its defaults.
func (s *Set) driveLength(p *part) error {
	l := p.doc.Length
	if l == nil {
		return nil
	}
	if (l.Measure == "") == (len(l.Measures) == 0) || len(l.Measures) > 4 {
		return errors.New("length: give either one measure, or up to four measures to take the mean of")
	}
	if l.Measure != "" {
		l.Measures = []string{l.Measure}
	}
	for _, k := range l.Measures {
		if err := s.known(k); err != nil {
			return fmt.Errorf("length: %w", err)
		}
	}
	p.follow = 1
	if l.Follow != nil {
		p.follow = *l.Follow
	}
	if l.Share == nil {
		whole := 1.0
		l.Share = &whole
	}
	switch {
	case !(p.follow >= 0 && p.follow <= 1):
		return fmt.Errorf("length: follow %g must be from 0 (rigid) to 1 (in proportion)", p.follow)
	case !(*l.Share > 0 && *l.Share <= 4):
		return fmt.Errorf("length: share %g must be more than 0 and at most 4", *l.Share)
	case !(math.Abs(l.Ease) <= 500) || !(l.Bend >= 0 && l.Bend <= 4):
		return errors.New("length: ease must be at most 500 mm and bend a share of a full turn, from 0 to 4")
	}
	if a := l.asked(s.base, p); !(a > 1) {
		return fmt.Errorf("length: it comes to %.1f mm at the base; it must be more than 1", a)
	}
	return nil
}

// uncertain says, for the maker, which estimated measurements got ease.
func (s *Set) uncertain(f Fit) []string {
	var out []string
	for _, k := range s.Measures {
		sd := f.Uncertain[k]
		if sd <= 0 {
			continue
		}
		for _, p := range s.parts {
			if p.drivenBy(k) {
				out = append(out, fmt.Sprintf("%s is an estimate, so %s of ease was added to the whole measurement; take it off at the fitting", k, geom.MM(estimateEase)*sd))
				break
			}
		}
	}
	return out
}

func (p *part) drivenBy(measure string) bool {
	for _, c := range p.sections {
		if c.measure == measure || c.doc.Part > 0 && c.doc.Toward == measure {
			return true
		}
	}
	return false
}
