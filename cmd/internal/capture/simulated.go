package capture

import (
	"context"
	"io"

	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/sim"
	"aplomb/device/wire"
)

// Simulated is a simulated session as the source of a recording, without a
// serial line in between. No frame is lost. It ends when the context is done.
type Simulated struct {
	*sim.Session
	ctx   context.Context
	stats [2]link.Stats
}

// NewSimulated returns the source of a recording of the session that m describes.
func NewSimulated(ctx context.Context, session *sim.Session, m *device.Metadata) *Simulated {
	s := &Simulated{Session: session, ctx: ctx}
	for f, side := range m.Sides {
		if side != nil {
			s.stats[f] = link.Stats{HasSeq: true, Clock: "strip", Hello: true, Line: wire.Stats{Format: wire.Binary}}
		}
	}
	return s
}

// Next implements device.Source.
func (s *Simulated) Next(f *device.Frame) error {
	if s.ctx.Err() != nil {
		return io.EOF
	}
	if err := s.Session.Next(f); err != nil {
		return err
	}
	s.stats[f.Foot].Frames++
	return nil
}

// Stats returns the counts of frames so far, none of them damaged.
func (s *Simulated) Stats() [2]link.Stats { return s.stats }

// Events returns none, since there is no serial line.
func (s *Simulated) Events() []device.Event { return nil }

// Warnings returns none.
func (s *Simulated) Warnings() []link.Notice { return nil }

// Close implements Source.
func (s *Simulated) Close() error { return nil }
