//go:build unix

package ports

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/wire"
)

func strip(name string, foot device.Foot) *device.Strip {
	return &device.Strip{Name: name, Foot: foot, Rows: 5, Cols: 8, ADCBits: 12}
}

var (
	l1, l2 = strip("L-01", device.Left), strip("L-02", device.Left)
	r1     = strip("R-01", device.Right)
)

// says returns a port on which strips announce themselves.
func says(port string, all ...*device.Strip) link.Heard {
	h := link.Heard{Port: port, Baud: 500000, Format: wire.Binary, Fits: all, Bytes: 100}
	for _, s := range all {
		h.Hellos = append(h.Hellos, wire.HelloOf(s, 200))
	}
	return h
}

// sends returns a port on which frames that fit strips arrive, without a hello.
func sends(port string, format wire.Format, fits ...*device.Strip) link.Heard {
	return link.Heard{Port: port, Baud: 500000, Format: format, Fits: fits, Bytes: 100}
}

func failed(port string, kind error) link.Heard {
	return link.Heard{Port: port, Err: fmt.Errorf("port %s: %w: close it first", port, kind)}
}

// matched matches strips with what was heard on the ports.
func matched(s Search, heard ...link.Heard) (Found, error) {
	f := finder{Search: s, heard: heard}
	if s.List != nil {
		f.list, _ = s.List()
	}
	for _, strip := range s.Strips {
		f.wanted[strip.Foot] = true
	}
	return f.match()
}

func TestMatch(t *testing.T) {
	pair := []*device.Strip{l1, r1}
	left := []*device.Strip{l1}
	last := []Place{{Strip: "L-01", Port: "b"}, {Strip: "R-01", Port: "a"}}
	adapters := func() ([]link.PortInfo, error) {
		return []link.PortInfo{{Name: "a", VendorID: "1a86", ProductID: "7523", SerialNumber: "L"}, {Name: "b", VendorID: "1a86", ProductID: "7523", SerialNumber: "R"}}, nil
	}
	for name, c := range map[string]struct {
		search Search
		heard  []link.Heard
		want   [2]string
		note   string
	}{
		"each says who it is":         {Search{Strips: pair}, []link.Heard{says("a", l1), says("b", r1)}, [2]string{"a", "b"}, ""},
		"swapped since last time":     {Search{Strips: pair, Last: last}, []link.Heard{says("a", l1), says("b", r1)}, [2]string{"a", "b"}, ""},
		"both on one line":            {Search{Strips: pair}, []link.Heard{{Port: "a"}, says("b", l1, r1)}, [2]string{"b", "b"}, ""},
		"one foot is wanted":          {Search{Strips: left}, []link.Heard{says("a", r1), says("b", l1)}, [2]string{"b", ""}, ""},
		"the strip that is there":     {Search{Strips: []*device.Strip{l1, l2, r1}}, []link.Heard{says("a", r1), says("b", l2)}, [2]string{"b", "a"}, ""},
		"frames name the foot":        {Search{Strips: pair}, []link.Heard{sends("a", wire.Binary, r1), sends("b", wire.Binary, l1)}, [2]string{"b", "a"}, "whose frames fit it"},
		"frames of both on one line":  {Search{Strips: pair}, []link.Heard{sends("a", wire.Binary, l1, r1)}, [2]string{"a", "a"}, "whose frames fit it"},
		"one says, one is left":       {Search{Strips: pair}, []link.Heard{says("a", r1), sends("b", wire.Text, l1, r1)}, [2]string{"b", "a"}, "strip L-01 does not announce itself"},
		"text, where they were last":  {Search{Strips: pair, Last: last}, []link.Heard{sends("a", wire.Text, l1, r1), sends("b", wire.Text, l1, r1)}, [2]string{"b", "a"}, "as last time"},
		"text, one where it was last": {Search{Strips: pair, Last: last[:1]}, []link.Heard{sends("a", wire.Text, l1, r1), sends("b", wire.Text, l1, r1)}, [2]string{"b", "a"}, "as last time"},
		"an adapter counts before the name": {Search{Strips: pair, List: adapters, Last: []Place{{"L-01", "b", 0, "1a86:7523 L"}, {"R-01", "a", 0, "1a86:7523 R"}}},
			[]link.Heard{sends("a", wire.Text, l1, r1), sends("b", wire.Text, l1, r1)}, [2]string{"a", "b"}, "as last time"},
		"a person says which strip": {Search{Strips: []*device.Strip{l1, l2}, Choose: func(_ string, options []string) (int, error) {
			assert.Equal(t, []string{"strip L-01 on a", "strip L-02 on b"}, options)
			return 1, nil
		}}, []link.Heard{says("a", l1), says("b", l2)}, [2]string{"b", ""}, ""},
		"a person says which port": {Search{Strips: pair, Choose: func(string, []string) (int, error) { return 0, nil }},
			[]link.Heard{sends("a", wire.Text, l1, r1), sends("b", wire.Text, l1, r1)}, [2]string{"a", "b"}, ""},
	} {
		found, err := matched(c.search, c.heard...)
		if assert.NoError(t, err, name) {
			assert.Equal(t, c.want, found.Ports, name)
			assert.Equal(t, 500000, found.Baud, name)
			if c.note == "" && name != "a person says which port" {
				assert.Empty(t, found.Notes, name)
			}
			assert.Contains(t, strings.Join(found.Notes, "\n"), c.note, name)
			for f, s := range found.Strips {
				assert.Equal(t, c.want[f] != "", s != nil, name)
			}
		}
	}
	found, err := matched(Search{Strips: []*device.Strip{l1, l2, r1}, List: adapters}, says("a", r1), says("b", l2))
	require.NoError(t, err)
	assert.Equal(t, [2]*device.Strip{l2, r1}, found.Strips)
	for i, p := range found.Places {
		assert.True(t, filepath.IsAbs(p.Port))
		found.Places[i].Port = filepath.Base(p.Port)
	}
	assert.Equal(t, []Place{{"L-02", "b", 500000, "1a86:7523 R"}, {"R-01", "a", 500000, "1a86:7523 L"}}, found.Places)
}

// Every error is one line that states what was heard and what to do.
func TestNotMatched(t *testing.T) {
	pair := []*device.Strip{l1, r1}
	wide := strip("R-01", device.Right)
	wide.Cols = 9
	fast := says("b", r1)
	fast.Baud = 921600
	nobody := errors.New("nobody answers")
	for name, c := range map[string]struct {
		search Search
		heard  []link.Heard
		is     []error
		want   string
	}{
		"nothing comes": {Search{Strips: pair}, []link.Heard{{Port: "a"}, {Port: "b"}}, []error{ErrNone, link.ErrSilent},
			"no strip found: nothing of L-01 (left) or R-01 (right): port a, b: no data: is the strip switched on?"},
		"one strip only": {Search{Strips: pair}, []link.Heard{says("a", l1)}, []error{ErrOne},
			"one strip only: strip L-01 (left) on a, nothing of R-01 (right): there is no other serial port: plug the strip in; aplomb record --strip L-01 records that foot alone"},
		"the other is silent": {Search{Strips: pair}, []link.Heard{{Port: "a"}, says("b", r1)}, []error{ErrOne, link.ErrSilent},
			"one strip only: strip R-01 (right) on b, nothing of L-01 (left): port a: no data: is the strip switched on?; aplomb record --strip R-01 records that foot alone"},
		"the other is busy": {Search{Strips: pair}, []link.Heard{says("a", l1), failed("b", link.ErrBusy), {Port: "c"}, {Port: "d"}, {Port: "e"}, {Port: "f"}}, []error{ErrOne, link.ErrBusy},
			"one strip only: strip L-01 (left) on a, nothing of R-01 (right): port b: busy: close it first; no data on 4 more ports; aplomb record --strip L-01 records that foot alone"},
		"a stranger, noise, another modem and a port without permission": {Search{Strips: pair},
			[]link.Heard{{Port: "a", Bytes: 7}, failed("b", link.ErrPermission), sends("c", wire.Text), says("d", strip("T-9", device.Left))}, []error{ErrNone, link.ErrWrongStrip},
			`no strip found: nothing of L-01 (left) or R-01 (right): port d: strip "T-9" of the left foot, which is none of these: aplomb strip new --port d enters it; port a: data that is of no strip, or at another speed (--baud); 2 more ports with something else`},
		"another grid": {Search{Strips: pair}, []link.Heard{says("a", l1), says("b", wide)}, []error{ErrOne, link.ErrWrongStrip},
			"one strip only: strip L-01 (left) on a, nothing of R-01 (right): port b: the strip says rows × cols 5 × 9, its profile 5 × 8: give the profile of this strip with --strip, or correct it; aplomb record --strip L-01 records that foot alone"},
		"the other foot": {Search{Strips: pair}, []link.Heard{says("a", l1), says("b", strip("R-01", device.Left))}, []error{ErrOne, link.ErrWrongFoot},
			"one strip only: strip L-01 (left) on a, nothing of R-01 (right): port b: strip R-01 says that it is under the left foot, its profile says right: correct the profile or the firmware; aplomb record --strip L-01 records that foot alone"},
		"two of one name": {Search{Strips: pair}, []link.Heard{says("a", l1), says("b", l1)}, []error{ErrUnclear},
			"not clear which strip: ports a and b: both strips say that they are L-01 of the left foot: unplug one, or give it another name and foot in its firmware (aplomb guide setup)"},
		"two of one foot": {Search{Strips: []*device.Strip{l1, l2, r1}}, []link.Heard{says("a", l1), says("b", l2), says("c", r1)}, []error{ErrUnclear},
			"not clear which strip: several strips of the left foot are plugged in: strip L-01 on a, strip L-02 on b: unplug one, or say which with --strip"},
		"two that do not say": {Search{Strips: pair}, []link.Heard{sends("a", wire.Text, l1, r1), sends("b", wire.Text, l1, r1)}, []error{ErrUnclear},
			"not clear which strip: frames come from strips that do not say who they are: strip L-01 on a or strip L-01 on b is possible: name the ports once with --left and --right, and they are remembered"},
		"one that does not say": {Search{Strips: pair}, []link.Heard{sends("a", wire.Text, l1, r1)}, []error{ErrNone},
			"no strip found: nothing of L-01 (left) or R-01 (right): port a: frames of a strip that does not say who it is: name the port once with --left or --right, and it is remembered"},
		"two speeds": {Search{Strips: pair}, []link.Heard{says("a", l1), fast}, nil,
			"strip L-01 sends at 500000 bits a second, strip R-01 at 921600: give both the same speed in their firmware"},
		"nobody answers": {Search{Strips: []*device.Strip{l1, l2}, Choose: func(string, []string) (int, error) { return 0, nobody }},
			[]link.Heard{says("a", l1), says("b", l2)}, []error{nobody}, "nobody answers"},
	} {
		_, err := matched(c.search, c.heard...)
		assert.EqualError(t, err, c.want, name)
		for _, kind := range c.is {
			assert.ErrorIs(t, err, kind, name)
		}
	}
}
