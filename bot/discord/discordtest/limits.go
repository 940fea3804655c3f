package discordtest

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"
)

// The limits below are those of the service's documentation of components, modals and application commands, from memory.

// length is a text's length as the service counts it.
func length(s string) int { return utf8.RuneCountInString(s) }

func between(what, s string, lo, hi int) error {
	if n := length(s); n < lo || n > hi {
		return fmt.Errorf("%s has %d characters, not %d to %d", what, n, lo, hi)
	}
	return nil
}

// first is the first error there is.
func first(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// checkComponents holds a message's rows against the limits.
func checkComponents(rows []Component) error {
	if len(rows) > 5 {
		return fmt.Errorf("%d rows, more than 5", len(rows))
	}
	seen := map[string]bool{}
	for _, r := range rows {
		if r.Type != Row {
			return fmt.Errorf("a component of type %d stands outside a row", r.Type)
		}
		if len(r.Components) < 1 || len(r.Components) > 5 {
			return fmt.Errorf("a row of %d components, not 1 to 5", len(r.Components))
		}
		for _, c := range r.Components {
			if err := between("the custom_id "+c.CustomID, c.CustomID, 1, 100); err != nil {
				return err
			}
			if seen[c.CustomID] {
				return fmt.Errorf("the custom_id %q is duplicated", c.CustomID)
			}
			seen[c.CustomID] = true
			switch c.Type {
			case Button:
				if c.Style < 1 || c.Style > 4 {
					return fmt.Errorf("the button %q has style %d", c.CustomID, c.Style)
				}
				if err := between("a button's label", c.Label, 1, 80); err != nil {
					return err
				}
			case Menu:
				if len(r.Components) != 1 {
					return fmt.Errorf("the menu %q shares its row", c.CustomID)
				}
				if err := checkMenu(c); err != nil {
					return fmt.Errorf("the menu %q: %w", c.CustomID, err)
				}
			default:
				return fmt.Errorf("a component of type %d is none of a message", c.Type)
			}
		}
	}
	return nil
}

func checkMenu(c Component) error {
	if len(c.Options) < 1 || len(c.Options) > 25 {
		return fmt.Errorf("%d options, not 1 to 25", len(c.Options))
	}
	lo, hi := c.limits()
	if lo < 0 || hi < 1 || lo > hi || hi > len(c.Options) {
		return fmt.Errorf("%d to %d of %d options are to be picked", lo, hi, len(c.Options))
	}
	values, chosen := map[string]bool{}, 0
	for _, o := range c.Options {
		if o.Default {
			chosen++
		}
		if values[o.Value] {
			return fmt.Errorf("the value %q is duplicated", o.Value)
		}
		values[o.Value] = true
		if err := first(between("an option's label", o.Label, 1, 100), between("an option's value", o.Value, 1, 100), between("an option's description", o.Description, 0, 100)); err != nil {
			return err
		}
	}
	if chosen > hi {
		return fmt.Errorf("%d options are chosen beforehand, of at most %d", chosen, hi)
	}
	return between("the placeholder", c.Placeholder, 0, 150)
}

// limits are how many options a menu lets a person pick: one, unless it says otherwise.
func (c Component) limits() (lo, hi int) {
	lo, hi = 1, 1
	if c.MinValues != nil {
		lo = *c.MinValues
	}
	if c.MaxValues != nil {
		hi = *c.MaxValues
	}
	return lo, hi
}

// checkForm holds a modal against the limits.
func checkForm(id, title string, rows []Component) error {
	if err := first(between("the form's custom_id", id, 1, 100), between("the form's title", title, 1, 45)); err != nil {
		return err
	}
	if len(rows) < 1 || len(rows) > 5 {
		return fmt.Errorf("a form of %d rows, not 1 to 5", len(rows))
	}
	seen := map[string]bool{}
	for _, r := range rows {
		if r.Type != Row || len(r.Components) != 1 || r.Components[0].Type != Field {
			return fmt.Errorf("a form's row holds something else than one field")
		}
		f := r.Components[0]
		if seen[f.CustomID] {
			return fmt.Errorf("the custom_id %q is duplicated", f.CustomID)
		}
		seen[f.CustomID] = true
		if f.Style != 1 && f.Style != 2 {
			return fmt.Errorf("the field %q has style %d", f.CustomID, f.Style)
		}
		if f.MaxLength > 4000 || f.MinLength > 4000 {
			return fmt.Errorf("the field %q takes %d to %d characters", f.CustomID, f.MinLength, f.MaxLength)
		}
		if err := first(between("a field's custom_id", f.CustomID, 1, 100), between("a field's label", f.Label, 1, 45),
			between("a field's placeholder", f.Placeholder, 0, 100), between("a field's value", f.Value, 0, 4000)); err != nil {
			return err
		}
	}
	return nil
}

var commandName = regexp.MustCompile(`^[-_\p{Ll}\p{Lo}\p{N}]{1,32}$`)

// checkCommands holds a list of commands against the limits.
func checkCommands(list []registered) error {
	if len(list) > 100 {
		return fmt.Errorf("%d commands, more than 100", len(list))
	}
	seen := map[string]bool{}
	for _, c := range list {
		if !commandName.MatchString(c.Name) || seen[c.Name] {
			return fmt.Errorf("the command name %q is not one, or twice there", c.Name)
		}
		seen[c.Name] = true
		if err := between("the description of "+c.Name, c.Description, 1, 100); err != nil {
			return err
		}
		if len(c.Options) > 25 {
			return fmt.Errorf("%s has %d options, more than 25", c.Name, len(c.Options))
		}
		names, optional := map[string]bool{}, false
		for _, o := range c.Options {
			if !commandName.MatchString(o.Name) || names[o.Name] {
				return fmt.Errorf("the option name %q of %s is not one, or twice there", o.Name, c.Name)
			}
			names[o.Name] = true
			if o.Required && optional {
				return fmt.Errorf("%s has the required option %s after an optional one", c.Name, o.Name)
			}
			optional = optional || !o.Required
			if err := between("the description of "+o.Name, o.Description, 1, 100); err != nil {
				return err
			}
		}
	}
	return nil
}

// needed are the permissions a command asks of those it is offered to.
func (c registered) needed() int64 {
	n, err := strconv.ParseInt(strings.Trim(string(c.Permissions), `"`), 10, 64)
	if err != nil { // absent or null
		return 0
	}
	return n
}

func formatPermissions(p int64) string { return strconv.FormatInt(p, 10) }
