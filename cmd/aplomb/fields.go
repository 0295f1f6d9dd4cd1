package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze/dataset"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
)

func newFields() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "fields [TABLE…]",
		Short: "Say what every field of the exported tables means",
		Long: `Say what every field of the exported tables means: type, unit, definition, the
direction in which it is positive, its values, and when a row has none. The
tables are those of aplomb export.`,
		Example: `  aplomb fields
  aplomb fields releves
  aplomb fields --json | jq '.[] | select(.table=="releves").fields[].name'`,
		Args:              cobra.ArbitraryArgs,
		ValidArgsFunction: completeWords(tableNames()...),
		RunE: func(cmd *cobra.Command, args []string) error {
			schemas, err := schemasNamed(args)
			if err != nil {
				return err
			}
			if asJSON {
				return output.JSON(cmd.OutOrStdout(), schemas)
			}
			for i, s := range schemas {
				if i > 0 {
					fmt.Fprintln(cmd.OutOrStdout())
				}
				printSchema(cmd.OutOrStdout(), s)
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "one JSON array, an object a table")
	return cmd
}

// schemasNamed returns the schemas of the tables with these names, of all where there is
// no name.
func schemasNamed(names []string) ([]dataset.Schema, error) {
	if len(names) == 0 {
		return dataset.Schemas(), nil
	}
	var found []dataset.Schema
	for _, name := range names {
		before := len(found)
		for _, s := range dataset.Schemas() {
			if s.Name == name {
				found = append(found, s)
			}
		}
		if len(found) == before {
			return nil, usage.Errorf("%q: no such table: %s", name, strings.Join(tableNames(), ", "))
		}
	}
	return found, nil
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
	fmt.Fprintln(w, text.Wrap(s.Name+": "+s.Definition))
	fmt.Fprintln(w, text.Wrap("No two rows have the same "+strings.Join(s.Key, ", ")+"."))
	for _, f := range s.Fields {
		unit := ""
		if f.Unit != "" {
			unit = ", " + f.Unit
		}
		fmt.Fprintf(w, "\n%s (%s%s)\n", f.Name, f.Type, unit)
		said := f.Definition
		if f.Positive != "" {
			said += "; positive " + f.Positive
		}
		if f.Values != nil {
			said += "; one of " + strings.Join(f.Values, ", ")
		}
		if f.Absent != "" {
			said += "; absent where " + f.Absent
		}
		fmt.Fprintln(w, text.Wrap(said))
	}
}
