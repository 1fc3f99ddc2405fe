package ensemble

import (
	"os"
	"path/filepath"
	"testing"
)

// FuzzJournal opens whatever a file may hold: it is refused and left as it is, or it
// is read, goes on and is read again the same.
func FuzzJournal(f *testing.F) {
	head := `{"hackle_draws":1,"question":"a","numbers":2}` + "\n"
	for _, s := range []string{"", head, head + "{\"draw\":1,\"row\":[1,null]}\n", head + "{\"draw\":1,\"ro", "rubbish", head + "{\"draw\":-1,\"row\":[1,2]}\n", head[:9]} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		path := filepath.Join(t.TempDir(), "j")
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		j, err := OpenJournal(path, "a", 2)
		if err != nil {
			if left, _ := os.ReadFile(path); string(left) != text {
				t.Fatalf("refused (%v) and altered", err)
			}
			return
		}
		had := j.Len()
		if err := j.add(mostPoints-1, []float64{1, 2}); err != nil {
			t.Fatal(err)
		}
		j.Close()
		again, err := OpenJournal(path, "a", 2)
		if err != nil {
			t.Fatalf("what was written cannot be read: %v", err)
		}
		defer again.Close()
		if n := again.Len(); n != had+1 && n != had || again.rows[mostPoints-1][1] != 2 {
			t.Fatalf("%d rows, %d before", n, had)
		}
	})
}
