package discordtest

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"benchbell/quote/gaugetest"
)

// Specification is where a copy of the service's interface description is looked for among the references. Without it
// requests are held against the stand-in's own limits alone.
const Specification = "discord/openapi.json"

// specification checks request bodies against the service's interface description: types, required and unknown
// properties, lengths and enumerations. A nil one checks nothing.
type specification struct {
	schemas map[string]*schema
	bodies  map[string]*schema // by "METHOD /path/{}"
}

type schema struct {
	Ref        string             `json:"$ref"`
	Type       any                `json:"type"`
	Enum       []any              `json:"enum"`
	Const      any                `json:"const"`
	OneOf      []*schema          `json:"oneOf"`
	AnyOf      []*schema          `json:"anyOf"`
	AllOf      []*schema          `json:"allOf"`
	Properties map[string]*schema `json:"properties"`
	Additional json.RawMessage    `json:"additionalProperties"`
	Required   []string           `json:"required"`
	Items      *schema            `json:"items"`
	MinItems   *int               `json:"minItems"`
	MaxItems   *int               `json:"maxItems"`
	MinLength  *int               `json:"minLength"`
	MaxLength  *int               `json:"maxLength"`
	Minimum    *json.Number       `json:"minimum"`
	Maximum    *json.Number       `json:"maximum"`
	Pattern    string             `json:"pattern"`
}

var loaded struct {
	once sync.Once
	spec *specification
	err  error
}

// loadSpecification reads the description once for all tests. Where there are no references it gives nil, and says so.
func loadSpecification(t testing.TB) *specification {
	t.Helper()
	if gaugetest.References() == "" {
		t.Log("requests are not held against the service's interface description: there are no references")
		return nil
	}
	path := gaugetest.Reference(t, filepath.FromSlash(Specification))
	loaded.once.Do(func() {
		data, err := os.ReadFile(path)
		if err == nil {
			loaded.spec, err = parseSpecification(data)
		}
		loaded.err = err
	})
	if loaded.err != nil {
		t.Fatalf("the service's interface description was not used: %v", loaded.err)
	}
	return loaded.spec
}

var parameter = regexp.MustCompile(`\{[^}]*\}`)

func parseSpecification(data []byte) (*specification, error) {
	var doc struct {
		Paths map[string]map[string]json.RawMessage `json:"paths"`
		Comps struct {
			Schemas map[string]*schema `json:"schemas"`
		} `json:"components"`
	}
	if err := json.Unmarshal(data, &doc); err != nil {
		return nil, fmt.Errorf("the interface description is not understood: %w", err)
	}
	s := &specification{schemas: doc.Comps.Schemas, bodies: map[string]*schema{}}
	for path, methods := range doc.Paths {
		for method, raw := range methods {
			var op struct {
				Body struct {
					Content map[string]struct {
						Schema *schema `json:"schema"`
					} `json:"content"`
				} `json:"requestBody"`
			}
			if method == "parameters" || json.Unmarshal(raw, &op) != nil {
				continue
			}
			if c, ok := op.Body.Content["application/json"]; ok {
				s.bodies[strings.ToUpper(method)+" "+parameter.ReplaceAllString(path, "{}")] = c.Schema
			}
		}
	}
	return s, nil
}

// check holds a body against what the call takes. Calls that the description doesn't have pass.
func (s *specification) check(method, path string, body json.RawMessage) error {
	if s == nil || len(body) == 0 {
		return nil
	}
	want := s.bodies[method+" "+parameter.ReplaceAllString(path, "{}")]
	if want == nil {
		return nil
	}
	d := json.NewDecoder(bytes.NewReader(body))
	d.UseNumber()
	var v any
	if err := d.Decode(&v); err != nil {
		return err
	}
	if err := s.match(want, v); err != nil {
		return fmt.Errorf("against the interface description: %w", err)
	}
	return nil
}

// match reports why v is not as the schema says. Alternatives need one that fits: the description's "oneOf" are told
// apart by more than it writes down.
func (s *specification) match(c *schema, v any) error {
	for c.Ref != "" {
		name := c.Ref[strings.LastIndexByte(c.Ref, '/')+1:]
		if c = s.schemas[name]; c == nil {
			return fmt.Errorf("the description lacks %s", name)
		}
	}
	if c.Type != nil {
		ok := false
		switch want := c.Type.(type) {
		case string:
			ok = typed(want, v)
		case []any:
			for _, w := range want {
				name, _ := w.(string)
				ok = ok || typed(name, v)
			}
		}
		if !ok {
			return fmt.Errorf("%v is not of type %v", brief(v), c.Type)
		}
	}
	if c.Const != nil && fmt.Sprint(c.Const) != fmt.Sprint(v) {
		return fmt.Errorf("%v is not %v", brief(v), c.Const)
	}
	if len(c.Enum) > 0 {
		ok := false
		for _, e := range c.Enum {
			ok = ok || fmt.Sprint(e) == fmt.Sprint(v)
		}
		if !ok {
			return fmt.Errorf("%v is none of %v", brief(v), c.Enum)
		}
	}
	for _, a := range c.AllOf {
		if err := s.match(a, v); err != nil {
			return err
		}
	}
	for _, list := range [][]*schema{c.OneOf, c.AnyOf} {
		var errs []error
		for _, a := range list {
			err := s.match(a, v)
			if err == nil {
				errs = nil
				break
			}
			errs = append(errs, err)
		}
		if len(errs) > 0 {
			return fmt.Errorf("%v fits none of %d forms: %w", brief(v), len(list), errors.Join(errs...))
		}
	}
	switch v := v.(type) {
	case map[string]any:
		return s.matchObject(c, v)
	case []any:
		if c.MinItems != nil && len(v) < *c.MinItems || c.MaxItems != nil && len(v) > *c.MaxItems {
			return fmt.Errorf("a list of %d is too short or too long", len(v))
		}
		if c.Items != nil {
			for i, x := range v {
				if err := s.match(c.Items, x); err != nil {
					return fmt.Errorf("[%d]: %w", i, err)
				}
			}
		}
	case string:
		if c.MinLength != nil && length(v) < *c.MinLength || c.MaxLength != nil && length(v) > *c.MaxLength {
			return fmt.Errorf("%s has %d characters, too few or too many", brief(v), length(v))
		}
		if c.Pattern != "" {
			if re, err := regexp.Compile(c.Pattern); err == nil && !re.MatchString(v) {
				return fmt.Errorf("%s doesn't match %s", brief(v), c.Pattern)
			}
		}
	case json.Number:
		x, err := v.Float64()
		if err != nil {
			return err
		}
		for _, bound := range []struct {
			at   *json.Number
			sign float64
		}{{c.Minimum, -1}, {c.Maximum, 1}} {
			if bound.at == nil {
				continue
			}
			if b, err := bound.at.Float64(); err == nil && (x-b)*bound.sign > 0 {
				return fmt.Errorf("%v is beyond %v", v, b)
			}
		}
	}
	return nil
}

func (s *specification) matchObject(c *schema, v map[string]any) error {
	for _, r := range c.Required {
		if _, ok := v[r]; !ok {
			return fmt.Errorf("%q is missing", r)
		}
	}
	for k, x := range v {
		p := c.Properties[k]
		if p == nil {
			if len(c.Properties) > 0 && len(c.Additional) == 0 {
				return fmt.Errorf("%q is unknown", k)
			}
			continue
		}
		if err := s.match(p, x); err != nil {
			return fmt.Errorf("%s: %w", k, err)
		}
	}
	return nil
}

// typed reports whether v is of the type. The service takes numbers in quotes for integers (its documentation writes
// permissions so, from memory), and the stand-in does too.
func typed(want string, v any) bool {
	switch x := v.(type) {
	case nil:
		return want == "null"
	case bool:
		return want == "boolean"
	case string:
		if want == "integer" {
			_, err := strconv.ParseInt(x, 10, 64)
			return err == nil
		}
		return want == "string"
	case json.Number:
		return want == "number" || want == "integer" && !strings.ContainsAny(x.String(), ".eE")
	case []any:
		return want == "array"
	case map[string]any:
		return want == "object"
	}
	return false
}

func brief(v any) string {
	s := fmt.Sprintf("%v", v)
	if len(s) > 60 {
		s = s[:60] + "…"
	}
	return s
}
