package ledger

import (
	"context"
	"path/filepath"
	"testing"
)

// A mark is there after the ledger was closed and opened again, in its last value.
func TestMarksOutliveTheProcess(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "ledger.db")
	l, err := Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	if _, ok, err := l.Marks().Get(ctx, "post/a"); ok || err != nil {
		t.Fatalf("a key never put: %v, %v", ok, err)
	}
	for _, v := range []string{"1", "2"} {
		if err := l.Marks().Put(ctx, "post/a", v); err != nil {
			t.Fatal(err)
		}
	}
	l.Close()
	if l, err = Open(ctx, path); err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if v, ok, err := l.Marks().Get(ctx, "post/a"); v != "2" || !ok || err != nil {
		t.Fatalf("after opening again: %q, %v, %v", v, ok, err)
	}
}
