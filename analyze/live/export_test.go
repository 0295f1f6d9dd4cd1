package live

// Kept is how many samples of the left foot are in memory.
func (w *Follower) Kept() int { return len(w.feet[0].tail.Samples()) }
