package recording

import (
	"cmp"
	"errors"
	"fmt"
	"strconv"
	"time"

	"github.com/foxglove/mcap/go/mcap"

	"aplomb/device"
)

// Meta explains a recording: who, when, on what and how.
type Meta struct {
	Dancer   string // a code, never a name
	Visit    string // which visit of the dancer's it was made in, "" where nobody keeps visits
	Started  time.Time
	Software string // what wrote the recording, with its version
	Support  string // barre, hand, none
	Rise     string // roll-up, spring, step
	Position string
	Floor    string
	MassKG   float64  // 0 where it is not known
	Sides    [2]*Side // by device.Foot; nil for a foot without a strip
}

// Side is what was under one foot.
type Side struct {
	Strip    *device.Strip
	Shoe     *device.Shoe
	Mounting string // names one fixing of the strip under the shoe
	Clock    string // whose clock Frame.TimeUS is: strip, or host where the strip has none
	Format   string // what the frames came as: binary, text, csv
	Baud     int    // of the line they came on, bits a second; 0 where it is not known
}

// Check reports what keeps m from describing a recording.
func (m Meta) Check() error {
	if m.Sides == [2]*Side{} {
		return errors.New("a recording needs a strip on at least one foot")
	}
	for _, foot := range device.Feet {
		s := m.Sides[foot]
		switch {
		case s == nil:
			continue
		case s.Strip == nil || s.Shoe == nil:
			return fmt.Errorf("%s foot: a recording needs its strip and its shoe", foot)
		case s.Strip.Foot != foot:
			return fmt.Errorf("%s foot: strip %s is for the %s foot", foot, s.Strip.Name, s.Strip.Foot)
		}
		if err := cmp.Or(s.Strip.Check(), s.Shoe.Check()); err != nil {
			return fmt.Errorf("%s foot: %w", foot, err)
		}
	}
	return nil
}

const (
	profile = "aplomb"
	// version is the version of everything doc.go says. A reader refuses what is newer.
	version = 1
	// about is the name of the metadata record that concerns the whole
	// recording; those of the feet go by the name of the foot.
	about = "recording"
)

// records returns m as the metadata records of a file. What is empty is absent.
func (m Meta) records() []*mcap.Metadata {
	all := map[string]string{
		"version":  strconv.Itoa(version),
		"dancer":   m.Dancer,
		"visit":    m.Visit,
		"started":  m.Started.UTC().Format(time.RFC3339Nano),
		"software": m.Software,
		"support":  m.Support,
		"rise":     m.Rise,
		"position": m.Position,
		"floor":    m.Floor,
	}
	if m.MassKG != 0 {
		all["mass_kg"] = strconv.FormatFloat(m.MassKG, 'f', -1, 64)
	}
	out := []*mcap.Metadata{{Name: about, Metadata: filled(all)}}
	for _, foot := range device.Feet {
		if s := m.Sides[foot]; s != nil {
			out = append(out, &mcap.Metadata{Name: foot.String(), Metadata: filled(map[string]string{
				"strip":    device.TOML(s.Strip),
				"shoe":     device.TOML(s.Shoe),
				"mounting": s.Mounting,
				"clock":    s.Clock,
				"format":   s.Format,
				"baud":     count(s.Baud),
			})})
		}
	}
	return out
}

// count writes a number of which 0 says nothing.
func count(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func filled(m map[string]string) map[string]string {
	for k, v := range m {
		if v == "" {
			delete(m, k)
		}
	}
	return m
}

// parseMeta reads what records wrote, by name of the record.
func parseMeta(records map[string]map[string]string) (m Meta, err error) {
	all, ok := records[about]
	if !ok {
		return m, errors.New("holds no description of a recording")
	}
	if v, err := strconv.Atoi(all["version"]); err != nil || v < 1 {
		return m, fmt.Errorf("version %.40q of the description is not a number", all["version"])
	} else if v > version {
		return m, fmt.Errorf("written in version %d of the format, this program reads up to %d: use a newer one", v, version)
	}
	m = Meta{
		Dancer: all["dancer"], Visit: all["visit"], Software: all["software"], Support: all["support"],
		Rise: all["rise"], Position: all["position"], Floor: all["floor"],
	}
	if m.Started, err = time.Parse(time.RFC3339Nano, all["started"]); err != nil {
		return m, fmt.Errorf("start %.40q in the description is not a time", all["started"])
	}
	if s, ok := all["mass_kg"]; ok {
		if m.MassKG, err = strconv.ParseFloat(s, 64); err != nil {
			return m, fmt.Errorf("mass_kg %.40q in the description is not a number", s)
		}
	}
	for _, foot := range device.Feet {
		r, ok := records[foot.String()]
		if !ok {
			continue
		}
		s := &Side{Mounting: r["mounting"], Clock: r["clock"], Format: r["format"]}
		if b, ok := r["baud"]; ok {
			if s.Baud, err = strconv.Atoi(b); err != nil || s.Baud < 0 {
				return m, fmt.Errorf("baud %.40q of the %s foot in the description is not a speed", b, foot)
			}
		}
		if s.Strip, err = device.ParseStrip("strip of the "+foot.String()+" foot", []byte(r["strip"])); err != nil {
			return m, err
		}
		if s.Shoe, err = device.ParseShoe("shoe of the "+foot.String()+" foot", []byte(r["shoe"])); err != nil {
			return m, err
		}
		m.Sides[foot] = s
	}
	return m, m.Check()
}
