package wire

import (
	"encoding/json"
	"errors"
	"fmt"

	"aplomb/device"
)

// MaxHello bounds the JSON of a hello, bytes.
const MaxHello = 1024

// Hello is the message in which a strip announces itself, at least once a second.
type Hello struct {
	Link    int         `json:"link"` // version of the format, 1
	Strip   string      `json:"strip"`
	Foot    device.Foot `json:"foot"`
	Rows    int         `json:"rows"`
	Cols    int         `json:"cols"`
	RateHz  float64     `json:"rate_hz"` // frames a second
	ADCBits int         `json:"adc_bits"`
}

// HelloOf returns the Hello of the strip with that profile.
func HelloOf(s *device.Strip, rateHz float64) Hello {
	return Hello{Link: 1, Strip: s.Name, Foot: s.Foot, Rows: s.Rows, Cols: s.Cols, RateHz: rateHz, ADCBits: s.ADCBits}
}

// check reports the first impossible thing about the Hello.
func (h *Hello) check() error {
	switch {
	case h.Link != 1:
		return fmt.Errorf("link %d: this reads link 1", h.Link)
	case h.Strip == "":
		return errors.New("the strip has no name")
	case h.Foot != device.Left && h.Foot != device.Right:
		return errors.New("foot: left or right")
	case h.Rows < 1 || h.Cols < 1 || h.Rows > device.MaxCells || h.Cols > device.MaxCells || h.Rows*h.Cols > device.MaxCells:
		return fmt.Errorf("%d × %d cells: 1 to %d", h.Rows, h.Cols, device.MaxCells)
	case h.RateHz < 0:
		return fmt.Errorf("rate_hz %v", h.RateHz)
	case h.ADCBits < 1 || h.ADCBits > 16:
		return fmt.Errorf("adc_bits %d: 1 to 16", h.ADCBits)
	}
	return nil
}

// ParseHello reads the JSON of a Hello. It ignores unknown keys, which later versions
// may have.
func ParseHello(data []byte) (Hello, error) {
	if len(data) > MaxHello {
		return Hello{}, fmt.Errorf("hello: %d bytes, at most %d", len(data), MaxHello)
	}
	h := Hello{Foot: device.NoFoot}
	if err := json.Unmarshal(data, &h); err != nil {
		return Hello{}, fmt.Errorf("hello: %w", err)
	}
	if err := h.check(); err != nil {
		return Hello{}, fmt.Errorf("hello: %w", err)
	}
	return h, nil
}

// appendJSON appends the JSON of h. It panics where the rate is not a finite number,
// which no strip has.
func (h Hello) appendJSON(dst []byte) []byte {
	b, err := json.Marshal(h)
	if err != nil {
		panic(err)
	}
	return append(dst, b...)
}
