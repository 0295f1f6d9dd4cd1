package export

import (
	"context"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"aplomb/cmd/internal/files"
	"aplomb/device/input"
)

// writer writes the files of a package and stores their checksums.
type writer struct {
	dir     string
	access  files.Access
	written []file
}

// file is one file of a package.
type file struct {
	path   string // in the package, with slashes
	sha256 string // in hexadecimal
	bytes  int64
}

// counting passes on the bytes written, and counts and hashes them.
type counting struct {
	to   io.Writer
	hash hash.Hash
	n    int64
}

func (c *counting) Write(p []byte) (int, error) {
	n, err := c.to.Write(p)
	c.hash.Write(p[:n])
	c.n += int64(n)
	return n, err
}

// write makes the file at a path in the package.
func (w *writer) write(path string, write func(io.Writer) error) (file, error) {
	at := filepath.Join(w.dir, filepath.FromSlash(path))
	if err := w.access.MkdirAll(filepath.Dir(at)); err != nil {
		return file{}, err
	}
	c := counting{hash: sha256.New()}
	err := w.access.Write(at, func(to io.Writer) error {
		c.to = to
		return write(&c)
	})
	if err != nil {
		return file{}, err
	}
	f := file{path, hex.EncodeToString(c.hash.Sum(nil)), c.n}
	w.written = append(w.written, f)
	return f, nil
}

func (w *writer) text(path, text string) error {
	_, err := w.write(path, func(to io.Writer) error {
		_, err := io.WriteString(to, text)
		return err
	})
	return err
}

// json writes a value as indented JSON.
func (w *writer) json(path string, v any) (file, error) {
	return w.write(path, func(to io.Writer) error {
		e := json.NewEncoder(to)
		e.SetEscapeHTML(false)
		e.SetIndent("", "  ")
		return e.Encode(v)
	})
}

// scripts are programs that work with the tables of a package.
//
//go:embed scripts
var scripts embed.FS

// scripts writes the programs that read the table of relevés as CSV, where it is among the
// resources.
func (w *writer) scripts(of []resource) (all []resource, err error) {
	if !slices.ContainsFunc(of, func(r resource) bool { return r.Path == "tables/releves.csv" }) {
		return nil, nil
	}
	for _, s := range []struct{ name, format, media string }{{"model.R", "r", "text/plain"}, {"model.py", "py", "text/x-python"}} {
		text, err := scripts.ReadFile("scripts/" + s.name)
		if err != nil {
			return nil, err
		}
		f, err := w.write("scripts/"+s.name, func(to io.Writer) error {
			_, err := to.Write(text)
			return err
		})
		if err != nil {
			return nil, err
		}
		all = append(all, plain(f, s.format, s.media))
	}
	return all, nil
}

// copy copies the file at from.
func (w *writer) copy(ctx context.Context, path, from string) (file, error) {
	source, err := input.Open(from)
	if err != nil {
		return file{}, err
	}
	defer source.Close()
	return w.write(path, func(to io.Writer) error {
		block := make([]byte, 1<<18)
		for {
			if err := ctx.Err(); err != nil {
				return err
			}
			n, err := source.Read(block)
			if _, e := to.Write(block[:n]); e != nil {
				return e
			}
			switch {
			case errors.Is(err, io.EOF):
				return nil
			case err != nil:
				return err
			}
		}
	})
}

// sums writes the checksums of all files so far, in the format of sha256sum -c. It is
// called last: a package without it is incomplete.
func (w *writer) sums() error {
	slices.SortFunc(w.written, func(a, b file) int { return strings.Compare(a.path, b.path) })
	var all strings.Builder
	for _, f := range w.written {
		fmt.Fprintf(&all, "%s  %s\n", f.sha256, f.path)
	}
	return w.text(SumsFile, all.String())
}
