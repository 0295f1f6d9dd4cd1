package export

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"time"

	"github.com/parquet-go/parquet-go"

	"aplomb/analyze/dataset"
)

// ReadTable reads a table from a file of a package. Its fields are those of the file, in
// their order; one that the schema does not have is a text.
func ReadTable(data []byte, format string, schema dataset.Schema) (dataset.Table, error) {
	t := dataset.Table{Schema: schema}
	read := readCSV
	if format == "parquet" {
		read = readParquet
	}
	err := read(data, &t)
	return t, err
}

// fieldsNamed returns the fields of a schema with these names.
func fieldsNamed(s dataset.Schema, names []string) []dataset.Field {
	all := make([]dataset.Field, len(names))
	for i, name := range names {
		all[i] = dataset.Field{Name: name, Type: dataset.Text}
		if k := slices.IndexFunc(s.Fields, func(f dataset.Field) bool { return f.Name == name }); k >= 0 {
			all[i] = s.Fields[k]
		}
	}
	return all
}

func readCSV(data []byte, t *dataset.Table) error {
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		return err
	}
	if len(rows) == 0 {
		return errors.New("it is empty")
	}
	t.Fields = fieldsNamed(t.Schema, rows[0])
	for _, texts := range rows[1:] {
		row := make([]any, len(texts))
		for i, text := range texts {
			if row[i], err = parse(t.Fields[i], text); err != nil {
				return err
			}
		}
		t.Rows = append(t.Rows, row)
	}
	return nil
}

// parse returns a value from its text in CSV, see cell.
func parse(f dataset.Field, text string) (any, error) {
	if text == "" {
		return nil, nil
	}
	switch f.Type {
	case dataset.Number:
		return strconv.ParseFloat(text, 64)
	case dataset.Integer:
		return strconv.ParseInt(text, 10, 64)
	case dataset.Boolean:
		return strconv.ParseBool(text)
	}
	return text, nil
}

// readParquet reads a table from Parquet. Its reader can panic where a file was changed.
func readParquet(data []byte, t *dataset.Table) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("no Parquet: %v", r)
		}
	}()
	p, err := parquet.OpenFile(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return err
	}
	var names []string
	for _, f := range p.Schema().Fields() {
		names = append(names, f.Name())
	}
	t.Fields = fieldsNamed(t.Schema, names)
	for _, group := range p.RowGroups() {
		rows := group.Rows()
		block := make([]parquet.Row, 64)
		for {
			n, err := rows.ReadRows(block)
			for _, values := range block[:n] {
				row := make([]any, len(t.Fields))
				for _, v := range values {
					row[v.Column()] = fromParquet(t.Fields[v.Column()], v)
				}
				t.Rows = append(t.Rows, row)
			}
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				return err
			}
		}
		if err := rows.Close(); err != nil {
			return err
		}
	}
	return nil
}

// fromParquet returns a value as a table has it, see parquetValue.
func fromParquet(f dataset.Field, v parquet.Value) any {
	switch {
	case v.IsNull():
		return nil
	case f.Type == dataset.Day:
		return time.Unix(int64(v.Int32())*24*60*60, 0).UTC().Format(time.DateOnly)
	case f.Type == dataset.Instant:
		return time.UnixMicro(v.Int64()).UTC().Format(time.RFC3339)
	case f.Type == dataset.Number:
		return v.Double()
	case f.Type == dataset.Integer:
		return v.Int64()
	case f.Type == dataset.Boolean:
		return v.Boolean()
	case v.Kind() == parquet.ByteArray:
		return string(v.ByteArray())
	}
	return v.String()
}
