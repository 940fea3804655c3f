package drawing

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strings"
)

// Bounds on the entities of a document type. Some editors declare the namespaces they use this way, a dozen at most, each
// used once or twice; all uses together must not make a file larger by more than maxExpansion bytes.
const (
	maxEntities    = 20
	maxEntityBytes = 200
	maxExpansion   = 64 << 10
)

var (
	errDocumentType = errors.New("a document type may declare only a few plain texts; save the drawing as plain SVG")

	// documentType is a document type with an internal subset (XML 1.0, production 28), entity one declaration of a text in
	// it (productions 70 to 74). The name must be ASCII letters; the text must contain neither markup nor references, so
	// that nothing nests.
	documentType = regexp.MustCompile(`^DOCTYPE\s+[\w.:-]+(?:\s+(?:PUBLIC\s+(?:"[^"]*"|'[^']*')\s+|SYSTEM\s+)(?:"[^"]*"|'[^']*'))?\s*\[((?s:.*))\]\s*$`)
	entity       = regexp.MustCompile(`^<!ENTITY\s+([A-Za-z_][\w.-]*)\s+(?:"([^"<&%]*)"|'([^'<&%]*)')\s*>`)
)

// entities reads what a directive declares: nil if it declares nothing. data is the whole file, in which the uses are
// counted before any is expanded.
func entities(directive, data []byte) (map[string]string, error) {
	if !bytes.ContainsRune(directive, '[') && !bytes.Contains(bytes.ToUpper(directive), []byte("ENTITY")) {
		return nil, nil
	}
	m := documentType.FindSubmatch(directive)
	if m == nil {
		return nil, errDocumentType
	}
	named := map[string]string{}
	grown := 0
	for rest := bytes.TrimSpace(m[1]); len(rest) > 0; {
		e := entity.FindSubmatch(rest)
		if e == nil {
			return nil, errDocumentType
		}
		name, text := string(e[1]), string(e[2])+string(e[3])
		if _, ok := named[name]; ok {
			return nil, fmt.Errorf("the document type declares the entity %.40q twice", name)
		}
		if len(named) == maxEntities || len(text) > maxEntityBytes {
			return nil, fmt.Errorf("the document type declares more than %d entities, or one of more than %d bytes; save the drawing as plain SVG", maxEntities, maxEntityBytes)
		}
		if grown += bytes.Count(data, []byte("&"+name+";")) * len(text); grown > maxExpansion {
			return nil, fmt.Errorf("the entities of the document type stand for more than %d bytes of text; save the drawing as plain SVG", maxExpansion)
		}
		named[name] = strings.Join(strings.Fields(text), " ")
		rest = bytes.TrimSpace(rest[len(e[0]):])
	}
	return named, nil
}
