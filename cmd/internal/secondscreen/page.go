package secondscreen

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"

	"aplomb/plots/words"
)

//go:embed page.html
var pageText []byte

// pageSource is the page with its caution.
var pageSource = bytes.Replace(pageText, []byte("CARE"), []byte(words.Caution), 1)

// pages are the pages by view: one document that the view is written into.
var pages = [viewCount][]byte{
	fitterView: bytes.Replace(pageSource, []byte("VIEW"), []byte(fitterView.String()), -1),
	dancerView: bytes.Replace(pageSource, []byte("VIEW"), []byte(dancerView.String()), -1),
}

// policy is the Content Security Policy (W3C, level 3) of the pages: it allows the style
// and the script in the page, news from this server, and nothing else.
var policy = fmt.Sprintf("default-src 'none'; script-src '%s'; style-src '%s'; connect-src 'self'; img-src data:; "+
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'; require-trusted-types-for 'script'; trusted-types 'none'",
	hashOf("<script>", "</script>"), hashOf("<style>", "</style>"))

// hashOf returns the hash, in the form of such a policy, of the text between two tags of
// the page.
func hashOf(from, to string) string {
	_, rest, _ := bytes.Cut(pageSource, []byte(from))
	inner, _, _ := bytes.Cut(rest, []byte(to))
	sum := sha256.Sum256(inner)
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}
