package console

import (
	"context"
	"fmt"
	"io"
	"os"
)

// WaitForEnter asks the user at the terminal to press Enter, and waits for that or until
// ctx is done. It does not consume input after Enter.
func WaitForEnter(ctx context.Context, out io.Writer, ask string) error {
	fmt.Fprintln(out, ask)
	typed := make(chan error, 1)
	go func() {
		one := make([]byte, 1)
		for {
			if _, err := os.Stdin.Read(one); err != nil {
				typed <- ErrNoAnswer
				return
			}
			if one[0] == '\n' {
				typed <- nil
				return
			}
		}
	}()
	select {
	case err := <-typed:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}
