package wire_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device"
	"aplomb/device/wire"
)

// binaryAt returns a strip's frame of true number n at the clock time us.
func binaryAt(n int64, us uint64) *wire.Message {
	return &wire.Message{HasSeq: true, HasClock: true, Seq: uint16(n), TimeUS: us % (1 << 32)}
}

func textAt(us uint64) *wire.Message { return &wire.Message{HasClock: true, TimeUS: us} }

// For any lost frames numbers and times equal the strip's counts, beyond any number of
// wraps, and no loss counts as a restart.
func TestUnwrapFollowsTheStrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(0, 1<<17).Draw(t, "n")
		us := uint64(rapid.Int64Range(0, 1<<33).Draw(t, "us"))
		period := rapid.IntRange(500, 100_000).Draw(t, "period")
		var u wire.Unwrap
		first := u.Next(binaryAt(n, us), 0)
		n0, us0, arrival := n, us, uint64(0)
		require.Equal(t, int64(uint16(n)), first.Seq)
		require.Equal(t, us%(1<<32), first.TimeUS)
		for i := range rapid.IntRange(1, 100).Draw(t, "frames") {
			missing := 0
			if i > 0 && rapid.IntRange(0, 9).Draw(t, "loss") == 0 {
				missing = rapid.IntRange(1, 200_000).Draw(t, "missing")
			}
			if uint64(missing+1)*uint64(period) >= 1<<31 { // beyond half a wrap it is ambiguous
				missing = 0
			}
			jitter := rapid.IntRange(-period/100, period/100).Draw(t, "jitter")
			if missing > 1000 {
				jitter = 0
			}
			dt := uint64((missing+1)*period + jitter)
			n, us, arrival = n+int64(missing)+1, us+dt, arrival+dt
			s := u.Next(binaryAt(n, us), int64(arrival)*1000)
			require.False(t, s.Reset)
			require.Equal(t, wire.Step{Seq: first.Seq + n - n0, TimeUS: first.TimeUS + us - us0, Lost: int64(missing), StepUS: dt}, s)
		}
	})
}

func TestUnwrapTellsARestart(t *testing.T) {
	const period = 5000
	run := func(n int64, us uint64) (u wire.Unwrap, arrival int64) {
		for i := range int64(100) {
			s := u.Next(binaryAt(n+i, us+uint64(i)*period), i*period*1000)
			require.False(t, s.Reset)
		}
		return u, 99 * period * 1000
	}
	for _, c := range []struct {
		name          string
		n             int64
		us            uint64
		thenN         int64
		thenUS        uint64
		afterHostUS   int64
		reset         bool
		lost, stepsUS int64
	}{
		{"clock falls back", 500, 60_000_000, 0, 1000, 800_000, true, 0, 800_000},
		{"clock falls back across half its range", 500, 3_000_000_000, 0, 1000, 800_000, true, 0, 800_000},
		{"clock falls back when about to wrap", 500, 1<<32 - 30_000_000, 0, 1000, 800_000, true, 0, 800_000},
		{"clock jumps far ahead", 500, 1000, 600, 2_000_000_000, 5000, true, 0, 5000},
		{"clock jumps ahead by more than a buffer holds", 500, 1000, 600, 8_000_000, 5000, true, 0, 5000},
		{"numbers jump, clock does not", 30_000, 60_000_000, 5, 60_000_000 + 99*period + period, 5000, true, 0, 5000},
		{"a wrap of both", 65536 - 100, 1<<32 - 100*period, 0, 0, 5000, false, 0, 5000},
		{"a pause of the board", 500, 60_000_000, 600, 60_000_000 + 150*period, 250_000, false, 0, 51 * period},
		{"a long loss", 500, 60_000_000, 30_599, 60_000_000 + 30_099*period, 150_000_000, false, 29_999, 30_000 * period},
		{"a loss past several wraps of both", 500, 60_000_000, 599 + 2_000_000, 60_000_000 + 2_000_099*period, 2_000_000 * period, false, 1_999_999, 2_000_000 * period},
	} {
		t.Run(c.name, func(t *testing.T) {
			u, arrival := run(c.n, c.us)
			before := u.Next(binaryAt(c.n+99, c.us+99*period), arrival)
			require.Equal(t, wire.Repeated, before.Order)
			told := u
			arrival += c.afterHostUS * 1000
			first, next := binaryAt(c.thenN, c.thenUS), binaryAt(c.thenN+1, c.thenUS+period)
			follow := func(u *wire.Unwrap, m *wire.Message, arrival int64, afterUS int64) wire.Step {
				got := u.Next(m, arrival)
				assert.Equal(t, wire.InOrder, got.Order)
				assert.Equal(t, c.reset, got.Reset)
				assert.Equal(t, c.lost, got.Lost)
				assert.EqualValues(t, c.stepsUS+afterUS, got.StepUS)
				assert.Equal(t, before.TimeUS+got.StepUS, got.TimeUS)
				assert.Equal(t, c.n+100+c.lost, got.Seq)
				return got
			}
			// Where a restart is expected, or there is none, the first frame shows it.
			told.MayRestart()
			got := follow(&told, first, arrival, 0)
			after := told.Next(next, arrival+period*1000)
			assert.Equal(t, wire.Step{Seq: got.Seq + 1, TimeUS: got.TimeUS + period, StepUS: period}, after)
			// Otherwise a second frame shows it, and the first one is left out.
			if !c.reset {
				follow(&u, first, arrival, 0)
				return
			}
			assert.Equal(t, wire.Unconfirmed, u.Next(first, arrival).Order)
			got = follow(&u, next, arrival+period*1000, period)
			after = u.Next(binaryAt(c.thenN+2, c.thenUS+2*period), arrival+2*period*1000)
			assert.Equal(t, wire.Step{Seq: got.Seq + 1, TimeUS: got.TimeUS + period, StepUS: period}, after)
		})
	}
}

// A frame with a wrong number and time between two right ones is no restart.
func TestUnwrapLeavesOutWhatDoesNotFit(t *testing.T) {
	var u wire.Unwrap
	before := int64(-1)
	for i := range int64(1000) {
		arrival := i * 5_000_000
		if i%3 == 2 {
			s := u.Next(binaryAt(i*7919, uint64(i)*123_456_789), arrival)
			require.NotEqual(t, wire.InOrder, s.Order, i)
			continue
		}
		s := u.Next(binaryAt(i, uint64(i)*5000), arrival)
		require.Equal(t, []any{wire.InOrder, false, i, i - before - 1}, []any{s.Order, s.Reset, s.Seq, s.Lost}, i)
		before = i
	}
	s := u.Next(binaryAt(999, 1000*5000), 1000*5_000_000)
	require.Equal(t, wire.Unconfirmed, s.Order, "the number has not moved")
}

// Packets that come twice or out of order are left out. They count neither as a restart nor as
// 65,000 lost frames.
func TestUnwrapRepeatedAndReordered(t *testing.T) {
	var u wire.Unwrap
	var in []int64
	places := map[wire.Order]int{}
	for _, n := range []int64{100, 101, 102, 102, 101, 103, 105, 104, 106, 103, 107, 110, 111, 108, 109, 112, 112, 113} {
		s := u.Next(binaryAt(n, uint64(n)*5000), n*5_000_000)
		require.False(t, s.Reset)
		places[s.Order]++
		if s.Order == wire.InOrder {
			require.Equal(t, n, s.Seq)
			in = append(in, n)
		}
	}
	assert.Equal(t, []int64{100, 101, 102, 103, 105, 106, 107, 110, 111, 112, 113}, in)
	assert.Equal(t, map[wire.Order]int{wire.InOrder: 11, wire.Repeated: 2, wire.Late: 5}, places)
}

// A strip that restarts soon after its start first looks delayed.
func TestUnwrapEarlyRestart(t *testing.T) {
	var u wire.Unwrap
	at := func(n, arrival int64) wire.Step { return u.Next(binaryAt(n, 1000+uint64(n)*5000), arrival*5_000_000) }
	for n := range int64(30) {
		at(n, n)
	}
	u.MayRestart()
	for n := range int64(20) {
		s := at(n, 100+n)
		require.Equal(t, n == 7, s.Reset)
		require.Equal(t, n >= 7, s.Order == wire.InOrder)
	}
	// Not so where the line was out, even if it starts at the same number.
	u.Resume()
	s := at(19, 200)
	require.Equal(t, []any{wire.InOrder, true}, []any{s.Order, s.Reset})
	u.Resume()
	s = at(0, 300)
	require.Equal(t, []any{wire.InOrder, true}, []any{s.Order, s.Reset})
}

func TestUnwrapTellsAPause(t *testing.T) {
	for _, seq := range []bool{true, false} {
		var u wire.Unwrap
		at := func(n int64, us uint64) wire.Step {
			m := binaryAt(n, us)
			m.HasSeq = seq
			return u.Next(m, int64(us)*1000)
		}
		for n := range int64(10) {
			require.False(t, at(n, uint64(n)*5000).Paused)
		}
		require.False(t, at(10, 64_000).Paused, "a hitch")
		require.True(t, at(11, 164_000).Paused)
		require.False(t, at(12, 169_000).Paused)
	}
}

func TestUnwrapText(t *testing.T) {
	var u wire.Unwrap
	step := func(us uint64, arrivalUS int64) wire.Step { return u.Next(textAt(us), arrivalUS*1000) }
	assert.Equal(t, wire.Step{Seq: device.NoSeq, TimeUS: 1<<32 - 10}, step(1<<32-10, 0))
	assert.Equal(t, wire.Step{Seq: device.NoSeq, TimeUS: 1<<32 + 40, StepUS: 50}, step(40, 50), "a clock of 32 bits wraps")
	assert.Equal(t, wire.Step{Seq: device.NoSeq, TimeUS: 1<<32 + 90, StepUS: 50}, step(90, 100))
	u.MayRestart()
	assert.Equal(t, wire.Step{Seq: device.NoSeq, TimeUS: 1<<32 + 590, StepUS: 500, Reset: true}, step(1<<32-10_000, 600))

	u = wire.Unwrap{}
	assert.EqualValues(t, 1<<32-10, step(1<<32-10, 0).TimeUS)
	assert.EqualValues(t, 1<<32+40, step(1<<32+40, 50).TimeUS, "a clock of 64 bits goes on")
	assert.Equal(t, wire.Unconfirmed, step(100, 100).Order, "and does not wrap")
	assert.True(t, step(150, 150).Reset)
}

func TestUnwrapWithoutClock(t *testing.T) {
	var u wire.Unwrap
	var m wire.Message
	times := []uint64{}
	for _, at := range []int64{5_000_000, 5_000_000, 5_000_000, 9_000_000} {
		times = append(times, u.Next(&m, at).TimeUS)
	}
	assert.Equal(t, []uint64{5000, 5001, 5002, 9000}, times)
}

// Times always increase, for any frames of a strip.
func FuzzUnwrap(f *testing.F) {
	f.Add([]byte{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14})
	f.Fuzz(func(t *testing.T, b []byte) {
		var u wire.Unwrap
		last := wire.Step{}
		arrival := int64(0)
		for i := 0; len(b) >= 7; i++ {
			m := binaryAt(int64(b[0])|int64(b[1])<<8, uint64(b[2])|uint64(b[3])<<8|uint64(b[4])<<16|uint64(b[5])<<24)
			arrival += int64(b[6]) << 20
			b = b[7:]
			s := u.Next(m, arrival)
			if s.Order != wire.InOrder {
				continue
			}
			if i > 0 {
				require.Greater(t, s.TimeUS, last.TimeUS)
				require.Equal(t, s.TimeUS-last.TimeUS, s.StepUS)
				require.Equal(t, last.Seq+1+s.Lost, s.Seq)
			}
			require.GreaterOrEqual(t, s.Lost, int64(0))
			last = s
		}
	})
}
