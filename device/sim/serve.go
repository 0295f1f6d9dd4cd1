package sim

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"aplomb/device"
	"aplomb/device/wire"
)

// helloEvery is the interval between two Hellos of a strip. The link allows a second.
const helloEvery = 900 * time.Millisecond

// Sender is a Source of simulated frames for Serve: a Session or a Bench.
type Sender interface {
	device.Source
	Hello(foot device.Foot) (h wire.Hello, there bool)
}

// Serve sends the frames of a Session or a Bench down the lines, as its strips would. The
// lines are those of the left and of the right foot and may be the same one; a foot without
// a strip needs none. It returns nil at the end of the frames, and the error of ctx soon
// after ctx is done.
func Serve(ctx context.Context, s Sender, lines [2]*Line, pace Pace) error {
	var frame device.Frame
	var packet []byte
	var at time.Time
	var hello [2]int64 // arrival of the frame before which the last Hello of each strip was sent, ns
	for _, foot := range device.Feet {
		if _, there := s.Hello(foot); there && lines[foot] == nil {
			return fmt.Errorf("the strip of the %s foot has no line", foot)
		}
	}
	for first := true; ; first = false {
		err := s.Next(&frame)
		if errors.Is(err, io.EOF) {
			return pace(ctx, at)
		}
		if err != nil {
			return err
		}
		at = time.Unix(0, frame.ArrivalNS)
		if err := pace(ctx, at); err != nil {
			return err
		}
		for _, foot := range device.Feet {
			h, there := s.Hello(foot)
			due := first || foot == frame.Foot && frame.ArrivalNS-hello[foot] >= helloEvery.Nanoseconds()
			if !there || !due {
				continue
			}
			hello[foot] = frame.ArrivalNS
			packet = wire.AppendHello(packet[:0], h)
			if err := lines[foot].Send(packet); err != nil {
				return err
			}
		}
		packet = wire.AppendFrame(packet[:0], frame.Foot, uint16(frame.Seq), uint32(frame.TimeUS), frame.Counts)
		if err := lines[frame.Foot].Send(packet); err != nil {
			return err
		}
	}
}
