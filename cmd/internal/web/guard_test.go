package web

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Who may come in, by host, origin and what the browser says of the request.
func TestGuard(t *testing.T) {
	s := newServer(t, Options{})
	h := s.Handler()
	v := begun(t, h)
	at := "/sittings/" + v.ID
	for _, c := range []struct {
		name, method, path, host, origin, fetch string
		want                                    int
	}{
		{"the page", "GET", "/", "127.0.0.1:8017", "", "none", 200},
		{"by name", "GET", "/", "localhost:8017", "", "none", 200},
		{"by IPv6", "GET", "/", "[::1]:8017", "", "none", 200},
		{"without a port", "GET", "/", "localhost", "", "none", 200},
		{"through a tunnel", "GET", "/", "localhost:9999", "", "none", 200},
		{"a script's tool", "GET", at, "127.0.0.1:8017", "", "", 200},
		{"own post", "POST", at + "/choose", "localhost:8017", "http://localhost:8017", "same-origin", 200},
		{"own post, old browser", "POST", at + "/choose", "localhost:8017", "http://localhost:8017", "", 200},
		{"a link to the page", "GET", "/", "127.0.0.1:8017", "", "cross-site", 200},

		{"a name that is made to point here", "GET", "/", "paint.example:8017", "", "none", 403},
		{"likewise for data", "GET", at, "paint.example", "", "same-origin", 403},
		{"localhost in another's name", "GET", "/", "localhost.example:8017", "", "none", 403},
		{"an address in another's name", "GET", "/", "127.0.0.1.example", "", "none", 403},
		{"another machine's address", "GET", "/", "192.0.2.7:8017", "", "none", 403},
		{"no host", "GET", "/", "", "", "none", 403},
		{"nonsense for a host", "GET", "/", "[::1", "", "none", 403},
		{"another page's post", "POST", at + "/choose", "localhost:8017", "https://paint.example", "cross-site", 403},
		{"another page's post, old browser", "POST", at + "/choose", "localhost:8017", "https://paint.example", "", 403},
		{"a post from another port here", "POST", at + "/choose", "localhost:8017", "http://localhost:3000", "same-site", 403},
		{"another page's look at data", "GET", at, "localhost:8017", "", "cross-site", 403},
		{"data for another port here", "GET", at, "localhost:8017", "", "same-site", 403},
		{"another page puts a photo away", "DELETE", at, "localhost:8017", "https://paint.example", "cross-site", 403},
	} {
		w := call(h, c.method, c.path, []byte(`{}`), func(r *http.Request) {
			r.Host = c.host
			r.Header.Del("Sec-Fetch-Site")
			if c.fetch != "" {
				r.Header.Set("Sec-Fetch-Site", c.fetch)
			}
			if c.origin != "" {
				r.Header.Set("Origin", c.origin)
			}
		})
		if w.Code != c.want {
			t.Errorf("%s: %d, want %d", c.name, w.Code, c.want)
		}
		if p := w.Header().Get("Content-Security-Policy"); strings.Contains(p, "unsafe") || !strings.Contains(p, "default-src 'none'") {
			t.Errorf("%s: the policy is %q", c.name, p)
		}
		if w.Header().Get("X-Content-Type-Options") != "nosniff" || w.Header().Get("Referrer-Policy") != "no-referrer" {
			t.Errorf("%s: headers %v", c.name, w.Header())
		}
	}
}

// Whatever stands in an address, no file but the page's own comes out.
func TestNoPathIsOpened(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "secret"), []byte("for nobody"), 0o600); err != nil {
		t.Fatal(err)
	}
	s := newServer(t, Options{Dir: filepath.Join(dir, "sittings")})
	h := s.Handler()
	begun(t, h)
	for _, p := range []string{
		"/files/../page.html", "/files/..%2f..%2fsecret", "/files/%2e%2e%2fsecret", "/files/page.html", "/files//etc/passwd", "/files/web.go",
		"/sittings/..", "/sittings/..%2f..%2fsecret", "/sittings/%2e%2e/small.jpg", "/sittings/" + url.PathEscape(filepath.Join(dir, "secret")) + "/small.jpg",
		"/sittings/%00/picture.jpg", "/etc/passwd", "/../secret",
	} {
		w := call(h, "GET", p, nil, nil)
		if w.Code == 200 || strings.Contains(w.Body.String(), "for nobody") || strings.Contains(w.Body.String(), "root:") {
			t.Errorf("%s: %d, %.60q", p, w.Code, w.Body)
		}
	}
	// A name of a file is a name to show.
	for _, name := range []string{"../../etc/passwd", `..\..\boot.ini`, "/etc/passwd", "\x00\x1b[31mred", "", "..", strings.Repeat("ü", 500) + ".jpg"} {
		var v view
		must(t, h, "POST", "/sittings?name="+url.QueryEscape(name), fieldsJPEG(t, 60, 40), &v)
		if strings.ContainsAny(v.Name, "/\\\x00\x1b") || v.Name == "" || v.Name == ".." || len(v.Name) > maxName {
			t.Errorf("%q is shown as %q", name, v.Name)
		}
	}
	// A reading that names a picture file is none.
	w := call(h, "POST", "/mend", []byte(`{"aim":[50,0,0],"readings":["`+filepath.Join(dir, "secret")+`@50%,50%"]}`), nil)
	if says := result(t, w, nil); !strings.Contains(says, "no reading") {
		t.Errorf("a file as a reading: %q", says)
	}
}

// What is no photo, too large, damaged or nonsense is refused in words, and the
// next photo is taken in.
func TestBadPhotos(t *testing.T) {
	s := newServer(t, Options{})
	h := s.Handler()
	good := fieldsJPEG(t, 300, 200)
	huge := bytes.Clone(good)
	if i := bytes.Index(huge, []byte{0xff, 0xc0}); i > 0 { // a frame of 65,500 × 65,500
		copy(huge[i+5:], []byte{0xff, 0xdc, 0xff, 0xdc})
	}
	for name, data := range map[string][]byte{
		"empty": {}, "text": []byte("this is no picture"), "cut": good[:len(good)/3], "huge": huge,
		"headers": good[:200], "zip": []byte("PK\x03\x04 and more"), "svg": []byte(`<svg xmlns="http://www.w3.org/2000/svg"/>`),
	} {
		w := call(h, "POST", "/sittings?name="+name, data, nil)
		if says := result(t, w, nil); w.Code < 400 || !strings.Contains(says, name) {
			t.Errorf("%s: %d, %q", name, w.Code, says)
		}
	}
	w := call(h, "POST", "/sittings?name=big.tif", nil, func(r *http.Request) { r.ContentLength = maxPhoto + 1 })
	if w.Code != http.StatusRequestEntityTooLarge {
		t.Errorf("a file over the limit: %d", w.Code)
	}
	w = call(h, "POST", "/sittings?name=big.tif", nil, func(r *http.Request) {
		r.ContentLength = -1
		r.Body = io.NopCloser(io.LimitReader(zeros{}, maxPhoto+10))
	})
	if w.Code != http.StatusRequestEntityTooLarge {
		t.Errorf("a stream over the limit: %d", w.Code)
	}
	begun(t, h)
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

// Choices out of bounds are refused and change nothing.
func TestBadChoices(t *testing.T) {
	s := newServer(t, Options{})
	h := s.Handler()
	v := begun(t, h)
	at := "/sittings/" + v.ID
	for _, body := range []string{
		``, `{`, `[]`, `{"k":2}`, `{"k":25}`, `{"k":"many"}`, `{"k":1e99}`, `{"crop":[0,0,0,0]}`, `{"crop":[0.5,0.5,1,1]}`, `{"crop":[0,0,1]}`, `{"crop":[-1,0,1,1]}`,
		`{"canvas":"a door"}`, `{"canvas":"1x1mm"}`, `{"grey":[2,2]}`, `{"grey":[1]}`, `{"undo":true}`, `{"film":"/etc/passwd"}`, `{"unknown":1}`,
		`{"note":{"lab":[1,2,3],"text":"` + strings.Repeat("x", maxText+1) + `"}}`, `{"out":["` + strings.Repeat("x", maxName+1) + `"]}`,
		`{"out":[` + strings.Repeat(`"x",`, 30000) + `"x"]}`,
	} {
		w := call(h, "POST", at+"/choose", []byte(body), nil)
		if says := result(t, w, nil); says == "" || w.Code < 400 {
			t.Errorf("%.40s: %d, %q", body, w.Code, says)
		}
	}
	for _, q := range []string{"", "x=0.5", "x=0.5&y=0.5&r=9", "x=-1&y=0&r=0", "x=NaN&y=0&r=0", "x=0.5&y=0.5&r=" + strings.Repeat("9", 5000)} {
		for _, what := range []string{"spot", "reach"} {
			if w := call(h, "GET", at+"/"+what+"?"+q, nil, nil); w.Code != http.StatusBadRequest {
				t.Errorf("%s?%.40s: %d", what, q, w.Code)
			}
		}
	}
	for _, p := range []string{"/values/1", "/values/99", "/values/x"} {
		if w := call(h, "GET", at+p, nil, nil); w.Code != http.StatusBadRequest {
			t.Errorf("%s: %d", p, w.Code)
		}
	}
	var now view
	must(t, h, "GET", at, nil, &now)
	if now.Choices.Version != v.Choices.Version {
		t.Errorf("refused choices have counted: version %d", now.Choices.Version)
	}
	every := `{"out":[`
	var box boxAnswer
	must(t, h, "GET", "/box", nil, &box)
	for i, tube := range box.Box.Tubes {
		if i > 0 {
			every += ","
		}
		every += fmt.Sprintf("%q", tube.Name)
	}
	must(t, h, "POST", at+"/choose", []byte(every+"]}"), nil)
	if says := result(t, call(h, "GET", at+"/mixes", nil, nil), nil); !strings.Contains(says, "put one back") {
		t.Errorf("with every tube out: %q", says)
	}
}

// A fault in one answer is that answer's alone.
func TestFaultStaysWhereItIs(t *testing.T) {
	var said bytes.Buffer
	s := newServer(t, Options{Log: log.New(&said, "", 0)})
	h := s.guard(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { panic("a fault") }))
	w := call(h, "GET", "/sittings", nil, nil)
	if w.Code != http.StatusInternalServerError || !strings.Contains(result(t, w, nil), "the rest goes on") {
		t.Errorf("%d, %q", w.Code, w.Body)
	}
	if !strings.Contains(said.String(), "a fault") {
		t.Error("nothing is said of it on the terminal")
	}
}

// With lan another device comes in with the key, once; without it, or with one
// that is spent, not.
func TestLAN(t *testing.T) {
	var keys []string
	s := newServer(t, Options{LAN: true, Say: func(k string) { keys = append(keys, k) }})
	h := s.Handler()
	own := ""
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range addrs {
		if n, ok := a.(*net.IPNet); ok && !n.IP.IsLoopback() && n.IP.To4() != nil {
			own = n.IP.String()
		}
	}
	if own == "" {
		own = "127.0.0.1" // no network here: by the loopback address
	}
	phone := func(pass *http.Cookie) func(*http.Request) {
		return func(r *http.Request) {
			r.Host, r.RemoteAddr = own+":8017", "198.51.100.9:40000"
			if pass != nil {
				r.AddCookie(pass)
			}
		}
	}
	status := func(path string, pass *http.Cookie) *httptest.ResponseRecorder {
		return call(h, "GET", path, nil, phone(pass))
	}
	if w := status("/sittings", nil); w.Code != http.StatusForbidden {
		t.Errorf("without a key: %d", w.Code)
	}
	if w := status("/", nil); w.Code != http.StatusForbidden {
		t.Errorf("the page without a key: %d", w.Code)
	}
	if w := status("/?key=wrong", nil); w.Code != http.StatusForbidden {
		t.Errorf("with a wrong key: %d", w.Code)
	}
	w := status("/?key="+keys[0], nil)
	if w.Code != http.StatusSeeOther || len(w.Result().Cookies()) != 1 || w.Header().Get("Location") != "/" {
		t.Fatalf("with the key: %d", w.Code)
	}
	pass := w.Result().Cookies()[0]
	if !pass.HttpOnly || pass.SameSite != http.SameSiteStrictMode {
		t.Errorf("the pass is %v", pass)
	}
	if w := status("/sittings", pass); w.Code != http.StatusOK {
		t.Errorf("with the pass: %d", w.Code)
	}
	if w := status("/?key="+keys[0], nil); w.Code != http.StatusForbidden {
		t.Errorf("the key a second time: %d", w.Code)
	}
	if w := status("/?key="+keys[0], pass); w.Code != http.StatusSeeOther {
		t.Errorf("its own device's bookmark: %d", w.Code)
	}
	if len(keys) != 2 || keys[0] == keys[1] {
		t.Errorf("keys %v", keys)
	}
	if w := call(h, "GET", "/sittings", nil, nil); w.Code != http.StatusOK {
		t.Errorf("on this machine: %d", w.Code)
	}
	if w := call(h, "GET", "/", nil, func(r *http.Request) { r.Host = "paint.example"; r.RemoteAddr = "198.51.100.9:1" }); w.Code != http.StatusForbidden {
		t.Errorf("by a foreign name: %d", w.Code)
	}
	plain := newServer(t, Options{})
	if w := call(plain.Handler(), "GET", "/", nil, phone(nil)); own != "127.0.0.1" && w.Code != http.StatusForbidden {
		t.Errorf("without --lan: %d", w.Code)
	}
}

// Asked to stop, the server lets what is under way be written and ends without
// an error.
func TestStops(t *testing.T) {
	dir := t.TempDir()
	s := newServer(t, Options{Dir: dir})
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx, l) }()
	home := "http://" + l.Addr().String()
	photo := fieldsJPEG(t, 900, 600)
	begun := make(chan error, 4)
	for range 4 {
		go func() {
			r, err := http.Post(home+"/sittings?name=x.jpg", "image/jpeg", bytes.NewReader(photo))
			if err == nil {
				io.Copy(io.Discard, r.Body)
				r.Body.Close()
			}
			begun <- err
		}()
	}
	time.Sleep(150 * time.Millisecond)
	stop()
	if err := <-ended; err != nil {
		t.Errorf("it ends with %v", err)
	}
	for range 4 {
		<-begun
	}
	// Every sitting on the disk is whole: photo, small picture and choices.
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		for _, f := range []string{photoFile, smallFile, choicesFile} {
			if _, err := os.Stat(filepath.Join(dir, e.Name(), f)); err != nil {
				t.Errorf("half a sitting was left: %v", err)
			}
		}
	}
}
