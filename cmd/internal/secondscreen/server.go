package secondscreen

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/subtle"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"sync"
	"sync/atomic"
	"time"
)

// usualPort is the port that is used where it is free, so that a page stays open from one
// recording to the next. It is one of the dynamic ports without registrations (49152 to
// 65535; RFC 6335, section 6).
const usualPort = 57336

const (
	maxPages       = 64               // pages with news
	maxConnections = 192              // beyond them a connection is closed at once
	maxHeaderBytes = 8 << 10          // of a request
	headerWithin   = 5 * time.Second  // for a request to be sent
	idleFor        = 10 * time.Second // without another request on a connection
	takenWithin    = 5 * time.Second  // for a page to receive what it is sent
	tellEvery      = time.Second      // interval of messages to a page, so that it detects a lost connection
	endWithin      = takenWithin      // for the last news, when the server closes
	socketBytes    = 32 << 10         // buffer for a slow page, small so that it never shows old data
)

// Server serves both pages until it is closed. Its methods are safe for concurrent use.
type Server struct {
	lan    bool
	keys   [viewCount]string // by view, the end of its path; "" on the loopback address
	port   int
	http   *http.Server
	end    sync.Once
	ended  chan struct{} // closed by Close
	done   chan struct{} // closed when the last news have been encoded
	latest atomic.Pointer[State]
	wake   chan struct{} // holds one token when latest is new

	mu    sync.Mutex
	sent  [viewCount]message
	fresh chan struct{} // closed and replaced when sent is new
	pages int
}

// Start starts a server on the loopback address or, with lan, on all addresses of this
// computer; then each view has its own random key as part of its address.
func Start(lan bool) (*Server, error) {
	s := &Server{
		lan: lan, ended: make(chan struct{}), done: make(chan struct{}),
		wake: make(chan struct{}, 1), fresh: make(chan struct{}),
	}
	host := "127.0.0.1"
	if lan {
		host = ""
		for v := range s.keys {
			s.keys[v] = strings.ToLower(rand.Text()) // 130 bits in 26 characters
		}
	}
	l, err := net.Listen("tcp", net.JoinHostPort(host, fmt.Sprint(usualPort)))
	if err != nil {
		l, err = net.Listen("tcp", net.JoinHostPort(host, "0"))
	}
	if err != nil {
		return nil, fmt.Errorf("the second screen: %w", err)
	}
	s.port = l.Addr().(*net.TCPAddr).Port
	s.http = &http.Server{
		Handler: s, MaxHeaderBytes: maxHeaderBytes, ReadHeaderTimeout: headerWithin, IdleTimeout: idleFor,
		ErrorLog: log.New(io.Discard, "", 0), // a closed page is no error
	}
	s.Publish(State{})
	go s.distribute()
	go s.http.Serve(&boundedListener{Listener: l, room: make(chan struct{}, maxConnections)})
	return s, nil
}

// Publish makes the pages show a state. It never waits: when it is called again before a
// page was sent the state, the page is sent only the newer one. The caller must not
// change what the state points to.
func (s *Server) Publish(state State) {
	s.latest.Store(&state)
	select {
	case s.wake <- struct{}{}:
	default:
	}
}

// Close makes the pages show that the server has ended, and ends it.
func (s *Server) Close() error {
	s.end.Do(func() { close(s.ended) })
	<-s.done
	ctx, stop := context.WithTimeout(context.Background(), endWithin)
	defer stop()
	if err := s.http.Shutdown(ctx); !errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return s.http.Close() // a page is slow
}

// distribute encodes each new state once and passes it to all pages.
func (s *Server) distribute() {
	defer close(s.done)
	calm := &State{}
	tick := time.NewTicker(tellEvery)
	defer tick.Stop()
	for ended := false; !ended; {
		select {
		case <-s.wake:
		case <-tick.C:
		case <-s.ended:
			ended = true
		}
		state := s.latest.Load()
		if !state.up() {
			calm = state
		}
		if ended {
			over := *calm
			over.Stage = Done
			state, calm = &over, &over
		}
		var all [viewCount]message
		for v := range all {
			m, err := encode(view(v), state, calm, time.Now())
			if err != nil {
				m = s.sent[v] // only this goroutine writes it
			}
			all[v] = m
		}
		s.mu.Lock()
		s.sent = all
		close(s.fresh)
		s.fresh = make(chan struct{})
		s.mu.Unlock()
	}
}

// ServeHTTP serves one of the pages or its news. Everything else, including a wrong key,
// is not found.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Cache-Control", "no-store")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer") // the address has the key in it
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Content-Security-Policy", policy)
	http.NewResponseController(w).SetWriteDeadline(time.Now().Add(takenWithin))
	v, news, ok := s.find(r.URL.Path)
	switch {
	case !addressed(r):
		http.Error(w, "Not the address of this page.", http.StatusMisdirectedRequest)
	case !ok:
		http.NotFound(w, r)
	case r.Method != http.MethodGet && r.Method != http.MethodHead:
		h.Set("Allow", "GET, HEAD")
		http.Error(w, "This page is only read.", http.StatusMethodNotAllowed)
	case news:
		s.stream(w, r, v)
	default:
		h.Set("Content-Type", "text/html; charset=utf-8")
		w.Write(pages[v])
	}
}

// path returns the path of a view.
func (s *Server) path(v view) string {
	if s.lan {
		return "/" + v.String() + "/" + s.keys[v]
	}
	return "/" + v.String()
}

// find returns the view named by a path, and whether the path is that of its news. Its
// run time does not depend on how much of a key is correct.
func (s *Server) find(path string) (found view, news, ok bool) {
	path = strings.ToLower(path) // QR codes have capitals
	for v := range view(viewCount) {
		for _, want := range [...]string{s.path(v), s.path(v) + newsPath} {
			if subtle.ConstantTimeCompare([]byte(path), []byte(want)) == 1 {
				found, news, ok = v, want != s.path(v), true
			}
		}
	}
	return found, news, ok
}

// newsPath ends the path of the news of a page.
const newsPath = "/news"

// addressed reports whether a request names the address at which it arrived. A page of
// another site whose name resolves to this server (DNS rebinding) names that site
// instead.
func addressed(r *http.Request) bool {
	local, ok := r.Context().Value(http.LocalAddrContextKey).(*net.TCPAddr)
	if !ok {
		return false
	}
	host, _, err := net.SplitHostPort(r.Host)
	if err != nil {
		return false
	}
	if host == "localhost" {
		return local.IP.IsLoopback()
	}
	ip, err := netip.ParseAddr(host)
	return err == nil && ip.Unmap() == local.AddrPort().Addr().Unmap().WithZone(ip.Zone())
}

// stream sends a page its news as server-sent events until it is closed.
func (s *Server) stream(w http.ResponseWriter, r *http.Request, v view) {
	s.mu.Lock()
	full := s.pages >= maxPages
	if !full {
		s.pages++
	}
	s.mu.Unlock()
	if full {
		w.Header().Set("Retry-After", "5")
		http.Error(w, "Too many pages are open.", http.StatusServiceUnavailable)
		return
	}
	defer func() {
		s.mu.Lock()
		s.pages--
		s.mu.Unlock()
	}()
	w.Header().Set("Content-Type", "text/event-stream")
	out := http.NewResponseController(w)
	var last message
	var told time.Time
	for {
		s.mu.Lock()
		m, fresh := s.sent[v], s.fresh
		s.mu.Unlock()
		if !bytes.Equal(m.news, last.news) || !bytes.Equal(m.shapes, last.shapes) || time.Since(told) >= tellEvery {
			out.SetWriteDeadline(time.Now().Add(takenWithin))
			if !bytes.Equal(m.shapes, last.shapes) {
				fmt.Fprintf(w, "event: shapes\ndata: %s\n\n", m.shapes)
			}
			fmt.Fprintf(w, "data: %s\n\n", m.news)
			if out.Flush() != nil {
				return
			}
			last, told = m, time.Now()
		}
		select {
		case <-s.done: // no more states are encoded
			s.mu.Lock()
			newest := bytes.Equal(s.sent[v].news, last.news)
			s.mu.Unlock()
			if newest {
				return
			}
		case <-fresh:
		case <-r.Context().Done():
			return
		}
	}
}

// boundedListener accepts as many connections at once as room holds, and closes others at
// once.
type boundedListener struct {
	net.Listener
	room chan struct{}
}

// Accept implements net.Listener.
func (l *boundedListener) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		select {
		case l.room <- struct{}{}:
		default:
			c.Close()
			continue
		}
		if tcp, ok := c.(*net.TCPConn); ok {
			tcp.SetWriteBuffer(socketBytes)
		}
		return &boundedConn{Conn: c, leave: sync.OnceFunc(func() { <-l.room })}, nil
	}
}

// boundedConn is one of the connections of a boundedListener.
type boundedConn struct {
	net.Conn
	leave func()
}

// Close implements net.Conn.
func (c *boundedConn) Close() error {
	defer c.leave()
	return c.Conn.Close()
}
