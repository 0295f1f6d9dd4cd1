// Package export writes recordings and their measures as a data package: tables with
// their schemas, the recordings themselves, the profiles of shoes and strips, and the
// checksums of all files (Frictionless Data Package 1,
// https://specs.frictionlessdata.io).
package export

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"aplomb/analyze/dataset"
	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/usage"
)

// Options specify what is written and in which form.
type Options struct {
	Dir     string
	Formats []string // of Formats
	Tables  []string // names; AllTables stands for all except those made on request only
	Creator string   // creator of the data set; "" where unknown
	Licence string   // SPDX identifier; "" where unknown
	Access  files.Access
}

// AllTables stands for all tables except those made on request only.
const AllTables = "all"

// Wants reports whether a table is written.
func (o *Options) Wants(s dataset.Schema) bool {
	return slices.Contains(o.Tables, s.Name) || s.Partition == nil && slices.Contains(o.Tables, AllTables)
}

// formats returns the formats in a fixed order, each once.
func (o *Options) formats() []string {
	return slices.DeleteFunc(Formats(), func(f string) bool { return !slices.Contains(o.Formats, f) })
}

// Check returns a usage error for meaningless options, and an error where the package
// cannot be written to the folder. It is called before the work.
func (o *Options) Check() error {
	for _, f := range o.Formats {
		if !slices.Contains(Formats(), f) {
			return usage.Errorf("--format %q: csv, parquet or both, with a comma between", f)
		}
	}
	for _, t := range o.Tables {
		if t != AllTables && !slices.ContainsFunc(dataset.Schemas(), func(s dataset.Schema) bool { return s.Name == t }) {
			return usage.Errorf("--tables %q: no such table; aplomb fields lists them", t)
		}
	}
	if o.Licence != "" && !isSPDX(o.Licence) {
		return usage.Errorf("--licence %q: write the identifier of one licence of the SPDX list, such as CC-BY-4.0", o.Licence)
	}
	return checkEmpty(o.Dir)
}

// checkEmpty returns an error unless dir is an empty folder or can be made.
func checkEmpty(dir string) error {
	entries, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		if info, e := os.Stat(dir); e == nil && !info.IsDir() {
			return fmt.Errorf("%s: a file, and no folder: name a folder that is empty or does not exist", dir)
		}
		return err
	case len(entries) > 0:
		return fmt.Errorf("%s: the folder is not empty: name one that is empty or does not exist", dir)
	}
	return nil
}

// Write writes the package of a collection. Where it fails, the folder is empty
// afterwards.
func Write(ctx context.Context, o Options, c *Collection) (err error) {
	_, missing := os.Stat(o.Dir)
	if err := o.Access.MkdirAll(o.Dir); err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = cmp.Or(clear(o.Dir, missing != nil), err)
		}
	}()
	w := &writer{dir: o.Dir, access: o.Access}
	var resources []resource
	for _, m := range o.wanted(c.Made(o.formats())) {
		if err := ctx.Err(); err != nil {
			return err
		}
		f, err := w.write(m.Path, func(to io.Writer) error { return m.Write(ctx, to) })
		if err != nil {
			return err
		}
		resources = append(resources, m.resource(f))
	}
	resources = withKnownReferences(resources)
	for _, at := range slices.Sorted(maps.Keys(c.files)) {
		f, err := w.copy(ctx, at, c.files[at].path)
		if err != nil {
			return err
		}
		if f.sha256 != c.files[at].sha256 {
			return fmt.Errorf("%s changed while it was exported: export again", c.files[at].path)
		}
		format, media := "mcap", "application/octet-stream"
		if path.Ext(at) == ".json" {
			format, media = "json", "application/json"
		}
		resources = append(resources, plain(f, format, media))
	}
	all, err := w.scripts(resources)
	if err != nil {
		return err
	}
	resources = append(resources, all...)
	f, err := w.json("fields.json", slices.DeleteFunc(dataset.Schemas(), func(s dataset.Schema) bool { return !o.Wants(s) }))
	if err != nil {
		return err
	}
	resources = append(resources, plain(f, "json", "application/json"))
	f, err = w.json(InputsFile, c.inputs())
	if err != nil {
		return err
	}
	resources = append(resources, plain(f, "json", "application/json"))
	f, err = w.json(ProvenanceFile, c.provenance())
	if err != nil {
		return err
	}
	resources = append(resources, plain(f, "json", "application/json"))
	if _, err := w.json("datapackage.json", describe(o, resources)); err != nil {
		return err
	}
	if err := w.text("README.md", readme(o, c)); err != nil {
		return err
	}
	if o.Creator != "" {
		if err := w.text("CITATION.cff", citation(o)); err != nil {
			return err
		}
	}
	return w.sums()
}

// partitionValue returns a value in the form in which query engines read it from the name
// of a folder: every byte other than letters, digits, - and _ is replaced by % and its
// hexadecimal digits, and an absent value by the word for null.
func partitionValue(s string) string {
	if s == "" {
		return "__HIVE_DEFAULT_PARTITION__"
	}
	var b strings.Builder
	for _, c := range []byte(s) {
		if 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9' || c == '-' || c == '_' {
			b.WriteByte(c)
		} else {
			fmt.Fprintf(&b, "%%%02X", c)
		}
	}
	return b.String()
}

// clear removes the contents of a folder that was empty before, and the folder itself
// where it was created for the package.
func clear(dir string, made bool) error {
	if made {
		return os.RemoveAll(dir)
	}
	entries, err := os.ReadDir(dir)
	for _, e := range entries {
		err = cmp.Or(err, os.RemoveAll(filepath.Join(dir, e.Name())))
	}
	return err
}
