package gaugetest

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// dpi is fine enough to see a hairline of 0.3 mm move by its width.
const dpi = 100

// picturesDiffer writes both sides into a folder of their own, which stays, and what other programs paint of them.
func picturesDiffer(t testing.TB, name string, want, got []byte) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "benchbell-"+strings.NewReplacer("/", "-", " ", "-").Replace(t.Name())+"-")
	if err != nil {
		t.Fatal(err)
	}
	kept, now := filepath.Join(dir, "kept-"+name), filepath.Join(dir, "now-"+name)
	if err := errors.Join(os.WriteFile(kept, want, 0o644), os.WriteFile(now, got, 0o644)); err != nil {
		t.Fatal(err)
	}
	at := 0
	for at < min(len(want), len(got)) && want[at] == got[at] {
		at++
	}
	said := fmt.Sprintf("%d bytes were kept, now %d, other from byte %d on; both sides are in %s\n", len(want), len(got), at, dir)

	paint, tool := paintSVG, "rsvg-convert"
	if filepath.Ext(name) == ".pdf" {
		paint, tool = paintPDF, "pdftoppm"
	}
	program, err := exec.LookPath(tool)
	if err != nil {
		return said + tool + " is not installed, so nothing is painted side by side"
	}
	a, errA := paint(program, kept)
	b, errB := paint(program, now)
	if err := errors.Join(errA, errB); err != nil {
		return said + err.Error()
	}
	same := true
	for i := range max(len(a), len(b)) {
		var left, right image.Image = image.NewGray(image.Rectangle{}), image.NewGray(image.Rectangle{})
		if i < len(a) {
			left = a[i]
		}
		if i < len(b) {
			right = b[i]
		}
		sheet, n, where := sideBySide(left, right)
		if n == 0 {
			continue
		}
		same = false
		file := filepath.Join(dir, fmt.Sprintf("page-%d.png", i+1))
		if err := writePNG(file, sheet); err != nil {
			t.Fatal(err)
		}
		size := left.Bounds().Union(right.Bounds())
		said += fmt.Sprintf("page %d of %d: %.3g %% of its %d × %d dots differ, from %v to %v: %s (kept | now | difference)\n", i+1, max(len(a), len(b)),
			100*float64(n)/float64(size.Dx()*size.Dy()), size.Dx(), size.Dy(), where.Min, where.Max, file)
	}
	if same {
		said += fmt.Sprintf("%s paints the same of both, at %d dots an inch\n", tool, dpi)
	}
	return said
}

func paintSVG(program, file string) ([]image.Image, error) {
	out, err := exec.Command(program, "--background-color", "white", "-d", strconv.Itoa(dpi), "-p", strconv.Itoa(dpi), file).Output()
	if err != nil {
		return nil, fmt.Errorf("%s %s: %w", program, file, err)
	}
	img, err := png.Decode(bytes.NewReader(out))
	return []image.Image{img}, err
}

func paintPDF(program, file string) ([]image.Image, error) {
	root := file + "-page"
	if out, err := exec.Command(program, "-png", "-r", strconv.Itoa(dpi), file, root).CombinedOutput(); err != nil {
		return nil, fmt.Errorf("%s %s: %w: %s", program, file, err, out)
	}
	names, err := filepath.Glob(root + "*")
	if err != nil {
		return nil, err
	}
	slices.Sort(names) // numbers are padded to one width
	var pages []image.Image
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		img, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		pages = append(pages, img)
		if err := os.Remove(name); err != nil {
			return nil, err
		}
	}
	return pages, nil
}

// sideBySide puts two pictures beside each other and where they differ, black, to their right. It counts the dots that
// differ, those that only one has among them, and gives the rectangle that holds them.
func sideBySide(a, b image.Image) (sheet *image.RGBA, n int, where image.Rectangle) {
	const between = 10
	size := a.Bounds().Union(b.Bounds())
	w := size.Dx() + between
	sheet = image.NewRGBA(image.Rect(0, 0, 3*w-between, size.Dy()))
	draw.Draw(sheet, sheet.Bounds(), image.NewUniform(color.Gray{Y: 0xc0}), image.Point{}, draw.Src)
	draw.Draw(sheet, a.Bounds(), a, a.Bounds().Min, draw.Src)
	draw.Draw(sheet, b.Bounds().Add(image.Pt(w, 0)), b, b.Bounds().Min, draw.Src)
	for y := range size.Dy() {
		for x := range size.Dx() {
			p := image.Pt(x, y)
			c := color.RGBA{R: 0xff, G: 0xff, B: 0xff, A: 0xff}
			if p.In(a.Bounds()) != p.In(b.Bounds()) || sheet.RGBAAt(x, y) != sheet.RGBAAt(w+x, y) {
				c = color.RGBA{A: 0xff}
				n++
				where = where.Union(image.Rectangle{Min: p, Max: p.Add(image.Pt(1, 1))})
			}
			sheet.SetRGBA(2*w+x, y, c)
		}
	}
	return sheet, n, where
}

func writePNG(file string, img image.Image) error {
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		return err
	}
	return os.WriteFile(file, b.Bytes(), 0o644)
}
