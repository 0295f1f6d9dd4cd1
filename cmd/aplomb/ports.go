package main

import (
	"errors"
	"fmt"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"aplomb/device/link"
)

func newPorts() *cobra.Command {
	return &cobra.Command{
		Use:   "ports",
		Short: "List serial ports, with what is known of each",
		Long: `List serial ports, with what is known of each.

Exit status 1 where there is none.`,
		Example: `  aplomb ports
  aplomb record --left $(aplomb ports | awk 'NR == 2 {print $1}') …`,
		Args:              noArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, args []string) error {
			ports, err := link.Ports()
			if err != nil {
				return err
			}
			if len(ports) == 0 {
				return errors.New("no serial port: plug a strip in; on Linux, dmesg | tail shows whether the system noticed")
			}
			t := tabwriter.NewWriter(cmd.OutOrStdout(), 0, 0, 2, ' ', 0)
			fmt.Fprintln(t, "port\tproduct\tusb id\tserial number")
			for _, p := range ports {
				id := ""
				if p.VendorID != "" {
					id = p.VendorID + ":" + p.ProductID
				}
				fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", p.Name, p.Product, id, p.SerialNumber)
			}
			return t.Flush()
		},
	}
}
