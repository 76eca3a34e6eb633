package web

import (
	"crypto/rand"
	"crypto/subtle"
	"net"
	"net/http"
	"net/netip"
	"runtime/debug"
	"strings"
	"sync"
)

// policy lets the page use its own files and nothing else.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; " +
	"form-action 'none'; base-uri 'none'; frame-ancestors 'none'"

// guard lets through what comes from the page itself, on this machine or, with a
// key, from another, and sees to it that a fault in one answer stays there.
func (s *Server) guard(next http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.fail(w, sayf(http.StatusForbidden, "This came from another page. Use the page at the address that paintout printed."))
	}))
	inner := cross.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			if v := recover(); v != nil {
				if v == http.ErrAbortHandler {
					panic(v)
				}
				s.log.Printf("%s %s failed: %v\n%s", r.Method, r.URL.Path, v, debug.Stack())
				s.fail(w, sayf(http.StatusInternalServerError, "Something went wrong inside with this; the rest goes on. Please report it."))
			}
		}()
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		switch {
		case !s.door.knowsHost(r.Host):
			s.fail(w, sayf(http.StatusForbidden, "This address is not the page's own. Use the one that paintout printed."))
			return
		case r.URL.Path != "/" && foreign(r):
			s.fail(w, sayf(http.StatusForbidden, "This came from another page. Use the page at the address that paintout printed."))
			return
		case !s.door.lets(r):
			s.fail(w, sayf(http.StatusForbidden, "This device has not shown its key yet: open the address with the key that paintout printed. Each key opens the page for one device."))
			return
		}
		inner.ServeHTTP(w, r)
	})
}

// door decides who comes in. Without lan it is this machine only; with it,
// another device shows a key from the address once and keeps a pass in a cookie.
type door struct {
	lan    bool
	say    func(key string)
	mu     sync.Mutex
	key    string
	passes map[string]bool
}

const (
	passCookie = "paintout-pass"
	maxPasses  = 64
)

func newDoor(lan bool, say func(string)) *door {
	d := &door{lan: lan, say: say, passes: map[string]bool{}}
	if lan {
		d.key = rand.Text()
		if say != nil {
			say(d.key)
		}
	}
	return d
}

// knowsHost reports whether a Host header names this machine: localhost, or an
// address in figures, which no foreign name server can turn to here. Without lan
// the address must be a loopback one.
func (d *door) knowsHost(host string) bool {
	name := host
	if h, _, err := net.SplitHostPort(host); err == nil {
		name = h
	} else if inner, ok := strings.CutPrefix(host, "["); ok {
		if name, ok = strings.CutSuffix(inner, "]"); !ok {
			return false
		}
	}
	if strings.EqualFold(name, "localhost") {
		return true
	}
	ip, err := netip.ParseAddr(name)
	if err != nil {
		return false
	}
	return ip.IsLoopback() || d.lan && ip.Zone() == "" && own(ip)
}

// own reports whether an address is one of this machine's.
func own(ip netip.Addr) bool {
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		return false
	}
	for _, a := range addrs {
		if n, ok := a.(*net.IPNet); ok {
			if b, ok := netip.AddrFromSlice(n.IP); ok && b.Unmap() == ip.Unmap() {
				return true
			}
		}
	}
	return false
}

// lets reports whether a request may come in.
func (d *door) lets(r *http.Request) bool {
	if !d.lan || fromHere(r) || r.Method == http.MethodGet && r.URL.Path == "/" && r.URL.Query().Has("key") {
		return true
	}
	c, err := r.Cookie(passCookie)
	if err != nil {
		return false
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.passes[c.Value]
}

// fromHere reports whether a request comes from this machine.
func fromHere(r *http.Request) bool {
	ap, err := netip.ParseAddrPort(r.RemoteAddr)
	return err == nil && ap.Addr().Unmap().IsLoopback()
}

// comesIn takes a key from the address: a good one is spent, a pass given for
// it, and the browser sent on to the address without it.
func (d *door) comesIn(w http.ResponseWriter, r *http.Request) bool {
	key := r.URL.Query().Get("key")
	if !d.lan || key == "" {
		return false
	}
	d.mu.Lock()
	good := len(d.passes) < maxPasses && subtle.ConstantTimeCompare([]byte(key), []byte(d.key)) == 1
	var pass, fresh string
	if good {
		pass, fresh = rand.Text(), rand.Text()
		d.passes[pass], d.key = true, fresh
	}
	d.mu.Unlock()
	if !good {
		if c, err := r.Cookie(passCookie); err == nil {
			d.mu.Lock()
			in := d.passes[c.Value]
			d.mu.Unlock()
			if in { // a bookmark of the first address
				http.Redirect(w, r, "/", http.StatusSeeOther)
				return true
			}
		}
		http.Error(w, "This key has been used or is not the present one. Use the newest address that paintout printed.", http.StatusForbidden)
		return true
	}
	if d.say != nil {
		d.say(fresh)
	}
	http.SetCookie(w, &http.Cookie{Name: passCookie, Value: pass, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode, MaxAge: 7 * 24 * 3600})
	http.Redirect(w, r, "/", http.StatusSeeOther)
	return true
}

// foreign reports whether the browser says that another page asks.
func foreign(r *http.Request) bool {
	site := r.Header.Get("Sec-Fetch-Site")
	return site != "" && site != "same-origin" && site != "none"
}
