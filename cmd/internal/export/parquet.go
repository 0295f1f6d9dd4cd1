package export

import (
	"fmt"
	"io"
	"reflect"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/compress/zstd"

	"aplomb/analyze/dataset"
)

// columnTypes holds the Go type and the options of a column of each type. Every column is
// optional, so that later rows may lack values that all present rows have.
var columnTypes = map[dataset.Type]struct {
	goType  reflect.Type
	options string
}{
	dataset.Text:    {reflect.TypeFor[string](), ",optional,dict"},
	dataset.Integer: {reflect.TypeFor[int64](), ",optional"},
	dataset.Number:  {reflect.TypeFor[float64](), ",optional"},
	dataset.Boolean: {reflect.TypeFor[bool](), ",optional"},
	dataset.Day:     {reflect.TypeFor[int32](), ",optional,date"},
	dataset.Instant: {reflect.TypeFor[int64](), ",optional,timestamp(microsecond)"},
}

// writeParquet writes a table as Parquet, its columns in the order of the fields.
func writeParquet(w io.Writer, t dataset.Table) error {
	fields := make([]reflect.StructField, len(t.Fields))
	for i, f := range t.Fields {
		c := columnTypes[f.Type]
		fields[i] = reflect.StructField{Name: fmt.Sprintf("F%d", i), Type: c.goType, Tag: reflect.StructTag(`parquet:"` + f.Name + c.options + `"`)}
	}
	options := []parquet.WriterOption{
		parquet.SchemaOf(reflect.New(reflect.StructOf(fields)).Interface()),
		parquet.Compression(&zstd.Codec{}), parquet.CreatedBy("aplomb", "", ""),
	}
	p := parquet.NewWriter(w, options...)
	for _, values := range t.Rows {
		row := make(parquet.Row, len(values))
		for i, v := range values {
			one, err := parquetValue(t.Fields[i], v)
			if err != nil {
				return err
			}
			level := 1
			if one.IsNull() {
				level = 0
			}
			row[i] = one.Level(0, level, i)
		}
		if _, err := p.WriteRows([]parquet.Row{row}); err != nil {
			return err
		}
	}
	return p.Close()
}

// parquetValue returns a value in Parquet's representation: a day in days and an instant
// in µs since 1970.
func parquetValue(f dataset.Field, v any) (parquet.Value, error) {
	text, isText := v.(string)
	switch {
	case v == nil:
		return parquet.NullValue(), nil
	case isText && f.Type == dataset.Day:
		day, err := time.Parse(time.DateOnly, text)
		return parquet.Int32Value(int32(day.Unix() / (24 * 60 * 60))), err
	case isText && f.Type == dataset.Instant:
		at, err := time.Parse(time.RFC3339, text)
		return parquet.Int64Value(at.UnixMicro()), err
	}
	return parquet.ValueOf(v), nil
}
