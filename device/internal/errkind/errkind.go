// Package errkind gives an error a kind that callers find with errors.Is, without a
// change of its text.
package errkind

// kinded is an error with a kind.
type kinded struct {
	kind error
	error
}

func (e *kinded) Unwrap() []error { return []error{e.kind, e.error} }

// With returns an error with the text of err that matches both kind and err. A nil
// err stays nil.
func With(kind, err error) error {
	if err == nil {
		return nil
	}
	return &kinded{kind, err}
}
