package recording

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"maps"
	"slices"
	"strconv"
	"time"

	"github.com/foxglove/mcap/go/mcap"

	"aplomb/device"
	"aplomb/device/internal/errkind"
)

const (
	profile = "aplomb"
	// version is the version of the format that doc.go describes. A reader refuses a newer one.
	version = 1
	// recordingRecord is the name of the metadata record about the whole
	// recording; that of a foot has the foot's name.
	recordingRecord = "recording"
	// writerRecord is the name of the metadata record that says which process writes a
	// live recording. Only the .part has it.
	writerRecord = "writer"
)

// metadataRecords returns the metadata records of a file that describe m.
// Empty values are left out.
func metadataRecords(m device.Metadata) []*mcap.Metadata {
	about := map[string]string{
		"version":  strconv.Itoa(version),
		"dancer":   m.Dancer,
		"visit":    m.Visit,
		"started":  m.Started.UTC().Format(time.RFC3339Nano),
		"software": m.Software,
		"support":  m.Support,
		"rise":     m.Rise,
		"position": m.Position,
		"floor":    m.Floor,
		"feedback": m.Feedback,
	}
	if m.MassKG != 0 {
		about["mass_kg"] = strconv.FormatFloat(m.MassKG, 'f', -1, 64)
	}
	out := []*mcap.Metadata{{Name: recordingRecord, Metadata: withoutEmpty(about)}}
	for _, foot := range device.Feet {
		if s := m.Sides[foot]; s != nil {
			out = append(out, &mcap.Metadata{Name: foot.String(), Metadata: withoutEmpty(map[string]string{
				"strip":    device.TOML(s.Strip),
				"shoe":     device.TOML(s.Shoe),
				"mark":     nonzero(s.Mark),
				"padding":  s.Padding,
				"mounting": s.Mounting,
				"fixing":   s.Fixing,
				"clock":    s.Clock,
				"format":   s.Format,
				"baud":     nonzero(s.Baud),
			})})
		}
	}
	out[0].Metadata[checksumKey] = descriptionSum(byName(out))
	return out
}

// checksumKey is the key of the metadata record recording that holds the checksum of
// the description.
const checksumKey = "checksum"

func byName(records []*mcap.Metadata) map[string]map[string]string {
	all := map[string]map[string]string{}
	for _, r := range records {
		all[r.Name] = r.Metadata
	}
	return all
}

// descriptionSum returns the checksum of a description, given by record, in the form
// that doc.go describes.
func descriptionSum(records map[string]map[string]string) string {
	sum := crc32.NewIEEE()
	add := func(s string) {
		sum.Write(binary.LittleEndian.AppendUint32(nil, uint32(len(s))))
		io.WriteString(sum, s)
	}
	for _, name := range []string{recordingRecord, device.Left.String(), device.Right.String()} {
		values, ok := records[name]
		if !ok {
			continue
		}
		add(name)
		for _, key := range slices.Sorted(maps.Keys(values)) {
			if name != recordingRecord || key != checksumKey {
				add(key)
				add(values[key])
			}
		}
	}
	return fmt.Sprintf("%08x", sum.Sum32())
}

// checkDescription reports whether a description has a checksum. It returns an error
// where that does not match.
func checkDescription(records map[string]map[string]string) (has bool, err error) {
	want, has := records[recordingRecord][checksumKey]
	if has && want != descriptionSum(records) {
		return true, errkind.With(ErrDamaged, errors.New("damaged: its description is not as it was written, so that strip, shoe and dancer cannot be relied on: copy it again"))
	}
	return has, nil
}

// nonzero returns n in decimal, "" for 0.
func nonzero(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// withoutEmpty removes the empty values of m and returns m.
func withoutEmpty(m map[string]string) map[string]string {
	for k, v := range m {
		if v == "" {
			delete(m, k)
		}
	}
	return m
}

// parseMetadata reads what metadataRecords wrote. The records are given by name.
func parseMetadata(records map[string]map[string]string) (m device.Metadata, err error) {
	about, ok := records[recordingRecord]
	if !ok {
		return m, errors.New("holds no description of a recording")
	}
	if v, err := strconv.Atoi(about["version"]); err != nil || v < 1 {
		return m, fmt.Errorf("version %.40q of the description is not a number", about["version"])
	} else if v > version {
		return m, errkind.With(ErrNewer, fmt.Errorf("written in version %d of the format, this program reads up to %d: use a newer one", v, version))
	}
	m = device.Metadata{
		Dancer: about["dancer"], Visit: about["visit"], Software: about["software"], Support: about["support"],
		Rise: about["rise"], Position: about["position"], Floor: about["floor"], Feedback: about["feedback"],
	}
	if m.Started, err = time.Parse(time.RFC3339Nano, about["started"]); err != nil {
		return m, fmt.Errorf("start %.40q in the description is not a time", about["started"])
	}
	if s, ok := about["mass_kg"]; ok {
		if m.MassKG, err = strconv.ParseFloat(s, 64); err != nil {
			return m, fmt.Errorf("mass_kg %.40q in the description is not a number", s)
		}
	}
	for _, foot := range device.Feet {
		r, ok := records[foot.String()]
		if !ok {
			continue
		}
		s := &device.Side{Padding: r["padding"], Mounting: r["mounting"], Fixing: r["fixing"], Clock: r["clock"], Format: r["format"]}
		if mark, ok := r["mark"]; ok {
			if s.Mark, err = strconv.Atoi(mark); err != nil {
				return m, fmt.Errorf("mark %.40q of the %s foot in the description is not a number", mark, foot)
			}
		}
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
