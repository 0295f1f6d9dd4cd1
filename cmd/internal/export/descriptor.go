package export

import (
	"slices"
	"strings"

	"aplomb/analyze/dataset"
)

// descriptor is datapackage.json.
type descriptor struct {
	Profile      string        `json:"profile"`
	Name         string        `json:"name"`
	Title        string        `json:"title"`
	Description  string        `json:"description"`
	Licenses     []licence     `json:"licenses,omitempty"`
	Contributors []contributor `json:"contributors,omitempty"`
	Resources    []resource    `json:"resources"`
}

type licence struct {
	Name string `json:"name"`
}

type contributor struct {
	Title string `json:"title"`
	Role  string `json:"role"`
}

// resource is one file of the package.
type resource struct {
	Name        string       `json:"name"`
	Path        string       `json:"path"`
	Profile     string       `json:"profile"`
	Description string       `json:"description,omitempty"`
	Format      string       `json:"format"`
	MediaType   string       `json:"mediatype"`
	Encoding    string       `json:"encoding,omitempty"`
	Bytes       int64        `json:"bytes"`
	Hash        string       `json:"hash"`
	Schema      *tableSchema `json:"schema,omitempty"`
}

// tableSchema is the schema of a table according to Table Schema 1.
type tableSchema struct {
	Fields        []schemaField `json:"fields"`
	PrimaryKey    []string      `json:"primaryKey,omitempty"`
	ForeignKeys   []foreignKey  `json:"foreignKeys,omitempty"`
	MissingValues []string      `json:"missingValues"`
}

type schemaField struct {
	Name        string       `json:"name"`
	Type        dataset.Type `json:"type"`
	Unit        string       `json:"unit,omitempty"`
	Description string       `json:"description"`
	Constraints *constraints `json:"constraints,omitempty"`
}

type constraints struct {
	Required bool     `json:"required,omitempty"`
	Enum     []string `json:"enum,omitempty"`
}

type foreignKey struct {
	Fields    []string  `json:"fields"`
	Reference reference `json:"reference"`
}

type reference struct {
	Resource string   `json:"resource"`
	Fields   []string `json:"fields"`
}

// describe returns the descriptor of a package with these resources.
func describe(o Options, resources []resource) descriptor {
	d := descriptor{
		Profile: "data-package", Name: "pointe-shoe-measurements", Title: "Measurements of pointe shoes",
		Description: "Relevés in pointe shoes on strips of pressure cells: recordings, what was measured in them, and how certain that is. README.md has the methods.",
		Resources:   resources,
	}
	if o.Licence != "" {
		d.Licenses = []licence{{o.Licence}}
	}
	if o.Creator != "" {
		d.Contributors = []contributor{{o.Creator, "author"}}
	}
	return d
}

// resource returns the resource of a file that was written.
func (m *Made) resource(f file) resource {
	if m.Schema == nil {
		return plain(f, "toml", "application/toml")
	}
	r := tabular(*m.Schema, m.Format, f)
	if m.recording != "" {
		r.Name += "-" + strings.ToLower(m.recording)
	}
	return r
}

// tabular returns the resource of a table in a format.
func tabular(s dataset.Schema, format string, f file) resource {
	r := resource{Name: s.Name, Path: f.path, Description: s.Definition, Format: format, Bytes: f.bytes, Hash: "sha256:" + f.sha256}
	if format != "csv" {
		r.Name, r.Profile, r.MediaType = s.Name+"-"+format, "data-resource", "application/vnd.apache.parquet"
		return r
	}
	r.Profile, r.MediaType, r.Encoding = "tabular-data-resource", "text/csv", "utf-8"
	r.Schema = schemaOf(s)
	return r
}

// plain returns the resource of a file that is no table.
func plain(f file, format, mediaType string) resource {
	name := strings.Map(func(r rune) rune {
		if 'a' <= r && r <= 'z' || '0' <= r && r <= '9' || r == '-' || r == '.' || r == '_' {
			return r
		}
		return '-'
	}, strings.ToLower(f.path))
	return resource{Name: name, Path: f.path, Profile: "data-resource", Format: format, MediaType: mediaType, Bytes: f.bytes, Hash: "sha256:" + f.sha256}
}

// schemaOf converts a schema to Table Schema.
func schemaOf(s dataset.Schema) *tableSchema {
	t := &tableSchema{PrimaryKey: s.Key, MissingValues: []string{""}}
	for _, f := range s.Fields {
		one := schemaField{Name: f.Name, Type: f.Type, Unit: f.Unit, Description: explained(f)}
		if f.Absent == "" || f.Values != nil {
			one.Constraints = &constraints{Required: f.Absent == "", Enum: f.Values}
		}
		t.Fields = append(t.Fields, one)
	}
	for _, r := range s.References {
		t.ForeignKeys = append(t.ForeignKeys, foreignKey{r.Fields, reference{r.Table, r.To}})
	}
	return t
}

// explained returns the definition of a field with the rest of its description.
func explained(f dataset.Field) string {
	all := []string{f.Definition}
	if f.Positive != "" {
		all = append(all, "positive "+f.Positive)
	}
	if f.Absent != "" {
		all = append(all, "absent where "+f.Absent)
	}
	return strings.Join(all, "; ")
}

// withKnownReferences drops the references to tables that are not among the resources.
func withKnownReferences(all []resource) []resource {
	for i := range all {
		if all[i].Schema == nil {
			continue
		}
		all[i].Schema.ForeignKeys = slices.DeleteFunc(all[i].Schema.ForeignKeys, func(k foreignKey) bool {
			return !slices.ContainsFunc(all, func(r resource) bool { return r.Name == k.Reference.Resource })
		})
	}
	return all
}
