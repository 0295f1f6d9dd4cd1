// Package browsertest starts Chromium, for tests of pages.
package browsertest

import (
	"context"
	"os/exec"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// Chromium starts a browser that ends with the test, and returns the context of its first
// window. It skips the test where there is no Chromium.
func Chromium(t testing.TB) context.Context {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("no chromium here: .ci/run installs it")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.UserDataDir(t.TempDir()))
	browser, stop := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(stop)
	browser, stop = chromedp.NewContext(browser)
	t.Cleanup(stop)
	require.NoError(t, chromedp.Do(browser))
	return browser
}
