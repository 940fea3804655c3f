package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"benchbell/quote"
	"benchbell/quote/library"
	"benchbell/quote/pattern"
	"benchbell/quote/settings"
)

// patternCommand checks a pattern set in a folder, or drafts a spec sheet for a bare drawing:
//
//	worker pattern check FOLDER [-out DIR] [-studio FILE]
//	worker pattern draft DRAWING -out FOLDER
func patternCommand(_ context.Context, args []string, stdout io.Writer) error {
	const usage = "worker pattern takes either check FOLDER [-out DIR] [-studio FILE] or draft DRAWING -out FOLDER"
	if len(args) < 2 || strings.HasPrefix(args[1], "-") {
		return errors.New(usage)
	}
	fs := flag.NewFlagSet("worker pattern", flag.ContinueOnError)
	fs.SetOutput(io.Discard) // the error is returned, and printed once
	out := fs.String("out", "", "")
	studio := fs.String("studio", "", "")
	if err := fs.Parse(args[2:]); err != nil || fs.NArg() > 0 {
		return errors.New(usage)
	}
	switch args[0] {
	case "check":
		return checkPattern(args[1], *out, *studio, stdout)
	case "draft":
		if *out == "" {
			return errors.New("worker pattern draft needs -out FOLDER for the new set")
		}
		return draftPattern(args[1], *out, stdout)
	}
	return errors.New(usage)
}

// checkPattern prints the report on a set and writes its pictures; a fault with a place is drawn.
func checkPattern(folder, out, studio string, stdout io.Writer) error {
	st := settings.Demo()
	if studio != "" {
		b, err := read(studio)
		if err != nil {
			return err
		}
		if st, err = settings.Parse(b); err != nil {
			return err
		}
	}
	drawing, err := findDrawing(folder)
	if err != nil {
		return err
	}
	src := quote.PatternSource{}
	b, err := read(drawing)
	if err != nil {
		return err
	}
	src.Drawing = string(b)
	if b, err = read(filepath.Join(folder, "pattern.toml")); err != nil {
		return fmt.Errorf("the pattern.toml in %s could not be read; write a first one with worker pattern draft: %w", folder, err)
	}
	src.TOML = string(b)
	if out == "" {
		out = folder
	}
	in, err := library.Inspect(src, st)
	if err != nil {
		return marked(err, filepath.Base(drawing), out, stdout)
	}
	fmt.Fprintln(stdout, in.Report)
	for _, l := range in.Lacks {
		fmt.Fprintln(stdout, "before it can be quoted:", l)
	}
	return writePictures(in.Pictures, out, stdout)
}

// marked draws the place of a fault before it is returned, and says in which file to fix it.
func marked(err error, name, out string, stdout io.Writer) error {
	if s := (*pattern.SpecError)(nil); errors.As(err, &s) {
		name = "pattern.toml"
	}
	err = fmt.Errorf("%s: %w", name, err)
	p, ok := library.FaultPicture(err)
	if !ok {
		return err
	}
	return errors.Join(err, writePictures([]quote.Picture{p}, out, stdout))
}

func writePictures(pictures []quote.Picture, out string, stdout io.Writer) error {
	if err := os.MkdirAll(out, 0o755); err != nil {
		return fmt.Errorf("the directory for the pictures could not be created: %w", err)
	}
	for _, p := range pictures {
		if err := write(filepath.Join(out, p.Name), p.Data); err != nil {
			return err
		}
		fmt.Fprintf(stdout, "picture: %s\n", filepath.Join(out, p.Name))
	}
	return nil
}

// findDrawing is the one drawing in a folder: pattern.svg or pattern.dxf if there is one, or else the only .svg or .dxf.
func findDrawing(folder string) (string, error) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return "", fmt.Errorf("the pattern folder could not be read: %w", err)
	}
	var found []string
	for _, e := range entries {
		if ext := strings.ToLower(filepath.Ext(e.Name())); !e.IsDir() && (ext == ".svg" || ext == ".dxf") {
			found = append(found, e.Name())
		}
	}
	for _, name := range []string{"pattern.svg", "pattern.dxf"} {
		if slices.Contains(found, name) {
			return filepath.Join(folder, name), nil
		}
	}
	if len(found) != 1 {
		return "", fmt.Errorf("%s has %d drawings; it must have one, pattern.svg or pattern.dxf", folder, len(found))
	}
	return filepath.Join(folder, found[0]), nil
}

// draftPattern makes a set from a bare drawing: the drawing as it is, and a spec sheet to be completed.
func draftPattern(drawing, out string, stdout io.Writer) error {
	b, err := read(drawing)
	if err != nil {
		return err
	}
	ext := strings.ToLower(filepath.Ext(drawing))
	if ext != ".svg" && ext != ".dxf" {
		return fmt.Errorf("%s is not an .svg or .dxf; save the drawing as one of these", drawing)
	}
	toml, set, notes, err := pattern.Draft(b, filepath.Base(filepath.Clean(out)))
	if err != nil {
		return marked(err, filepath.Base(drawing), out, stdout)
	}
	spec := filepath.Join(out, "pattern.toml")
	if _, err := os.Stat(spec); err == nil {
		return fmt.Errorf("%s already exists and will not be overwritten; use another folder", spec)
	}
	if err := os.MkdirAll(out, 0o755); err != nil {
		return fmt.Errorf("the folder could not be created: %w", err)
	}
	if err := write(filepath.Join(out, "pattern"+ext), b); err != nil {
		return err
	}
	if err := write(spec, toml); err != nil {
		return err
	}
	for _, n := range notes {
		fmt.Fprintln(stdout, "note:", n)
	}
	fmt.Fprintf(stdout, "%s: the drawing and a first pattern.toml are in %s; complete it and run worker pattern check %s\n", set.Title, out, out)
	return nil
}
