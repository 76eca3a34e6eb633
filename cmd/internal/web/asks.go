package web

import (
	"bytes"
	"context"
	"encoding/json"
	"image/jpeg"
	"net/http"
	"slices"

	"paintout/analyze/lab"
	"paintout/cmd/internal/plan"
	"paintout/inventory"
	"paintout/recipe"
)

// kit gives the curve of fewest tubes; all tubes of the box may be carried,
// whichever are taken out now, but those that the painter settled beforehand.
func (s *Server) kit(w http.ResponseWriter, r *http.Request, x *sitting) {
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) {
		open, ws, c, err := s.ready(ctx, x, p)
		if err != nil {
			return nil, err
		}
		here := func(names []string) []string { // a tube may have left the box since
			return slices.DeleteFunc(slices.Clone(names), func(n string) bool {
				return !slices.ContainsFunc(ws.Palette.Tubes, func(t *inventory.Tube) bool { return t.Name == n })
			})
		}
		k, err := open.Kit(ctx, ws, c.division(), plan.KitAsk{Tolerance: recipe.KitTolerance, Keep: here(c.Keep), Leave: here(c.Leave)}, p)
		return answer{c.Version, k}, err
	})
}

// painted is the picture as the carried tubes can paint it.
type painted struct {
	Image []byte  `json:"image"` // JPEG
	Lost  []byte  `json:"lost"`  // as for a mask: 0 kept, 1 lost, 2 far
	Kept  float64 `json:"kept"`  // share of the area
	Far   float64 `json:"far"`
}

func (s *Server) preview(w http.ResponseWriter, r *http.Request, x *sitting) {
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) {
		open, ws, c, carried, err := s.carrying(ctx, x, p)
		if err != nil {
			return nil, err
		}
		v, err := open.Preview(ctx, ws, carried, p)
		if err != nil {
			return nil, err
		}
		var b bytes.Buffer
		if err := jpeg.Encode(&b, v.Image, &jpeg.Options{Quality: 88}); err != nil {
			return nil, err
		}
		return answer{c.Version, painted{b.Bytes(), runs(v.Lost), v.Kept, v.Far}}, nil
	})
}

// place reads a touched place from the address: x, y and r as shares.
func place(r *http.Request) (at [3]float64, err error) {
	for i, n := range []string{"x", "y", "r"} {
		if at[i], err = number(r, n, 0, [3]float64{1, 1, 0.25}[i]); err != nil {
			return at, err
		}
	}
	return at, nil
}

// reach says whether the carried tubes reach a touched place, and why not.
func (s *Server) reach(w http.ResponseWriter, r *http.Request, x *sitting) {
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
		v, err := open.Reach(ctx, ws, carried, at[0], at[1], at[2], p)
		return answer{c.Version, v}, err
	})
}

// stringOf is a colour to mix as a string of piles.
func (s *Server) stringOf(w http.ResponseWriter, r *http.Request, x *sitting) {
	var ask struct {
		Aim [3]float64 `json:"aim"`
	}
	if err := read(w, r, &ask); err != nil {
		s.fail(w, err)
		return
	}
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) {
		open, ws, _, carried, err := s.carrying(ctx, x, p)
		if err != nil {
			return nil, err
		}
		return open.String(ctx, ws, carried, lab.Lab{L: ask.Aim[0], A: ask.Aim[1], B: ask.Aim[2]}, p)
	})
}

// read decodes a small JSON body.
func read(w http.ResponseWriter, r *http.Request, v any) error {
	d := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxBody))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return sayf(http.StatusBadRequest, "This could not be read: reload the page and try again.")
	}
	return nil
}

// why explains what the tubes of a mix do to each other.
func (s *Server) why(w http.ResponseWriter, r *http.Request) {
	var ask struct {
		Parts []plan.Part `json:"parts"`
	}
	if err := read(w, r, &ask); err != nil {
		s.fail(w, err)
		return
	}
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) {
		ws, err := s.bench.workspace(false)
		if err != nil {
			return nil, err
		}
		return ws.Why(ctx, ask.Parts, p)
	})
}
