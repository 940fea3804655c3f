package pattern

import (
	"errors"
	"fmt"
	"reflect"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// SpecError is an error of Parse to be fixed in the spec sheet, not in the drawing.
type SpecError struct{ Err error }

func (e *SpecError) Error() string { return e.Err.Error() }

func (e *SpecError) Unwrap() error { return e.Err }

var errUnknownKey = errors.New("a spec sheet has a fixed set of keys; remove or correct it")

// specError says where the TOML is wrong and what would be right, in the terms of the spec sheet.
func specError(err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		e := strict.Errors[0]
		row, _ := e.Position()
		return fmt.Errorf("spec sheet line %d: unknown key %q: %w", row, clip(strings.Join(e.Key(), ".")), errUnknownKey)
	}
	var de *toml.DecodeError
	if !errors.As(err, &de) {
		return fmt.Errorf("the spec sheet is not valid TOML: %w", err)
	}
	row, col := de.Position()
	what := strings.TrimPrefix(de.Error(), "toml: ")
	if len(de.Key()) == 0 {
		return fmt.Errorf("spec sheet line %d, column %d is not valid TOML: %s", row, col, what)
	}
	key := clip(strings.Join(de.Key(), "."))
	// For a value of the wrong kind, the decoder's own message is about this program's types.
	if right := kindAt(de.Key()); right != "" && strings.HasPrefix(what, "cannot decode") {
		return fmt.Errorf("spec sheet line %d: %s has a value of the wrong kind; it must be %s", row, key, right)
	}
	return fmt.Errorf("spec sheet line %d, column %d: %s: %s", row, col, key, what)
}

// kindAt says what a key of the spec sheet must hold; "" for an unknown key.
func kindAt(key []string) string {
	t := reflect.TypeFor[setDoc]()
	for _, k := range key {
		for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
			t = t.Elem()
		}
		switch t.Kind() {
		case reflect.Struct:
			f, ok := t.FieldByNameFunc(func(n string) bool {
				f, _ := t.FieldByName(n)
				return f.Tag.Get("toml") == k
			})
			if !ok {
				return ""
			}
			t = f.Type
		case reflect.Map:
			t = t.Elem()
		default:
			return ""
		}
	}
	return kindWords(t, key[len(key)-1])
}

func kindWords(t reflect.Type, key string) string {
	switch t.Kind() {
	case reflect.Pointer:
		return kindWords(t.Elem(), key)
	case reflect.Bool:
		return "true or false"
	case reflect.Int:
		return "a whole number, such as 2"
	case reflect.Float64:
		return "a number, such as 12 or 2.5"
	case reflect.String:
		return "text in quotes"
	case reflect.Map:
		if t.Elem().Kind() == reflect.Slice {
			return `a table of names, each with two texts: name = ["start", "end"]`
		}
		return "a table of names, each with a number: name = 12"
	case reflect.Struct:
		return "a table: " + key + " = { … }"
	}
	if t.Elem().Kind() == reflect.Struct {
		return "one or more tables, each under its own [[" + key + "]]"
	}
	return `a list of texts: ["one", "two"]`
}
