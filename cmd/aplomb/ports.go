package main

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/document"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device/link"
	"aplomb/device/wire"
	"aplomb/plots/words"
)

func newPorts(o environment) *cobra.Command {
	var listen bool
	var baud int
	var asJSON *bool
	cmd := &cobra.Command{
		Use:   "ports",
		Short: "List serial ports, with what is known of each",
		Long: `List serial ports, with what is known of each.

--listen also listens to every port for a few seconds and says which strip is on
it. If it receives bytes that it cannot read, it tries other speeds.

The exit status is 1 if there is none.`,
		Example: `  aplomb ports
  aplomb ports --listen
  aplomb record --left $(aplomb ports --json | jq -r '.ports[0].port') …`,
		Args:              noArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := checkBaud(baud); err != nil {
				return err
			}
			if cmd.Flags().Changed("baud") && !listen {
				return usage.Errorf("--baud is of --listen: say that too")
			}
			bauds := link.Bauds[:]
			if cmd.Flags().Changed("baud") {
				bauds = []int{baud}
			}
			list, err := o.ports()
			if err != nil {
				return err
			}
			if len(list) == 0 {
				return &console.Remedy{Err: errors.New("no serial port"), Do: "plug a strip in; on Linux, dmesg | tail shows whether the system noticed"}
			}
			headings := []string{"port", "product", "usb id", "serial number"}
			var heard []link.Heard
			if listen {
				headings = append(headings, "strip")
				heard = listenTo(cmd, list, bauds)
				if err := cmd.Context().Err(); err != nil {
					return err
				}
			}
			if *asJSON {
				return output.JSON(cmd.OutOrStdout(), portsJSON(list, heard))
			}
			var rows [][]string
			for i, p := range list {
				id := ""
				if p.VendorID != "" {
					id = p.VendorID + ":" + p.ProductID
				}
				row := []string{p.Name, p.Product, id, p.SerialNumber}
				if listen {
					row = append(row, onPort(&heard[i]))
				}
				rows = append(rows, row)
			}
			text.Table(cmd.OutOrStdout(), headings, rows)
			return nil
		},
	}
	asJSON = jsonFlag(cmd)
	cmd.Flags().BoolVar(&listen, "listen", false, "find which strip is on each port")
	cmd.Flags().IntVar(&baud, "baud", link.DefaultBaud, "with --listen: the speed of the ports, `BITS` a second; default the likely ones")
	hideDefaults(cmd, "baud")
	return cmd
}

// portsJSON returns the ports of a list with the results of listening on each, nil where
// that was not done.
func portsJSON(list []link.PortInfo, heard []link.Heard) document.Ports {
	all := document.Ports{Ports: []document.Port{}, Provenance: output.Provenance()}
	for i, p := range list {
		one := document.Port{Port: p.Name, Product: p.Product, VendorID: p.VendorID, ProductID: p.ProductID, SerialNumber: p.SerialNumber}
		if heard != nil {
			one.Heard, one.Baud = onPort(&heard[i]), heard[i].Baud
			for _, s := range heard[i].Hellos {
				one.Strips = append(one.Strips, document.PortStrip{Strip: s.Strip, Foot: s.Foot, Rows: s.Rows, Columns: s.Cols, RateHz: s.RateHz, ADCBits: s.ADCBits})
			}
		}
		all.Ports = append(all.Ports, one)
	}
	return all
}

// listenTo listens to the ports of a list until a strip has announced itself on each, or
// for some seconds.
func listenTo(cmd *cobra.Command, list []link.PortInfo, bauds []int) []link.Heard {
	l := link.Listening{Bauds: bauds}
	for _, p := range list {
		l.Ports = append(l.Ports, p.Name)
	}
	progress := console.NewProgress(cmd.ErrOrStderr())
	defer progress.Clear()
	l.Enough = func(heard []link.Heard, _ time.Duration) bool {
		n := 0
		for i := range heard {
			if len(heard[i].Hellos) > 0 {
				n++
			}
		}
		progress.Show("listening to %s, a strip on %d", words.Count(len(heard), "port", "ports"), n)
		return false // both strips of one line are to be heard
	}
	return link.Listen(cmd.Context(), l)
}

// onPort describes the strip on a port, or what else was received on it.
func onPort(h *link.Heard) string {
	var all []string
	for _, s := range h.Hellos {
		all = append(all, fmt.Sprintf("%s, %s, %d × %d cells, %d bits, %s frames a second, at %d baud", text.Plain(s.Strip), s.Foot, s.Rows, s.Cols, s.ADCBits, text.Trimmed(s.RateHz), h.Baud))
	}
	switch {
	case len(all) > 0:
		return strings.Join(all, "; ")
	case h.Err != nil:
		return h.Err.Error()
	case h.Format != wire.Unknown:
		return fmt.Sprintf("frames without a name, at %d baud", h.Baud)
	case h.Bytes > 0:
		return "data that cannot be read"
	}
	return "no data"
}
