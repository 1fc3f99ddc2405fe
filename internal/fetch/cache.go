package fetch

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"
)

// copyMark begins a file of the cache; the time of fetching and a line break
// follow, then the answer as it came.
const copyMark = "hackle weather copy 1 "

// keptCopy is an answer from the cache.
type keptCopy struct {
	fetched time.Time
	body    []byte
}

// copyPath names the file of a query. The name is a hash, so that neither a key
// in an address nor the place of a yard can be read from a listing.
func (c *Client) copyPath(q *query) string {
	sum := sha256.Sum256([]byte(q.url.String()))
	return filepath.Join(c.CacheDir, hex.EncodeToString(sum[:16])+".copy")
}

// copyOf returns the copy of a query's answer, nil when there is none that can be
// read.
func (c *Client) copyOf(q *query) *keptCopy {
	if c.CacheDir == "" {
		return nil
	}
	file, err := os.Open(c.copyPath(q))
	if err != nil {
		return nil
	}
	defer file.Close() // only read from
	most := c.MaxBytes
	if most <= 0 {
		most = defaultMaxBytes
	}
	const headLength = 100
	text, err := io.ReadAll(io.LimitReader(file, most+headLength+1))
	if err != nil || int64(len(text)) > most+headLength {
		return nil
	}
	head, body, ok := bytes.Cut(text, []byte("\n"))
	stamp, marked := bytes.CutPrefix(head, []byte(copyMark))
	if !ok || !marked {
		return nil
	}
	fetched, err := time.Parse(time.RFC3339, string(stamp))
	if err != nil {
		return nil
	}
	return &keptCopy{fetched: fetched, body: body}
}

// keep writes a copy beside its place and moves it there, so that a reader sees
// the old copy or the new one, never a part.
func (c *Client) keep(q *query, body []byte, fetched time.Time) (err error) {
	if c.CacheDir == "" {
		return nil
	}
	if err := os.MkdirAll(c.CacheDir, 0o700); err != nil {
		return fmt.Errorf("folder for copies of weather: %w", err)
	}
	file, err := os.CreateTemp(c.CacheDir, "*.part") // readable by the user alone
	if err != nil {
		return fmt.Errorf("copy of weather: %w", err)
	}
	defer func() {
		if err != nil {
			err = fmt.Errorf("copy of weather: %w", errors.Join(err, os.Remove(file.Name())))
		}
	}()
	_, err = fmt.Fprintf(file, "%s%s\n", copyMark, fetched.UTC().Format(time.RFC3339))
	if err == nil {
		_, err = file.Write(body)
	}
	if err = errors.Join(err, file.Close()); err != nil {
		return err
	}
	return os.Rename(file.Name(), c.copyPath(q))
}
