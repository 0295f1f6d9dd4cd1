package ports

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"github.com/BurntSushi/toml"

	"aplomb/cmd/internal/files"
	"aplomb/device"
	"aplomb/device/link"
)

// Place is where a strip was last.
type Place struct {
	Strip   string `toml:"strip"` // its name
	Port    string `toml:"port"`
	Baud    int    `toml:"baud"`
	Adapter string `toml:"adapter,omitempty"` // of USB: vendor, product and serial number; "" where there is no number
}

// is reports whether it is the place of a strip.
func (p Place) is(s *device.Strip) bool { return p.Strip == s.Name }

// PlaceOf returns the place of the strip with that name at a port. list is that of the
// ports of this machine, which names the adapter. The name of a port that is a file is
// made absolute.
func PlaceOf(strip, port string, baud int, list []link.PortInfo) Place {
	p := Place{strip, port, baud, adapterOf(port, list)}
	if abs, err := filepath.Abs(port); err == nil && runtime.GOOS != "windows" {
		p.Port = abs
	}
	return p
}

// adapterOf returns what tells the USB adapter of a port from others, "" where nothing
// does.
func adapterOf(port string, list []link.PortInfo) string {
	for _, p := range list {
		if p.SerialNumber != "" && link.SamePort(p.Name, port) {
			return fmt.Sprintf("%s:%s %s", p.VendorID, p.ProductID, p.SerialNumber)
		}
	}
	return ""
}

// remembered is the name of the file in the folder of the logbook that remembers places.
// It says nothing of dancers. A backup does not hold it, and the logbook does not need it.
const remembered = "ports.toml"

// memory is the content of the file.
type memory struct {
	Places []Place `toml:"last"`
}

// Read returns the places that the folder of a logbook remembers, none where there is no
// file of them.
func Read(dir string) ([]Place, error) {
	path := filepath.Join(dir, remembered)
	var m memory
	_, err := toml.DecodeFile(path, &m)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, nil
	case err != nil:
		return nil, fmt.Errorf("%s, which remembers the ports of strips, cannot be read: remove it: %s", path, strings.TrimPrefix(err.Error(), "toml: "))
	}
	return m.Places, nil
}

// Keep puts places into the folder of a logbook that exists, readable by its owner alone.
// Those of other strips stay; no two strips stay at one place, but where one line carries
// both.
func Keep(dir string, found []Place) error {
	path := filepath.Join(dir, remembered)
	before, err := Read(dir)
	if err != nil {
		before = nil // it is written anew
	}
	kept := slices.DeleteFunc(slices.Clone(before), func(p Place) bool {
		return slices.ContainsFunc(found, func(q Place) bool {
			return p.Strip == q.Strip || p.Port == q.Port || p.Adapter != "" && p.Adapter == q.Adapter
		})
	})
	now := memory{append(slices.Clone(found), kept...)}
	if err == nil && slices.Equal(now.Places, before) {
		return nil
	}
	if _, err := os.Stat(dir); err != nil {
		return err
	}
	return files.Access{}.Write(path, func(w io.Writer) error {
		if _, err := io.WriteString(w, "# Where aplomb found each strip last. It may be removed: the strips are then searched for anew.\n"); err != nil {
			return err
		}
		e := toml.NewEncoder(w)
		e.Indent = ""
		return e.Encode(now)
	})
}
