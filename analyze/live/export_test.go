package live

// Kept returns the number of samples of the left foot in memory.
func (w *Follower) Kept() int { return len(w.feet[0].tail.Samples()) }

// Releves returns the relevés that have ended, valid until the next call of Add,
// Discard or TakeBack.
func (w *Follower) Releves() []Releve { return w.releves }
