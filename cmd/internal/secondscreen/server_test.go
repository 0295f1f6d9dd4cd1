package secondscreen_test

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/secondscreen"
)

func start(t testing.TB, lan bool) *secondscreen.Server {
	s, err := secondscreen.Start(lan)
	require.NoError(t, err)
	t.Cleanup(func() { s.Close() })
	return s
}

// on returns the address at this computer's loopback address.
func on(t testing.TB, address string) string {
	u, err := url.Parse(address)
	require.NoError(t, err)
	u.Host = net.JoinHostPort("127.0.0.1", u.Port())
	return u.String()
}

// status requests an address and returns the status and the header of the response.
func status(t testing.TB, method, address, host string) (int, http.Header) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, address, nil)
	require.NoError(t, err)
	r.Host = host
	answer, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	answer.Body.Close()
	return answer.StatusCode, answer.Header
}

// page is a page that is open without a browser.
type page struct {
	testing.TB
	lines *bufio.Scanner
	close func()
}

func open(t testing.TB, address string) *page {
	ctx, stop := context.WithCancel(context.Background())
	t.Cleanup(stop)
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, on(t, address)+"/news", nil)
	require.NoError(t, err)
	answer, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Equal(t, "text/event-stream", answer.Header.Get("Content-Type"))
	p := &page{TB: t, lines: bufio.NewScanner(answer.Body), close: stop}
	p.lines.Buffer(nil, 1<<20)
	return p
}

// hears returns the first news that contain a text, and the shapes received before them.
func (p *page) hears(part string) (news, shapes string) {
	p.Helper()
	event := ""
	for p.lines.Scan() {
		name, value, _ := strings.Cut(p.lines.Text(), ": ")
		switch {
		case name == "event":
			event = value
		case name == "data" && event == "shapes":
			shapes, event = value, ""
		case name == "data" && strings.Contains(value, part):
			return value, shapes
		}
	}
	require.FailNow(p, "not heard", part)
	return "", ""
}

func TestPaths(t *testing.T) {
	local, lan := start(t, false), start(t, true)
	assert.True(t, strings.HasPrefix(local.FitterAddress(), "http://127.0.0.1:"))
	fitter, dancer := on(t, lan.FitterAddress()), on(t, lan.DancerAddress())
	key := dancer[strings.LastIndex(dancer, "/")+1:]
	assert.NotContains(t, fitter, key, "the address for the dancer does not open the page for the fitter")
	again := on(t, start(t, true).DancerAddress())
	assert.NotContains(t, again, key, "a key is used once")
	assert.Len(t, key, 26, "130 bits in base 32 (RFC 4648)")
	base := strings.TrimSuffix(dancer, "/dancer/"+key)
	for address, want := range map[string]int{
		local.FitterAddress(): 200, local.DancerAddress(): 200,
		fitter: 200, dancer: 200,
		base + "/DANCER/" + strings.ToUpper(key):      200, // as a QR code has it
		base + "/dancer/" + key[:25] + "-":            404,
		base + "/dancer/" + key[:25]:                  404,
		base + "/dancer/" + key + "/":                 404,
		base + "/dancer/" + key + "/news/":            404,
		base + "/dancer//" + key:                      404,
		base + "/fitter/" + key:                       404,
		base + "/dancer":                              404,
		base + "/":                                    404,
		base + "/dancer/" + key + "/../../etc/passwd": 404,
		base + "/favicon.ico":                         404,
		on(t, local.FitterAddress()) + "/" + key:      404,
	} {
		code, header := status(t, http.MethodGet, address, "")
		assert.Equal(t, want, code, address)
		assert.Equal(t, "no-store", header.Get("Cache-Control"))
		assert.Contains(t, header.Get("Content-Security-Policy"), "default-src 'none'; script-src 'sha256-")
		assert.NotContains(t, header.Get("Content-Security-Policy"), "unsafe")
		assert.Equal(t, "no-referrer", header.Get("Referrer-Policy"))
		assert.Empty(t, header.Get("Access-Control-Allow-Origin"))
	}
	for _, method := range []string{http.MethodPost, http.MethodPut, http.MethodDelete} {
		code, _ := status(t, method, dancer, "")
		assert.Equal(t, http.StatusMethodNotAllowed, code)
	}
}

// A request for a foreign host name that resolves to this computer is refused, and so is
// one for an address other than that at which it arrived.
func TestHosts(t *testing.T) {
	s := start(t, false)
	u, err := url.Parse(s.FitterAddress())
	require.NoError(t, err)
	for host, want := range map[string]int{
		"127.0.0.1:" + u.Port(): 200, "localhost:" + u.Port(): 200,
		"evil.example:" + u.Port(): 421, "127.0.0.1.evil.example:" + u.Port(): 421, "192.168.1.5:" + u.Port(): 421, "evil.example": 421,
		"localhost.evil.example:" + u.Port(): 421, "[::1]:" + u.Port(): 421,
	} {
		code, _ := status(t, http.MethodGet, s.FitterAddress(), host)
		assert.Equal(t, want, code, host)
	}
}

// On the loopback address the server is not reachable from other computers.
func TestNotReachableFromOutside(t *testing.T) {
	s := start(t, false)
	u, err := url.Parse(s.FitterAddress())
	require.NoError(t, err)
	all, err := net.InterfaceAddrs()
	require.NoError(t, err)
	for _, a := range all {
		ip := a.(*net.IPNet).IP
		if ip.IsLoopback() || ip.To4() == nil {
			continue
		}
		c, err := net.DialTimeout("tcp", net.JoinHostPort(ip.String(), u.Port()), time.Second)
		if err == nil {
			c.Close()
		}
		assert.Error(t, err, ip)
	}
}

// A request that is too large is refused. Requests that never end occupy a limited number
// of connections: others are closed at once.
func TestBadRequests(t *testing.T) {
	s := start(t, false)
	u, err := url.Parse(s.FitterAddress())
	require.NoError(t, err)
	large, err := net.Dial("tcp", u.Host)
	require.NoError(t, err)
	defer large.Close()
	_, err = io.WriteString(large, "GET /fitter HTTP/1.1\r\nHost: "+u.Host+"\r\nX: "+strings.Repeat("x", 64<<10)+"\r\n\r\n")
	require.NoError(t, err)
	answer, _ := bufio.NewReader(large).ReadString('\n')
	assert.Contains(t, answer, "431")
	var last net.Conn
	for range 250 { // more than connections are taken
		last, err = net.Dial("tcp", u.Host)
		require.NoError(t, err)
		defer last.Close()
		io.WriteString(last, "GET /fit")
	}
	last.SetReadDeadline(time.Now().Add(4 * time.Second)) // within which a connection that was taken stays open
	_, err = last.Read(make([]byte, 1))
	var waited net.Error
	assert.False(t, errors.As(err, &waited) && waited.Timeout(), "it was taken")
	assert.Error(t, err)
}

// 50 pages at once receive everything; one of them never reads, others are closed.
// Publishing never waits for them, and beyond the limit a page is refused with a text.
func TestManyPages(t *testing.T) {
	s := start(t, false)
	var pages []*page
	for range 50 {
		pages = append(pages, open(t, s.FitterAddress()))
	}
	for _, p := range pages[40:] {
		p.close()
	}
	state := rising()
	for i := range 2000 { // page 0 reads none of it
		state.Shoe = strings.Repeat("x", 1000) + string(rune('a'+i%26))
		s.Publish(state)
	}
	state.Shoe = "newest"
	s.Publish(state)
	for _, p := range pages[1:40] {
		p.hears("Shoe newest")
	}
	pages[0].hears("Shoe newest")
	code := 0
	for range 60 {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, s.FitterAddress()+"/news", nil)
		require.NoError(t, err)
		answer, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		defer answer.Body.Close()
		if code = answer.StatusCode; code != http.StatusOK {
			break
		}
	}
	assert.Equal(t, http.StatusServiceUnavailable, code)
}

// At the end every page is told that nothing follows.
func TestClose(t *testing.T) {
	s := start(t, false)
	fitter, dancer := open(t, s.FitterAddress()), open(t, s.DancerAddress())
	s.Publish(rising())
	fitter.hears("BACK")
	require.NoError(t, s.Close())
	fitter.hears("The recording has ended")
	dancer.hears("The recording has ended")
	for fitter.lines.Scan() {
		assert.Empty(t, fitter.lines.Text(), "nothing more")
	}
	_, err := http.Get(s.FitterAddress())
	assert.Error(t, err)
}

// The dancer's page gets nothing about the relevé in progress, and nothing at all if the
// dancer is to see nothing. In practice it gets what the fitter sees.
func TestWhatTheDancerSees(t *testing.T) {
	s := start(t, false)
	dancer := open(t, s.DancerAddress())
	down, up := rising(), rising()
	for f, foot := range down.Feet {
		own := *foot
		own.At, own.Where, own.LoadN = nil, "", 0
		down.Feet[f] = &own
	}
	first := down
	for f, foot := range first.Feet {
		own := *foot
		own.Last, own.Counted = nil, 0
		first.Feet[f] = &own
	}
	s.Publish(first)
	news, shapes := dancer.hears("Each relevé is shown when it is done.")
	assert.Contains(t, shapes, `"outline":"M`)
	assert.NotContains(t, news, "frame_ms")

	s.Publish(up) // its last relevé has ended on one foot perhaps, and she is up
	up.Shoe = "Z"
	s.Publish(up)
	fitter := open(t, s.FitterAddress())
	fitter.hears("Shoe Z")
	news, _ = dancer.hears("shoe")
	assert.Contains(t, news, "Each relevé is shown when it is done.")
	assert.NotContains(t, news, "BACK")
	assert.NotContains(t, news, "load\":")

	s.Publish(down)
	news, _ = dancer.hears("BIG TOE")
	assert.Contains(t, news, "Relevé 1. left foot: the load is towards the big toe. right foot: the load is towards the little toe.")
	assert.NotContains(t, news, `"live":true`)
	assert.Contains(t, news, `"text":"Relevé 1 of 3"`)
	s.Publish(up)
	news, _ = dancer.hears("Previous: relevé 1 of 3")
	assert.NotContains(t, news, "BACK")

	practice := rising()
	practice.Feedback = "live"
	s.Publish(practice)
	news, _ = dancer.hears("BACK")
	assert.Contains(t, news, "Live. Practice enters no comparison.")
	assert.Contains(t, news, `"live":true`)

	nothing := down
	nothing.Feedback = "none"
	s.Publish(nothing)
	news, shapes = dancer.hears("The load is not shown to the dancer.")
	assert.NotContains(t, news, "TOE")
	assert.NotContains(t, shapes, "outline")

	rest := resting()
	s.Publish(rest)
	news, _ = dancer.hears("rest_s")
	assert.Contains(t, news, `"shoes":false`, "not before the end")
	rest.Stage = secondscreen.Done
	s.Publish(rest)
	_, shapes = dancer.hears(`"shoes":true`)
	var sent struct{ Shoes []struct{ Code string } }
	require.NoError(t, json.Unmarshal([]byte(shapes), &sent))
	require.Len(t, sent.Shoes, 3)
	assert.Equal(t, "C", sent.Shoes[2].Code)
}

// The addresses are printed with a note that others could see the page; the QR codes are
// in capitals, of the smallest size, and fit into 80 columns.
func TestAnnounce(t *testing.T) {
	var here, lan strings.Builder
	start(t, false).Announce(&here, true)
	assert.Regexp(t, `^second screen\n  fitter  http://127\.0\.0\.1:\d+/fitter\n  dancer  http://127\.0\.0\.1:\d+/dancer\n$`, here.String())
	s := start(t, true)
	s.Announce(&lan, true)
	assert.Contains(t, lan.String(), s.DancerAddress()+"\n")
	assert.Contains(t, lan.String(), "It is plain HTTP: whoever is on this\nnetwork could see what is shown.")
	plain := strings.NewReplacer("\x1b[97;40m", "", "\x1b[0m", "").Replace(lan.String())
	rows := 0
	for line := range strings.Lines(plain) {
		if strings.ContainsAny(line, "█▀▄") {
			rows++
			assert.LessOrEqual(t, len([]rune(strings.TrimSuffix(line, "\n"))), 80)
		}
	}
	assert.Equal(t, 19, rows, "29 modules and a quiet zone of 4 on either side (ISO/IEC 18004, version 3), two in a row")
}
