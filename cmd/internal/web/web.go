// Package web is the page to work on: a server for one painter on one machine,
// and the files that their browser needs, embedded. The questions are answered
// by package plan; here they are asked, bounded and put into words of HTTP.
//
// Start from [New], which gives a [Server]; its Handler can be tried without a
// socket, [Server.Serve] listens. What comes in is not trusted: hosts and
// origins are checked, bodies, pixels and numbers bounded, and no name that a
// request gives reaches the file system.
package web

import (
	"context"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log"
	"mime"
	"net"
	"net/http"
	"path"
	"strings"
	"sync"
	"time"

	"paintout/cmd/internal/plan"
)

//go:embed assets
var assets embed.FS

// Limits.
const (
	maxPhoto    = 200 << 20  // bytes of a photo: 24 million pixels at 16 bits, uncompressed, and more
	maxPixels   = 64_000_000 // of a photo
	maxArriving = 3          // photos taken in at once
	maxBody     = 64 << 10   // bytes of any other request but readings
	maxTable    = 4 << 20    // bytes of a file of readings or tubes
	writeLimit  = 30 * time.Second
)

// Options say what to serve.
type Options struct {
	Settings plan.Settings
	// Dir is where sittings are kept between runs; empty keeps them in memory
	// only.
	Dir string
	// LAN lets other devices in that show a key once; Say is told of each new
	// key.
	LAN bool
	Say func(key string)
	Log *log.Logger // nil for none
}

// Server answers the page.
type Server struct {
	o      Options
	bench  bench
	keep   *keeper
	door   *door
	log    *log.Logger
	files  map[string]asset
	ending context.Context // ends all work
	end    context.CancelFunc
	decode chan struct{} // one photo is decoded at a time
	arrive chan struct{} // and few are taken in at once
}

type asset struct {
	kind string
	data []byte
}

// New prepares a server. It fails where Dir cannot be used.
func New(o Options) (*Server, error) {
	s := &Server{o: o, log: o.Log, files: map[string]asset{}, decode: make(chan struct{}, 1), arrive: make(chan struct{}, maxArriving)}
	if s.log == nil {
		s.log = log.New(io.Discard, "", 0)
	}
	s.ending, s.end = context.WithCancel(context.Background())
	s.bench.settings = o.Settings
	entries, err := assets.ReadDir("assets")
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		data, err := assets.ReadFile("assets/" + e.Name())
		if err != nil {
			return nil, err
		}
		s.files[e.Name()] = asset{mime.TypeByExtension(path.Ext(e.Name())), data}
	}
	if s.keep, err = openKeeper(o.Dir); err != nil {
		return nil, err
	}
	s.door = newDoor(o.LAN, o.Say)
	return s, nil
}

// Handler is the whole page behind its checks.
func (s *Server) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.page)
	mux.HandleFunc("GET /files/{name}", s.file)
	mux.HandleFunc("GET /sittings", s.list)
	mux.HandleFunc("POST /sittings", s.begin)
	mux.HandleFunc("GET /sittings/{id}", s.with(s.state))
	mux.HandleFunc("DELETE /sittings/{id}", s.putAway)
	mux.HandleFunc("POST /sittings/{id}/choose", s.with(s.choose))
	mux.HandleFunc("GET /sittings/{id}/picture.jpg", s.with(s.picture))
	mux.HandleFunc("GET /sittings/{id}/small.jpg", s.small)
	mux.HandleFunc("GET /sittings/{id}/whole.jpg", s.with(s.whole))
	mux.HandleFunc("GET /sittings/{id}/masses", s.with(s.masses))
	mux.HandleFunc("GET /sittings/{id}/values/{steps}", s.with(s.values))
	mux.HandleFunc("GET /sittings/{id}/mixes", s.with(s.mixes))
	mux.HandleFunc("GET /sittings/{id}/spot", s.with(s.spot))
	mux.HandleFunc("GET /sittings/{id}/kit", s.with(s.kit))
	mux.HandleFunc("GET /sittings/{id}/painted", s.with(s.preview))
	mux.HandleFunc("GET /sittings/{id}/reach", s.with(s.reach))
	mux.HandleFunc("POST /why", s.why)
	mux.HandleFunc("POST /sittings/{id}/string", s.with(s.stringOf))
	mux.HandleFunc("GET /sittings/{id}/plan", s.with(s.plan))
	mux.HandleFunc("GET /sittings/{id}/sheet", s.with(s.sheet))
	mux.HandleFunc("GET /sittings/{id}/folder", s.with(s.folder))
	mux.HandleFunc("GET /sittings/{id}/easel", s.with(s.easel))
	mux.HandleFunc("GET /box", s.box)
	mux.HandleFunc("POST /box", s.changeBox)
	mux.HandleFunc("POST /box/readings", s.readings)
	mux.HandleFunc("POST /box/swatches", s.swatches)
	mux.HandleFunc("GET /pigments", s.pigments)
	mux.HandleFunc("POST /mend", s.mend)
	return s.guard(mux)
}

// Serve answers on a listener until ctx ends; then it stops all work, lets
// answers and writes finish, and returns nil.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	srv := &http.Server{
		Handler: s.Handler(), ErrorLog: s.log,
		ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 5 * time.Minute, WriteTimeout: 15 * time.Minute, IdleTimeout: 2 * time.Minute,
		MaxHeaderBytes: 32 << 10,
		BaseContext:    func(net.Listener) context.Context { return s.ending },
	}
	failed := make(chan error, 1)
	go func() { failed <- srv.Serve(l) }()
	select {
	case err := <-failed:
		s.end()
		return err
	case <-ctx.Done():
	}
	s.end()
	patience, stop := context.WithTimeout(context.Background(), 10*time.Second)
	defer stop()
	if err := srv.Shutdown(patience); err != nil {
		srv.Close()
	}
	s.keep.wait()
	return nil
}

// said is an error that a painter can read, with its status.
type said struct {
	status int
	err    error
}

func (e said) Error() string { return e.err.Error() }
func (e said) Unwrap() error { return e.err }

func sayf(status int, format string, args ...any) error {
	return said{status, fmt.Errorf(format, args...)}
}

// statusOf is the status for an error: those of package plan are about what was
// asked.
func statusOf(err error) int {
	var e said
	if errors.As(err, &e) {
		return e.status
	}
	var big *http.MaxBytesError
	if errors.As(err, &big) {
		return http.StatusRequestEntityTooLarge
	}
	return http.StatusUnprocessableEntity
}

func (s *Server) fail(w http.ResponseWriter, err error) {
	s.json(w, statusOf(err), map[string]string{"error": err.Error()})
}

func (s *Server) json(w http.ResponseWriter, status int, v any) {
	data, err := json.Marshal(v)
	if err != nil {
		s.log.Printf("an answer could not be written as JSON: %v", err)
		status, data = http.StatusInternalServerError, []byte(`{"error":"This could not be put into an answer; please report it."}`)
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(status)
	w.Write(data)
}

// Work that takes longer than this reports how far it is.
const (
	quiet = 400 * time.Millisecond
	pace  = 100 * time.Millisecond
)

// line is one line of an answer that reports on its way.
type line struct {
	Stage  string `json:"stage,omitempty"`
	Done   int    `json:"done,omitempty"`
	All    int    `json:"all,omitempty"`
	Error  string `json:"error,omitempty"`
	Result any    `json:"result,omitempty"`
}

// work answers with lines of JSON: how far it is, where that takes long, then
// the result or an error. It ends when the browser has moved on.
func (s *Server) work(w http.ResponseWriter, r *http.Request, do func(ctx context.Context, p plan.Progress) (any, error)) {
	rc := http.NewResponseController(w)
	var mu sync.Mutex
	begun, ended := false, false
	put := func(l line) {
		data, err := json.Marshal(l)
		if err != nil {
			s.log.Printf("an answer could not be written as JSON: %v", err)
			data = []byte(`{"error":"This could not be put into an answer; please report it."}`)
		}
		rc.SetWriteDeadline(time.Now().Add(writeLimit))
		w.Write(append(data, '\n'))
		rc.Flush()
	}
	begin := func(status int) {
		if !begun {
			begun = true
			w.Header().Set("Content-Type", "application/x-ndjson; charset=utf-8")
			w.WriteHeader(status)
		}
	}
	start := time.Now()
	last := start
	progress := func(stage string, done, all int) {
		mu.Lock()
		defer mu.Unlock()
		now := time.Now()
		if ended || now.Sub(start) < quiet || now.Sub(last) < pace {
			return
		}
		last = now
		begin(http.StatusOK)
		put(line{Stage: stage, Done: done, All: all})
	}
	v, err := do(r.Context(), progress)
	mu.Lock()
	defer mu.Unlock()
	ended = true
	if r.Context().Err() != nil {
		if s.ending.Err() != nil && !begun {
			begin(http.StatusServiceUnavailable)
			put(line{Error: "The program was stopped. Start it again and reload this page: your work is kept."})
		}
		return
	}
	if err != nil {
		begin(statusOf(err))
		put(line{Error: err.Error()})
		return
	}
	begin(http.StatusOK)
	put(line{Result: v})
}

func (s *Server) page(w http.ResponseWriter, r *http.Request) {
	if s.door.comesIn(w, r) {
		return
	}
	f := s.files["page.html"]
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Write(f.data)
}

// file gives one of the embedded files, by a name that is a key and no path.
func (s *Server) file(w http.ResponseWriter, r *http.Request) {
	f, ok := s.files[r.PathValue("name")]
	if !ok || strings.HasSuffix(r.PathValue("name"), ".html") {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", f.kind)
	w.Write(f.data)
}
