package main

import (
	"github.com/spf13/cobra"

	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/intake"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/ports"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/link"
)

// findStrips finds the ports of strips, and sets ports, speed and strips. It returns
// notes for the user on how they were recognized. choose asks the user where several
// strips are possible; where it is nil that is an error.
func findStrips(cmd *cobra.Command, o environment, s *intake.Setup, strips []*device.Strip, opt *link.Options, choose func(string, []string) (int, error)) (notes []string, err error) {
	last, err := rememberedPorts(&s.Logbook)
	if err != nil {
		notes = append(notes, err.Error())
	}
	progress := console.NewProgress(cmd.ErrOrStderr())
	search := ports.Search{Strips: strips, Last: last, List: o.ports, Choose: choose, Progress: func(line string) { progress.Show("%s", line) }}
	if cmd.Flags().Changed("baud") {
		search.Baud = opt.Baud
	}
	found, err := o.find(cmd.Context(), search)
	progress.Clear()
	if err != nil {
		return nil, err
	}
	opt.Ports, opt.Baud = found.Ports, found.Baud
	s.UseStrips(found.Strips)
	return append(notes, found.Notes...), nil
}

// rememberedPorts returns the ports of strips stored with the logbook, if there is one.
func rememberedPorts(folder *lookup.Folder) ([]ports.Place, error) {
	if !folder.Exists() {
		return nil, nil
	}
	dir, err := folder.Dir()
	if err != nil {
		return nil, err
	}
	return ports.Read(dir)
}

// notRemembered is the beginning of the warning that rememberPorts has failed.
const notRemembered = "the ports of the strips are not remembered: "

// rememberPorts stores in the folder of the logbook the ports of the strips of a
// recording.
func rememberPorts(folder *lookup.Folder, o environment, opt link.Options, m *device.Metadata) error {
	dir, err := folder.Dir()
	if err != nil {
		return err
	}
	list, _ := o.ports() // a port is stored by its name where its adapter is unknown
	var places []ports.Place
	for f, side := range m.Sides {
		if side != nil {
			places = append(places, ports.PlaceOf(side.Strip.Name, opt.Ports[f], opt.Baud, list))
		}
	}
	return ports.Keep(dir, places)
}

// checkPorts returns a usage error for a port without a strip, or a strip without a
// port.
func checkPorts(named [2]string, m *device.Metadata) error {
	for _, f := range device.Feet {
		if named[f] != "" && m.Sides[f] == nil {
			return usage.Errorf("--%s %s: no --strip for the %s foot", f, named[f], f)
		}
	}
	for _, f := range device.Feet {
		if named[f] == "" && m.Sides[f] != nil {
			return usage.Errorf("strip %s is for the %s foot, but there is no --%s PORT (see aplomb ports)", m.Sides[f].Strip.Name, f, f)
		}
	}
	return nil
}
