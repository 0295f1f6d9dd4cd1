package secondscreen

import (
	"bytes"
	"fmt"
	"io"
	"net"
	"slices"
	"strings"

	"github.com/mdp/qrterminal/v3"
)

// address returns the address of the page for the fitter or for the dancer.
func (s *Server) address(v view) string {
	host := "127.0.0.1"
	if s.lan {
		host = lanAddress()
	}
	return fmt.Sprintf("http://%s:%d%s", host, s.port, s.path(v))
}

// FitterAddress returns the address of the page for the fitter.
func (s *Server) FitterAddress() string { return s.address(fitterView) }

// DancerAddress returns the address of the page for the dancer.
func (s *Server) DancerAddress() string { return s.address(dancerView) }

// Announce writes both addresses, on a local network with a note on who can see them, and
// with qr also as QR codes, which take 78 columns.
func (s *Server) Announce(w io.Writer, qr bool) {
	fmt.Fprintf(w, "second screen\n  fitter  %s\n  dancer  %s\n", s.FitterAddress(), s.DancerAddress())
	if !s.lan {
		return
	}
	fmt.Fprintln(w, "These addresses hold for this run only. It is plain HTTP: whoever is on this\nnetwork could see what is shown. No code of a dancer is shown.")
	if qr {
		fmt.Fprint(w, sideBySide("fitter", code(s.FitterAddress()), "dancer", code(s.DancerAddress())))
	}
}

// code returns the lines of a QR code (ISO/IEC 18004), drawn with half blocks in black on
// white whatever colours the terminal has. In capitals the address needs a smaller code.
func code(address string) []string {
	var b bytes.Buffer
	qrterminal.GenerateWithConfig(strings.ToUpper(address), qrterminal.Config{
		Level: qrterminal.L, Writer: &b, HalfBlocks: true, QuietZone: 4,
		BlackChar: qrterminal.BLACK_BLACK, WhiteChar: qrterminal.WHITE_WHITE,
		BlackWhiteChar: qrterminal.BLACK_WHITE, WhiteBlackChar: qrterminal.WHITE_BLACK,
	})
	return strings.Split(strings.TrimRight(b.String(), "\n"), "\n")
}

// sideBySide returns two QR codes side by side below their names.
func sideBySide(nameA string, a []string, nameB string, b []string) string {
	const gap = "  "
	wide := len([]rune(a[0]))
	out := &strings.Builder{}
	fmt.Fprintf(out, "%-*s%s%s\n", wide, nameA, gap, nameB)
	for i := range min(len(a), len(b)) {
		fmt.Fprintf(out, "\x1b[97;40m%s\x1b[0m%s\x1b[97;40m%s\x1b[0m\n", a[i], gap, b[i])
	}
	return out.String()
}

// lanAddress returns the address of this computer on the local network: of IPv4, of a
// private network rather than a public one. Without a network it is the loopback address.
func lanAddress() string {
	best := "127.0.0.1"
	all, err := net.InterfaceAddrs()
	if err != nil {
		return best
	}
	i := slices.IndexFunc(all, func(a net.Addr) bool { return isLAN(a) && a.(*net.IPNet).IP.IsPrivate() })
	if i < 0 {
		i = slices.IndexFunc(all, isLAN)
	}
	if i >= 0 {
		best = all[i].(*net.IPNet).IP.String()
	}
	return best
}

func isLAN(a net.Addr) bool {
	n, ok := a.(*net.IPNet)
	return ok && n.IP.To4() != nil && n.IP.IsGlobalUnicast()
}
