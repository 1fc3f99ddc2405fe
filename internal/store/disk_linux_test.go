package store

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"hackle/yard"
)

// TestFullDisk fills a disk of 1 MB. It needs the right to mount one, which root in
// a container may lack.
func TestFullDisk(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("none", dir, "tmpfs", 0, "size=1m"); err != nil {
		t.Skipf("cannot mount a small disk here: %v", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	s, err := Open(t.Context(), filepath.Join(dir, "yard.sqlite"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	_, hives, _ := furnish(t, s)
	kept, err := fillUp(t, s, hives[0].ID)
	mustTell(t, err, Full, s.Path())
	allThere(t, s, kept)
	if _, err := s.Backup(t.Context(), filepath.Join(dir, "backup.sqlite")); !errors.Is(err, Full) {
		t.Errorf("a backup to the full disk gave %v", err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if strings.Contains(e.Name(), "backup") {
			t.Errorf("the failed backup left %s", e.Name())
		}
	}
	if err := syscall.Mount("none", dir, "tmpfs", syscall.MS_REMOUNT, "size=8m"); err != nil {
		t.Fatal(err)
	}
	more, err := weigh(s, hives[0].ID, "room again")
	if err != nil {
		t.Fatalf("with room again: %v", err)
	}
	allThere(t, s, append(kept, more))
	if _, err := Check(t.Context(), s.Path()); err != nil {
		t.Error(err)
	}
	t.Logf("%d records were acknowledged before the disk was full; all found", len(kept))
}

// TestFileSizeLimit runs a writer whose files may not grow beyond 256 kB, as under
// a quota.
func TestFileSizeLimit(t *testing.T) {
	s := open(t, Options{})
	_, hives, _ := furnish(t, s)
	path := s.Path()
	s.Close()
	cmd := exec.Command("sh", "-c", `ulimit -f 512; exec "$0"`, os.Args[0]) // in units of 512 bytes
	cmd.Env = append(os.Environ(), writerRole+"="+path)
	var trouble strings.Builder
	cmd.Stderr = &trouble
	out, err := cmd.Output()
	var exit *exec.ExitError
	if !errors.As(err, &exit) || exit.ExitCode() != 1 {
		t.Fatalf("the writer ended with %v: %s", err, trouble.String())
	}
	if text := trouble.String(); !strings.Contains(text, path) || !strings.Contains(text, "disk") {
		t.Errorf("it said %q, wanted the path and its disk", text)
	}
	var kept []yard.ID
	for line := range strings.Lines(string(out)) {
		if f := strings.Fields(line); len(f) == 3 {
			kept = append(kept, yard.ID(f[1]))
		}
	}
	r, err := Open(t.Context(), path, Options{Existing: true})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if len(kept) == 0 {
		t.Fatal("nothing was acknowledged before the limit")
	}
	allThere(t, r, kept)
	if _, err := weigh(r, hives[0].ID, "without the limit"); err != nil {
		t.Error(err)
	}
}

// TestReadOnlyFolder runs a writer as a user who may only read.
func TestReadOnlyFolder(t *testing.T) {
	s := open(t, Options{})
	full(t, s)
	path := s.Path()
	s.Close()
	before := listing(t, filepath.Dir(path))
	for dir := filepath.Dir(path); dir != filepath.Dir(dir) && dir != os.TempDir(); dir = filepath.Dir(dir) {
		if err := os.Chmod(dir, 0o555); err != nil {
			t.Fatal(err)
		}
		defer os.Chmod(dir, 0o755)
	}
	if err := os.Chmod(path, 0o444); err != nil {
		t.Fatal(err)
	}
	fresh := filepath.Join(filepath.Dir(path), "fresh.sqlite")
	for _, p := range []string{path, fresh} {
		cmd := exec.Command("/proc/self/exe")
		cmd.Path = os.Args[0]
		if os.Getuid() == 0 {
			// Root may write anywhere, so somebody else tries: a copy of the test
			// that anybody may run.
			tool := filepath.Join(t.TempDir(), "writer")
			if err := copyFile(os.Args[0], tool); err != nil {
				t.Fatal(err)
			}
			for dir := tool; dir != filepath.Dir(dir) && dir != os.TempDir(); dir = filepath.Dir(dir) {
				if err := os.Chmod(dir, 0o755); err != nil {
					t.Fatal(err)
				}
			}
			cmd.Path = tool
			cmd.Dir = "/"
			cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		}
		cmd.Env = append(os.Environ(), writerRole+"="+p)
		text, err := cmd.CombinedOutput()
		if err == nil || !strings.Contains(string(text), string(ReadOnly)) || !strings.Contains(string(text), p) {
			t.Errorf("%s: %v, it said %q; wanted that it cannot be written to", p, err, text)
		}
	}
	after := listing(t, filepath.Dir(path))
	if len(after) != len(before) || after[filepath.Base(path)] != before[filepath.Base(path)] {
		t.Error("the folder was changed")
	}
}
