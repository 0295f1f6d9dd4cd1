package secondscreen

import (
	"time"

	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/plots/screen"
)

// publishEvery is the interval at which the state of a recording is published.
const publishEvery = 25 * time.Millisecond

// Follow returns a function that publishes the state of a recording, for the Watch of its
// [capture.Monitor] or [capture.Lines]. The recording calls it after every frame with a
// function that fills a state; most calls return at once, and none waits for a page.
//
// m describes the recording. about contains what is not in its frames: shoe, plan, the
// shoes so far, and the relevés of each foot that already count.
func (s *Server) Follow(m *device.Metadata, about State) func(fill func(*screen.State)) {
	r := &follower{about: about}
	r.about.Feedback = m.Feedback
	for f, side := range m.Sides {
		r.about.Feet[f] = nil
		if side == nil {
			continue
		}
		outline := side.Shoe.Outline()
		r.about.Feet[f] = &Foot{Outline: outline, Kern: outline.Kern()}
		if before := about.Feet[f]; before != nil {
			r.about.Feet[f].Counted = before.Counted
		}
	}
	s.Publish(r.about)
	var published time.Time
	return func(fill func(*screen.State)) {
		now := time.Now()
		if now.Sub(published) < publishEvery {
			return
		}
		published = now
		fill(&r.now)
		s.Publish(r.state(now))
	}
}

// follower converts the states of one recording to those of the second screen.
type follower struct {
	about State
	now   screen.State // used again for every state
	where [2]screen.Place
}

// state returns the state for r.now, whose last frame arrived at a time. It shares no
// memory with r.now.
func (r *follower) state(arrived time.Time) State {
	s := r.about
	s.Stage, s.Frame, s.Guided = Recording, arrived, r.now.Guided
	if r.now.Stage == screen.Pressing || r.now.Stage == screen.PuttingOn {
		s.Stage = Pressing
		s.Large, s.Text = screen.Asked(&r.now)
	}
	for f, about := range r.about.Feet {
		if about != nil {
			s.Feet[f] = r.foot(device.Foot(f), *about)
		}
	}
	return s
}

// foot returns one foot; about contains what does not change during the recording.
func (r *follower) foot(f device.Foot, about Foot) *Foot {
	now := r.now.Live.Feet[f]
	about.Away = r.now.Feet[f].Away != ""
	if now == nil || about.Away || !now.Located {
		r.where[f] = screen.Place{}
	} else {
		r.where[f] = screen.Where(about.Kern, now.At, r.where[f])
		about.LoadN, about.At = now.LoadN, &platform.Point{now.At[0], now.At[1]}
		about.Where, about.Misses = r.where[f].Verdict, r.where[f].Misses
	}
	for _, one := range r.now.Live.Releves {
		hold := one.Feet[f]
		if hold == nil {
			continue
		}
		if hold.Settled && !one.Discarded {
			about.Counted++
		}
		about.Last = &Releve{
			N: one.N, Settled: hold.Settled, Discarded: one.Discarded,
			At: platform.Point{hold.MedialMM, hold.OverMM}, Verdict: hold.Verdict, Misses: hold.Misses,
		}
	}
	return &about
}
