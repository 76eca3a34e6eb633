package web

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/jpeg"
	"io"
	"net/http"
	"path/filepath"
	"strconv"
	"strings"
	"time"
	"unicode"

	"github.com/disintegration/imaging"

	"paintout/analyze"
	"paintout/analyze/photo"
	"paintout/cmd/internal/draw"
	"paintout/cmd/internal/plan"
)

// view is all that the page shows of a sitting at first.
type view struct {
	ID      string                   `json:"id"`
	Name    string                   `json:"name"`
	Choices choices                  `json:"choices"`
	Frame   [4]float64               `json:"frame"`
	Look    *plan.AnalysisResult     `json:"look"`
	Rows    []draw.PileRow           `json:"rows"`
	Accents []draw.PileRow           `json:"accents"`
	Values  map[int][]plan.ValueStep `json:"values"`
	Greys   map[int][]string         `json:"greys"`              // as a screen shows them
	BoxSays string                   `json:"box_says,omitempty"` // why there is no box to mix from
}

// with finds the sitting that a request is about.
func (s *Server) with(f func(http.ResponseWriter, *http.Request, *sitting)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		x, err := s.keep.get(r.PathValue("id"))
		if err != nil {
			s.fail(w, err)
			return
		}
		x.mu.Lock()
		x.used = time.Now()
		x.mu.Unlock()
		f(w, r, x)
	}
}

func (x *sitting) chosen() choices {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.choices
}

// opened is the sitting's photo, read as the choices say.
func (s *Server) opened(ctx context.Context, x *sitting, c choices, p plan.Progress) (*plan.Sitting, error) {
	want := c.reading()
	x.mu.Lock()
	open := x.open
	if x.wants != want {
		open = nil
	}
	x.mu.Unlock()
	if open != nil {
		return open, nil
	}
	// One photo at a time: decoding is what takes memory.
	select {
	case s.decode <- struct{}{}:
		defer func() { <-s.decode }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	x.mu.Lock()
	if x.open != nil && x.wants == want { // meanwhile somebody else did
		defer x.mu.Unlock()
		return x.open, nil
	}
	x.mu.Unlock()
	data, err := s.keep.photo(x)
	if err != nil {
		return nil, err
	}
	o, err := want.options()
	if err != nil {
		return nil, err
	}
	if open, err = plan.NewSitting(ctx, x.name, data, o, p); err != nil {
		return nil, err
	}
	x.mu.Lock()
	if x.choices.reading() == want {
		x.open, x.wants = open, want
	}
	x.mu.Unlock()
	s.keep.settle(x)
	return open, nil
}

// view gathers what the page shows at first.
func (s *Server) view(ctx context.Context, x *sitting, c choices, p plan.Progress) (*view, error) {
	open, err := s.opened(ctx, x, c, p)
	if err != nil {
		return nil, err
	}
	v := &view{ID: x.id, Name: x.name, Choices: c.full(), Frame: open.Frame(), Values: map[int][]plan.ValueStep{}, Greys: map[int][]string{}}
	ws, err := s.bench.workspace(c.NoFit)
	if err != nil {
		v.BoxSays = err.Error()
		return v, nil
	}
	v.Look = open.Look(ws, c.division())
	if own, err := plan.BoxIsOwn(s.bench.settings.TubesFile); err == nil {
		v.Look.Warnings = append(s.minds(ws.Notes, own), v.Look.Warnings...)
	}
	v.Rows, v.Accents = draw.Piles(v.Look.Masses)
	for _, n := range []int{2, 3, 5} {
		_, steps, err := open.Values(n)
		if err != nil {
			return nil, err
		}
		v.Values[n] = steps
		for _, st := range steps {
			v.Greys[n] = append(v.Greys[n], draw.GreyOfValue(st.Value))
		}
	}
	return v, nil
}

// begin takes a photo in.
func (s *Server) begin(w http.ResponseWriter, r *http.Request) {
	name := cleanName(r.URL.Query().Get("name"))
	data, ok := s.arrived(w, r, name)
	if !ok {
		return
	}
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) {
		select {
		case s.decode <- struct{}{}:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
		open, err := plan.NewSitting(ctx, name, data, photo.Options{MaxPixels: maxPixels}, p)
		<-s.decode
		if err != nil {
			return nil, err
		}
		x := &sitting{name: name, open: open}
		if x.small, err = asJPEG(imaging.Fit(open.Picture(), 320, 320, imaging.Linear), 80); err != nil {
			return nil, err
		}
		if err := s.keep.add(x, data); err != nil {
			return nil, err
		}
		s.keep.settle(x)
		return s.view(ctx, x, x.chosen(), p)
	})
}

// arrived takes a photo's file in, or answers why not.
func (s *Server) arrived(w http.ResponseWriter, r *http.Request, name string) ([]byte, bool) {
	if r.ContentLength > maxPhoto {
		s.fail(w, sayf(http.StatusRequestEntityTooLarge, "%s has %d MB, over the limit of %d MB: save it smaller, as JPEG.", name, r.ContentLength>>20, maxPhoto>>20))
		return nil, false
	}
	select {
	case s.arrive <- struct{}{}:
		defer func() { <-s.arrive }()
	case <-r.Context().Done():
		return nil, false
	}
	data, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxPhoto))
	if err != nil {
		var big *http.MaxBytesError
		if errors.As(err, &big) {
			err = sayf(http.StatusRequestEntityTooLarge, "%s is over the limit of %d MB: save it smaller, as JPEG.", name, maxPhoto>>20)
		} else {
			err = sayf(http.StatusBadRequest, "%s did not arrive whole: send it again.", name)
		}
		s.fail(w, err)
		return nil, false
	}
	return data, true
}

// cleanName is a file's name as it may be shown: no folders, no signs that do
// not show.
func cleanName(given string) string {
	given = filepath.Base(strings.ReplaceAll(given, `\`, "/"))
	given = strings.Map(func(c rune) rune {
		if !unicode.IsPrint(c) {
			return -1
		}
		return c
	}, given)
	if len(given) > maxName {
		given = strings.ToValidUTF8(given[:maxName], "")
	}
	if given == "" || given == "." || given == ".." || given == "/" {
		return "the photo"
	}
	return given
}

func asJPEG(img image.Image, quality int) ([]byte, error) {
	var b bytes.Buffer
	err := jpeg.Encode(&b, img, &jpeg.Options{Quality: quality})
	return b.Bytes(), err
}

// listed is a sitting as the first page lists it.
type listed struct {
	ID    string    `json:"id"`
	Name  string    `json:"name"`
	Used  time.Time `json:"used"`
	Mixed int       `json:"mixed"`
}

func (s *Server) list(w http.ResponseWriter, r *http.Request) {
	out := []listed{}
	for _, x := range s.keep.list() {
		x.mu.Lock()
		out = append(out, listed{x.id, x.name, x.used, len(x.choices.Mixed)})
		x.mu.Unlock()
	}
	s.json(w, http.StatusOK, map[string]any{"sittings": out, "most": maxSittings, "kept": s.o.Dir != ""})
}

func (s *Server) putAway(w http.ResponseWriter, r *http.Request) {
	if err := s.keep.away(r.PathValue("id")); err != nil {
		s.fail(w, err)
		return
	}
	s.json(w, http.StatusOK, map[string]bool{"away": true})
}

func (s *Server) state(w http.ResponseWriter, r *http.Request, x *sitting) {
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) { return s.view(ctx, x, x.chosen(), p) })
}

// choose makes a change; one that cannot be carried out is not kept.
func (s *Server) choose(w http.ResponseWriter, r *http.Request, x *sitting) {
	var ch change
	if err := read(w, r, &ch); err != nil {
		s.fail(w, err)
		return
	}
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) {
		was := x.chosen()
		frame := [4]float64{0, 0, 1, 1}
		if ch.Grey != nil && len(*ch.Grey) > 0 {
			open, err := s.opened(ctx, x, was, p)
			if err != nil {
				return nil, err
			}
			frame = open.Frame()
		}
		next, err := was.with(ch, frame)
		if err != nil {
			return nil, err
		}
		if next.reading() != was.reading() {
			// Read it first: a place that cannot have been grey changes nothing.
			if err := s.reread(ctx, x, next, p); err != nil {
				return nil, err
			}
		}
		x.mu.Lock()
		// Another window may have chosen something meanwhile: change that.
		if next, err = x.choices.with(ch, frame); err == nil {
			x.choices, x.used = next, time.Now()
		}
		x.mu.Unlock()
		if err != nil {
			return nil, err
		}
		if err := s.keep.save(x); err != nil {
			return nil, sayf(http.StatusInsufficientStorage, "Your choice holds for now but could not be written to the disk (%v): free some space.", err)
		}
		return s.view(ctx, x, next, p)
	})
}

// reread reads the photo in another way, and keeps it so read.
func (s *Server) reread(ctx context.Context, x *sitting, next choices, p plan.Progress) error {
	select {
	case s.decode <- struct{}{}:
		defer func() { <-s.decode }()
	case <-ctx.Done():
		return ctx.Err()
	}
	data, err := s.keep.photo(x)
	if err != nil {
		return err
	}
	o, err := next.reading().options()
	if err != nil {
		return err
	}
	open, err := plan.NewSitting(ctx, x.name, data, o, p)
	if err != nil {
		return err
	}
	x.mu.Lock()
	x.open, x.wants = open, next.reading()
	x.mu.Unlock()
	s.keep.settle(x)
	return nil
}

// ready is the sitting's photo and the box, for the requests that follow.
func (s *Server) ready(ctx context.Context, x *sitting, p plan.Progress) (*plan.Sitting, *plan.Workspace, choices, error) {
	c := x.chosen()
	open, err := s.opened(ctx, x, c, p)
	if err != nil {
		return nil, nil, c, err
	}
	ws, err := s.bench.workspace(c.NoFit)
	return open, ws, c, err
}

func (s *Server) picture(w http.ResponseWriter, r *http.Request, x *sitting) {
	open, err := s.opened(r.Context(), x, x.chosen(), nil)
	if err != nil {
		s.fail(w, err)
		return
	}
	s.jpeg(w, open.Picture())
}

func (s *Server) jpeg(w http.ResponseWriter, img image.Image) {
	data, err := asJPEG(img, 88)
	if err != nil {
		s.fail(w, err)
		return
	}
	w.Header().Set("Content-Type", "image/jpeg")
	w.Write(data)
}

func (s *Server) small(w http.ResponseWriter, r *http.Request) {
	x, err := s.keep.get(r.PathValue("id"))
	var data []byte
	if err == nil {
		data, err = s.keep.thumb(x)
	}
	if err != nil {
		s.fail(w, err)
		return
	}
	w.Header().Set("Content-Type", "image/jpeg")
	w.Write(data)
}

// whole is the picture without its crop, to crop it anew.
func (s *Server) whole(w http.ResponseWriter, r *http.Request, x *sitting) {
	c := x.chosen()
	if c.Crop == nil && c.Canvas == "" {
		s.picture(w, r, x)
		return
	}
	select {
	case s.decode <- struct{}{}:
		defer func() { <-s.decode }()
	case <-r.Context().Done():
		return
	}
	data, err := s.keep.photo(x)
	if err != nil {
		s.fail(w, err)
		return
	}
	c.Crop, c.Canvas = nil, ""
	o, err := c.reading().options()
	if err != nil {
		s.fail(w, err)
		return
	}
	p, err := photo.Decode(x.name, data, o)
	if err != nil {
		s.fail(w, err)
		return
	}
	s.jpeg(w, p.Preview(1200))
}

// masses gives every pixel its mass: width, height, then runs.
func (s *Server) masses(w http.ResponseWriter, r *http.Request, x *sitting) {
	open, _, c, err := s.ready(r.Context(), x, nil)
	if err != nil {
		s.fail(w, err)
		return
	}
	s.mask(w, open.Mask(c.division()), c.Version)
}

func (s *Server) values(w http.ResponseWriter, r *http.Request, x *sitting) {
	steps, err := strconv.Atoi(r.PathValue("steps"))
	if err != nil || steps < analyze.StepsMin || steps > analyze.StepsMax {
		s.fail(w, sayf(http.StatusBadRequest, "A picture is shown in %d to %d values.", analyze.StepsMin, analyze.StepsMax))
		return
	}
	open, _, c, err := s.ready(r.Context(), x, nil)
	if err != nil {
		s.fail(w, err)
		return
	}
	m, _, err := open.Values(steps)
	if err != nil {
		s.fail(w, err)
		return
	}
	s.mask(w, m, c.Version)
}

// mask writes an index map as runs: a byte for the index, then the length of the
// run as an unsigned varint. Width and height go before as varints.
func (s *Server) mask(w http.ResponseWriter, m *analyze.Mask, version int) {
	w.Header().Set("Content-Type", "application/octet-stream")
	w.Header().Set("Paintout-Version", strconv.Itoa(version))
	w.Write(runs(m))
}

func runs(m *analyze.Mask) []byte {
	out := make([]byte, 0, 1<<16)
	varint := func(v int) {
		for ; v >= 0x80; v >>= 7 {
			out = append(out, byte(v)|0x80)
		}
		out = append(out, byte(v))
	}
	varint(m.W)
	varint(m.H)
	for i := 0; i < len(m.Index); {
		j := i + 1
		for j < len(m.Index) && m.Index[j] == m.Index[i] {
			j++
		}
		out = append(out, m.Index[i])
		varint(j - i)
		i = j
	}
	return out
}

// answer is a result with the version of the choices that it was made for.
// carrying is ready, with the tubes that are carried.
func (s *Server) carrying(ctx context.Context, x *sitting, p plan.Progress) (open *plan.Sitting, ws *plan.Workspace, c choices, carried plan.Carried, err error) {
	if open, ws, c, err = s.ready(ctx, x, p); err == nil {
		carried, err = ws.Carry(c.Out)
	}
	return open, ws, c, carried, err
}

type answer struct {
	Version int `json:"version"`
	Answer  any `json:"answer"`
}

func (s *Server) mixes(w http.ResponseWriter, r *http.Request, x *sitting) {
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) {
		open, ws, c, carried, err := s.carrying(ctx, x, p)
		if err != nil {
			return nil, err
		}
		m, err := open.Mixes(ctx, ws, c.division(), carried, p)
		return answer{c.Version, m}, err
	})
}

// spot answers for a touched place: x, y and r as shares.
func (s *Server) spot(w http.ResponseWriter, r *http.Request, x *sitting) {
	at, err := place(r)
	if err != nil {
		s.fail(w, err)
		return
	}
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) {
		open, ws, c, carried, err := s.carrying(ctx, x, p)
		if err != nil {
			return nil, err
		}
		sp, err := open.Spot(ctx, ws, c.division(), carried, at[0], at[1], at[2], p)
		return answer{c.Version, sp}, err
	})
}
