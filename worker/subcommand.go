package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"benchbell/quote"
	"benchbell/quote/cutting"
	"benchbell/quote/engine"
	"benchbell/worker/compute"
)

// maxInput bounds what a subcommand reads; the engines have tighter limits of their own.
const maxInput = 64 << 20

// quoteCommand computes the quote of a snapshot and writes it to a directory.
func quoteCommand(ctx context.Context, args []string, stdout io.Writer) error {
	fs := flag.NewFlagSet("worker quote", flag.ContinueOnError)
	fs.SetOutput(io.Discard) // the error is returned, and printed once
	from, out := fs.String("in", "", ""), fs.String("out", "", "")
	if err := fs.Parse(args); err != nil {
		return err
	}
	if *from == "" || *out == "" || fs.NArg() > 0 {
		return errors.New("worker quote takes only -in FILE and -out DIR")
	}
	return computeQuote(ctx, *from, *out, stdout)
}

func computeQuote(ctx context.Context, in, out string, stdout io.Writer) error {
	b, err := read(in)
	if err != nil {
		return err
	}
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.DisallowUnknownFields()
	var s quote.Snapshot
	if err := dec.Decode(&s); err != nil {
		return fmt.Errorf("%s is not a snapshot of version %d: %w", in, quote.Version, err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return fmt.Errorf("%s has something after the snapshot; it must contain only one snapshot", in)
	}
	var stage quote.Stage
	q, err := compute.Once(ctx, engine.Compute, s, func(at quote.Step) {
		if at.Stage != stage {
			stage = at.Stage
			fmt.Fprintln(stdout, stage)
		}
	})
	if err != nil {
		return fmt.Errorf("the quote for %s could not be computed: %w", in, err)
	}
	if err := writeQuote(out, q); err != nil {
		return err
	}
	if err := writeMakers(out, s, q); err != nil {
		return err
	}
	summary := strings.ReplaceAll(q.Summary, "*", "") // bold in chat
	fmt.Fprintf(stdout, "\n%s\n\nquote.pdf, cut-list.csv, plan.json, quote.json and %d pictures are in %s\n", summary, len(q.Pictures), out)
	return nil
}

// writeQuote writes each part to a file of its own, and the rest to quote.json.
func writeQuote(dir string, q quote.Quote) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("the directory for the quote could not be created: %w", err)
	}
	files := map[string][]byte{"quote.pdf": q.PDF, "cut-list.csv": []byte(q.CutList)}
	names := []string{"quote.pdf", "cut-list.csv"}
	for i, p := range q.Pictures {
		if !filepath.IsLocal(p.Name) || filepath.Base(p.Name) != p.Name || files[p.Name] != nil {
			return fmt.Errorf("picture %d is named %q, which is not a plain file name", i+1, p.Name)
		}
		files[p.Name] = p.Data
		names = append(names, p.Name)
	}
	rest := q
	rest.PDF = nil // it has a file of its own
	rest.Pictures = make([]quote.Picture, len(q.Pictures))
	for i, p := range q.Pictures {
		p.Data = nil
		rest.Pictures[i] = p
	}
	for name, v := range map[string]any{"plan.json": q.Plan, "quote.json": rest} {
		b, err := indent(v)
		if err != nil {
			return fmt.Errorf("%s could not be written: %w", name, err)
		}
		files[name] = b
		names = append(names, name)
	}
	for _, name := range names {
		if err := write(filepath.Join(dir, name), files[name]); err != nil {
			return err
		}
	}
	return nil
}

// writeMakers writes what the maker cuts from: the paper pattern, and the cut files of every sheet.
func writeMakers(dir string, s quote.Snapshot, q quote.Quote) error {
	pdf, err := cutting.PaperPattern(s, q, "")
	if err != nil {
		return err
	}
	files, err := cutting.CutFiles(s, q)
	if err != nil {
		return err
	}
	for _, f := range append(files, pdf) {
		if err := write(filepath.Join(dir, f.Name), f.Data); err != nil {
			return err
		}
	}
	return nil
}

func read(name string) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, fmt.Errorf("the input could not be read: %w", err)
	}
	b, err := io.ReadAll(io.LimitReader(f, maxInput+1))
	if err = errors.Join(err, f.Close()); err != nil {
		return nil, fmt.Errorf("the input could not be read: %w", err)
	}
	if len(b) > maxInput {
		return nil, fmt.Errorf("%s is larger than %d MB", name, maxInput>>20)
	}
	return b, nil
}

func write(name string, b []byte) error {
	if err := os.WriteFile(name, b, 0o644); err != nil {
		return fmt.Errorf("a result could not be written: %w", err)
	}
	return nil
}

func indent(v any) ([]byte, error) {
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(v); err != nil {
		return nil, err
	}
	return buf.Bytes(), nil
}
