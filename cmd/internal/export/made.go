package export

import (
	"context"
	"errors"
	"io"
	"path"
	"slices"

	"aplomb/analyze/dataset"
	"aplomb/device"
	"aplomb/device/recording"
)

// Made is a file of a package that is computed from its recordings and inputs: a table in
// one format, or a profile.
type Made struct {
	Path   string          // in the package
	Schema *dataset.Schema // nil of a profile
	Format string          // of a table

	recording string // id, of a partitioned table
	table     func(context.Context) (dataset.Table, error)
	profile   string // as TOML
}

// Table returns the table that the file holds.
func (m *Made) Table(ctx context.Context) (dataset.Table, error) { return m.table(ctx) }

// Write writes the file.
func (m *Made) Write(ctx context.Context, w io.Writer) error {
	if m.Schema == nil {
		_, err := io.WriteString(w, m.profile)
		return err
	}
	t, err := m.table(ctx)
	if err != nil {
		return err
	}
	return encoders[m.Format](w, t)
}

// Made returns the computed files: all tables in these formats, those with one file per
// recording last, and then the profiles.
func (c *Collection) Made(formats []string) []Made {
	var all []Made
	for _, t := range c.Source.Tables() {
		for _, format := range formats {
			all = append(all, Made{
				Path: "tables/" + t.Name + "." + format, Schema: &t.Schema, Format: format,
				table: func(context.Context) (dataset.Table, error) { return t, nil },
			})
		}
	}
	for _, s := range dataset.Schemas() {
		if s.Partition == nil {
			continue
		}
		for _, r := range c.measured() {
			for _, format := range formats {
				all = append(all, Made{
					Path:   path.Join(s.Name, "dancer="+partitionValue(r.dancer), "recording="+partitionValue(r.ID), s.Name+"."+format),
					Schema: &s, Format: format, recording: r.ID,
					table: func(ctx context.Context) (dataset.Table, error) { return c.part(ctx, s.Name, r.Recording) },
				})
			}
		}
	}
	for _, s := range c.Source.Shoes() {
		all = append(all, Made{Path: dataset.ShoeFile(dataset.ContentOf(s)), profile: device.TOML(s)})
	}
	for _, s := range c.Source.Strips() {
		all = append(all, Made{Path: dataset.StripFile(dataset.ContentOf(s)), profile: device.TOML(s)})
	}
	return all
}

// of is a recording with its dancer.
type of struct {
	dancer string
	*dataset.Recording
}

// measured returns the recordings that were measured.
func (c *Collection) measured() []of {
	var all []of
	for _, u := range c.Source.Units {
		for i := range u.Recordings {
			if u.Recordings[i].Result != nil {
				all = append(all, of{u.Dancer, &u.Recordings[i]})
			}
		}
	}
	return all
}

// part returns the part of a recording in a partitioned table. For that of frames it reads
// the recording again.
func (c *Collection) part(ctx context.Context, table string, r *dataset.Recording) (dataset.Table, error) {
	if table != "frames" {
		return r.Part(table), nil
	}
	var err error
	with := *r
	if with.Counts, err = counts(ctx, c.files[r.File].path); err != nil {
		return dataset.Table{}, err
	}
	return with.Part(table), nil
}

// counts returns the reading of every cell in every frame of the recording at path.
func counts(ctx context.Context, path string) ([]dataset.Count, error) {
	r, err := recording.Open(ctx, path)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	var all []dataset.Count
	var n [2]int
	var began [2]uint64
	var frame device.Frame
	meta := r.Meta()
	for {
		err := r.Next(&frame)
		switch {
		case errors.Is(err, io.EOF):
			return all, nil
		case err != nil:
			return nil, err
		}
		f := frame.Foot
		if n[f]++; n[f] == 1 {
			began[f] = frame.TimeUS
		}
		at := float64(frame.TimeUS-began[f]) / 1e6
		for k, v := range frame.Counts {
			row, column := meta.Sides[f].Strip.RowCol(k)
			all = append(all, dataset.Count{Foot: f, Frame: n[f], TimeS: at, Row: row, Column: column, Counts: v})
		}
	}
}

// wanted returns the files selected by the options.
func (o *Options) wanted(all []Made) []Made {
	return slices.DeleteFunc(all, func(m Made) bool { return m.Schema != nil && !o.Wants(*m.Schema) })
}
