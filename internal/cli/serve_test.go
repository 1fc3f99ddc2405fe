package cli

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// serving runs a command that serves until the context ends. It returns the address
// it printed, and a function that ends it and returns its exit code and complaints.
func serving(t *testing.T, stdin string, args ...string) (address string, end func() (int, string)) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	read, write := io.Pipe()
	var errOut bytes.Buffer
	code := make(chan int, 1)
	go func() {
		code <- Run(ctx, args, strings.NewReader(stdin), write, &errOut)
		write.Close()
	}()
	line, _ := bufio.NewReader(read).ReadString('\n') // empty when the command ends at once
	go func() { _, _ = io.Copy(io.Discard, read) }()
	_, address, _ = strings.Cut(strings.TrimSpace(line), " at ")
	return address, func() (int, string) {
		cancel()
		return <-code, errOut.String()
	}
}

func status(t *testing.T, address string) int {
	t.Helper()
	got, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer got.Body.Close()
	_, err = io.Copy(io.Discard, got.Body)
	if err != nil {
		t.Fatal(err)
	}
	return got.StatusCode
}

func TestServe(t *testing.T) {
	dir := t.TempDir()
	yardFile := filepath.Join(dir, "deep", "yard.sqlite")
	address, end := serving(t, "", "serve", "--yard", yardFile, "--listen", "127.0.0.1:0")
	if !strings.HasPrefix(address, "http://127.0.0.1:") {
		code, errOut := end()
		t.Fatalf("it serves at %q: code %d, %s", address, code, errOut)
	}
	if got := status(t, address+"trust"); got != 200 {
		t.Errorf("a page: %d", got)
	}
	if code, errOut := end(); code != Done || errOut != "" {
		t.Errorf("it ends with %d: %s", code, errOut)
	}
	if _, err := os.Stat(yardFile); err != nil {
		t.Errorf("the yard is not kept: %v", err)
	}
	// Other machines want a password.
	if r := run(t, "serve", "--yard", yardFile, "--listen", "0.0.0.0:0"); r.code != BadInput || !strings.Contains(r.errOut, "--set-password") {
		t.Errorf("open to all without a password: code %d, %s", r.code, r.errOut)
	}
	if r := run(t, "serve", "--yard", yardFile, "--listen", "nowhere:none"); r.code != BadInput || !strings.Contains(r.errOut, "--listen") {
		t.Errorf("a wrong address: code %d, %s", r.code, r.errOut)
	}
	if r := run(t, "serve", "--yard", yardFile, "--certificate", "x.pem"); r.code != BadInput || !strings.Contains(r.errOut, "--key") {
		t.Errorf("half a certificate: code %d, %s", r.code, r.errOut)
	}
	address, end = serving(t, "smoke willow seven crates\n", "serve", "--yard", yardFile, "--listen", "127.0.0.1:0", "--set-password")
	if got := status(t, address+"api/v1/yards"); got != 401 {
		t.Errorf("behind a password: %d", got)
	}
	if code, errOut := end(); code != Done || strings.Contains(errOut, "smoke") {
		t.Errorf("it ends with %d: %s", code, errOut)
	}
	if text, err := os.ReadFile(yardFile); err != nil || bytes.Contains(text, []byte("smoke willow")) {
		t.Errorf("the password itself is kept (%v)", err)
	}
	if r := run(t, "serve", "--yard", dir); r.code == Done {
		t.Error("a folder is taken for a yard")
	}
	var doc map[string]any
	if r := run(t, "serve", "--openapi"); r.code != Done || json.Unmarshal([]byte(r.out), &doc) != nil || doc["openapi"] != "3.1.0" {
		t.Errorf("the description: code %d, %.100s", r.code, r.out)
	}
}

// The demo without --once writes its yard and serves it, and overwrites nothing.
func TestDemoServes(t *testing.T) {
	dir := t.TempDir()
	for _, folder := range []string{"demo-yard", "demo-yard-2"} {
		address, end := serving(t, "", "demo", "--into", dir, "--listen", "127.0.0.1:0")
		if address == "" {
			code, errOut := end()
			t.Fatalf("code %d: %s", code, errOut)
		}
		if got := status(t, address+"api/v1/yards"); got != 200 {
			t.Errorf("the yard: %d", got)
		}
		if code, errOut := end(); code != Done || errOut != "" {
			t.Errorf("it ends with %d: %s", code, errOut)
		}
		for _, file := range []string{"yard.sqlite", "warre.yaml"} {
			if _, err := os.Stat(filepath.Join(dir, folder, file)); err != nil {
				t.Error(err)
			}
		}
	}
}
