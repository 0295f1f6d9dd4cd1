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

// Place is the last known port of a strip.
type Place struct {
	Strip   string `toml:"strip"` // its name
	Port    string `toml:"port"`
	Baud    int    `toml:"baud"`
	Adapter string `toml:"adapter,omitempty"` // of USB: vendor, product and serial number; "" where there is no number
}

// is reports whether it is the place of a strip.
func (p Place) is(s *device.Strip) bool { return p.Strip == s.Name }

// PlaceOf returns the place of the strip with that name at a port. list contains the
// ports of this machine with their adapters. The name of a port that is a file is made
// absolute.
func PlaceOf(strip, port string, baud int, list []link.PortInfo) Place {
	p := Place{strip, port, baud, adapterOf(port, list)}
	if abs, err := filepath.Abs(port); err == nil && runtime.GOOS != "windows" {
		p.Port = abs
	}
	return p
}

// adapterOf returns the identification of a port's USB adapter, "" where there is none.
func adapterOf(port string, list []link.PortInfo) string {
	for _, p := range list {
		if p.SerialNumber != "" && link.SamePort(p.Name, port) {
			return fmt.Sprintf("%s:%s %s", p.VendorID, p.ProductID, p.SerialNumber)
		}
	}
	return ""
}

// remembered is the name of the file in the folder of the logbook that stores places. It
// contains nothing about dancers, is not part of a backup, and is not needed by the
// logbook.
const remembered = "ports.toml"

// memory is the content of the file.
type memory struct {
	Places []Place `toml:"last"`
}

// Read returns the places stored in the folder of a logbook, none where there is no such
// file.
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

// Keep stores places in the folder of an existing logbook, readable by its owner alone.
// Those of other strips are kept, except strips at the same place, unless one line
// carries both.
func Keep(dir string, found []Place) error {
	path := filepath.Join(dir, remembered)
	before, err := Read(dir)
	if err != nil {
		before = nil // it is written again
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
