package measure

// Refusal is a result that cannot be given, and why.
type Refusal struct {
	Of  string `json:"of"`
	Why string `json:"why"`
}
