package main

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze/dataset"
	"aplomb/analyze/keys"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
)

func newFields() *cobra.Command {
	var asJSON, schema bool
	cmd := &cobra.Command{
		Use:   "fields [NAME…]",
		Short: "Explain every field of tables and JSON",
		Long: `Explain every field: type, unit, definition, positive direction, values, and
when it is absent. NAME is a table that aplomb export writes, compare-csv or
track-csv for a table that --csv writes, or a command for the keys of its JSON,
with - for spaces as in dancer-list; default all. error is what a command with
--json writes to the standard error if it fails, and sim-truth what aplomb sim
--truth writes.

--schema writes the JSON Schema (draft 2020-12) of one output, by which each of
its lines is valid. Those of tables are in datapackage.json of an export.`,
		Example: `  aplomb fields releves
  aplomb fields analyze
  aplomb fields --json | jq '.tables[] | select(.table=="releves").fields'
  aplomb fields compare --schema > compare.schema.json
  aplomb fields dancer-list`,
		Args:              cobra.ArbitraryArgs,
		ValidArgsFunction: completeWords(fieldNames()...),
		RunE: func(cmd *cobra.Command, args []string) error {
			all := keys.Dictionary{Tables: append(dataset.Schemas(), dataset.Answers()...), Outputs: keys.Outputs(), Provenance: output.Provenance()}
			if err := keepNamed(&all, args); err != nil {
				return err
			}
			w := cmd.OutOrStdout()
			switch {
			case schema && (len(all.Outputs) != 1 || len(all.Tables) > 0):
				return usage.Errorf("--schema is of one output: name one of %s", strings.Join(keys.Names(), ", "))
			case schema:
				e := json.NewEncoder(w)
				e.SetEscapeHTML(false)
				e.SetIndent("", "  ")
				return e.Encode(all.Outputs[0].Schema())
			case asJSON:
				return output.JSON(w, all)
			}
			for i, s := range all.Tables {
				if i > 0 {
					fmt.Fprintln(w)
				}
				printSchema(w, s)
			}
			for i, o := range all.Outputs {
				if i > 0 || len(all.Tables) > 0 {
					fmt.Fprintln(w)
				}
				printOutput(w, o)
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	cmd.Flags().BoolVar(&schema, "schema", false, "the JSON Schema of one output")
	return cmd
}

// keepNamed keeps the tables and outputs with these names, all where there is no name.
func keepNamed(d *keys.Dictionary, names []string) error {
	for _, name := range names {
		if !slices.Contains(fieldNames(), name) {
			return usage.Errorf("%q: no such table or output: %s", name, strings.Join(fieldNames(), ", "))
		}
	}
	if len(names) > 0 {
		d.Tables = slices.DeleteFunc(d.Tables, func(s dataset.Schema) bool { return !slices.Contains(names, s.Name) })
		d.Outputs = slices.DeleteFunc(d.Outputs, func(o keys.Output) bool { return !slices.Contains(names, o.Name) })
	}
	return nil
}

// fieldNames returns the names of all tables and outputs.
func fieldNames() []string {
	all := tableNames()
	for _, s := range dataset.Answers() {
		all = append(all, s.Name)
	}
	return append(all, keys.Names()...)
}

func tableNames() []string {
	var all []string
	for _, s := range dataset.Schemas() {
		all = append(all, s.Name)
	}
	return all
}

// printSchema prints a table's definition and its fields, two lines or more a field.
func printSchema(w io.Writer, s dataset.Schema) {
	fmt.Fprintln(w, text.Wrap("Table "+s.Name+". "+s.Definition+" No two rows have the same "+strings.Join(s.Key, ", ")+"."))
	for _, f := range s.Fields {
		said := f.Definition
		if f.Positive != "" {
			said += "; positive " + f.Positive
		}
		if f.Absent != "" {
			said += "; absent where " + f.Absent
		}
		printField(w, f.Name, string(f.Type), f.Unit, said, f.Values)
	}
}

// printOutput prints the keys of an output, two lines or more a key.
func printOutput(w io.Writer, o keys.Output) {
	fmt.Fprintln(w, text.Wrap("Output of "+o.Name+". "+o.Definition+" MEASURE stands for the symbol of a measure, [] for each element."))
	for _, k := range o.Keys {
		said := k.Definition
		if k.Optional && !strings.Contains(said, "absent") {
			said += "; can be absent"
		}
		printField(w, k.Path, k.Type, k.Unit, said, k.Values)
	}
}

func printField(w io.Writer, name, kind, unit, definition string, values []string) {
	if unit != "" {
		kind += ", " + unit
	}
	fmt.Fprintf(w, "\n%s (%s)\n", name, kind)
	if values != nil {
		definition += "; one of " + strings.Join(values, ", ")
	}
	fmt.Fprintln(w, text.Wrap(definition))
}
