package main

import (
	"fmt"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"aplomb/device/link"
)

func newPorts() *cobra.Command {
	return &cobra.Command{
		Use:     "ports",
		Short:   "List serial ports, with what is known of each",
		Example: `  aplomb ports`,
		Args:    none,
		RunE: func(cmd *cobra.Command, args []string) error {
			ports, err := link.Ports()
			if err != nil {
				return err
			}
			if len(ports) == 0 {
				fmt.Fprintln(cmd.ErrOrStderr(), "no serial port: plug a strip in; on Linux, see whether the system noticed with: dmesg | tail")
				return errNo
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
