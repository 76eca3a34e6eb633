package web

import (
	"bytes"
	"encoding/json"
	"image"
	"image/color"
	"image/jpeg"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"paintout/cmd/internal/plan"
	"paintout/recipe"
)

// newServer makes a server with a configuration folder of the test's own, and so
// with the starter box.
func newServer(t testing.TB, o Options) *Server {
	t.Helper()
	t.Setenv("HOME", t.TempDir())
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	if o.Settings.PortionError == 0 {
		o.Settings = plan.Settings{PortionError: recipe.KnifeError}
	}
	s, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// fields is a picture of a few plain fields, light above and dark below, with a
// small red accent.
func fieldsJPEG(t testing.TB, w, h int) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	bands := []color.RGBA{{205, 212, 218, 255}, {140, 165, 196, 255}, {150, 152, 110, 255}, {98, 104, 58, 255}, {58, 52, 46, 255}}
	for y := range h {
		for x := range w {
			c := bands[y*len(bands)/h]
			if (x*10/w+y*7/h)%3 == 0 { // some life in each
				c.R, c.G = c.R-6, c.G-4
			}
			if x > w*7/10 && x < w*73/100 && y > h/2 && y < h*53/100 {
				c = color.RGBA{196, 44, 32, 255}
			}
			img.SetRGBA(x, y, c)
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 92}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// call sends a request without a socket, as the page's own browser would.
func call(s http.Handler, method, path string, body []byte, change func(*http.Request)) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, path, bytes.NewReader(body))
	r.Host = "127.0.0.1:8017"
	r.RemoteAddr = "127.0.0.1:50000"
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	if change != nil {
		change(r)
	}
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

// result reads the last line of an answer into v, and gives the error it says.
func result(t testing.TB, w *httptest.ResponseRecorder, v any) string {
	t.Helper()
	text := strings.TrimSpace(w.Body.String())
	if i := strings.LastIndexByte(text, '\n'); i >= 0 {
		text = text[i+1:]
	}
	var l struct {
		Error  string          `json:"error"`
		Result json.RawMessage `json:"result"`
	}
	if err := json.Unmarshal([]byte(text), &l); err != nil {
		t.Fatalf("status %d, %q is no answer: %v", w.Code, text, err)
	}
	if v != nil && l.Error == "" {
		from := []byte(l.Result)
		if from == nil {
			from = []byte(text)
		}
		if err := json.Unmarshal(from, v); err != nil {
			t.Fatalf("%q: %v", from, err)
		}
	}
	return l.Error
}

// answered is an answer with the version it is for.
type answered[T any] struct {
	Version int `json:"version"`
	Answer  T   `json:"answer"`
}

// must is for requests that have to succeed.
func must(t testing.TB, s http.Handler, method, path string, body any, v any) {
	t.Helper()
	data, ok := body.([]byte)
	if !ok && body != nil {
		var err error
		if data, err = json.Marshal(body); err != nil {
			t.Fatal(err)
		}
	}
	w := call(s, method, path, data, nil)
	if says := result(t, w, v); says != "" || w.Code != http.StatusOK {
		t.Fatalf("%s %s: %d, %s", method, path, w.Code, says)
	}
}

// begun is a sitting on the fields.
func begun(t testing.TB, s http.Handler) *view {
	t.Helper()
	var v view
	must(t, s, "POST", "/sittings?name=fields.jpg", fieldsJPEG(t, 300, 200), &v)
	return &v
}
