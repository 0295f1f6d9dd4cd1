package batch

import (
	"fmt"
	"os"
	"time"

	"aplomb/cmd/internal/console"
)

// pace estimates the remaining time of the work on files, from their sizes.
type pace struct {
	progress  *console.Progress
	doing     string // what is done to a file, such as "analyzing"
	names     []string
	sizes     []int64 // bytes
	done, all int64
	began     time.Time
	number    int // files begun
}

func newPace(p *console.Progress, doing string, names, paths []string) *pace {
	t := &pace{progress: p, doing: doing, names: names, began: time.Now(), sizes: make([]int64, len(paths))}
	for i, path := range paths {
		if info, err := os.Stat(path); err == nil {
			t.sizes[i] = info.Size()
			t.all += info.Size()
		}
	}
	return t
}

// begin shows that the work on a file begins.
func (t *pace) begin(i int) {
	t.number++
	t.progress.Show("%s %s (%d of %d%s)", t.doing, t.names[i], t.number, len(t.names), timeLeft(time.Since(t.began), t.done, t.all))
}

// finish notes that the work on a file is done.
func (t *pace) finish(i int) { t.done += t.sizes[i] }

// timeLeft returns the estimated remaining time in words when the part done took the time
// took, "" where too little is done.
func timeLeft(took time.Duration, done, all int64) string {
	if took < 3*time.Second || done <= 0 || done >= all {
		return ""
	}
	left := time.Duration(float64(took) * float64(all-done) / float64(done))
	switch {
	case left < 90*time.Second:
		return fmt.Sprintf(", about %d s left", int(max(1, left.Round(time.Second).Seconds())))
	case left < 90*time.Minute:
		return fmt.Sprintf(", about %d min left", int(left.Round(time.Minute).Minutes()))
	}
	return fmt.Sprintf(", about %.1f h left", left.Hours())
}
