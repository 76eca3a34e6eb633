package web

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"net/http"
	"path/filepath"
	"slices"
	"strings"

	"paintout/analyze/lab"
	"paintout/analyze/photo"
	"paintout/cmd/internal/draw"
	"paintout/cmd/internal/plan"
)

var photoOptions = photo.Options{MaxPixels: maxPixels}

// labText writes a colour as [lab.ParseTarget] reads it behind "lab:".
func labText(c lab.Lab) string { return fmt.Sprintf("%.4f,%.4f,%.4f", c.L, c.A, c.B) }

// made is the plan of a sitting as the painter has chosen.
func (s *Server) made(ctx context.Context, x *sitting, brief bool, p plan.Progress) (*plan.Made, choices, error) {
	open, ws, c, carried, err := s.carrying(ctx, x, p)
	if err != nil {
		return nil, c, err
	}
	film, err := plan.ParseFilm(c.film())
	if err != nil {
		return nil, c, err
	}
	m, err := open.Plan(ctx, ws, c.division(), carried, film, brief, p)
	return m, c, err
}

// plan gives the plan without its pictures and without strings to premix.
func (s *Server) plan(w http.ResponseWriter, r *http.Request, x *sitting) {
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) {
		m, c, err := s.made(ctx, x, true, p)
		if err != nil {
			return nil, err
		}
		out := planAnswer{Plan: m.Plan, Says: map[string]string{}, Film: c.film()}
		for i := range m.Plan.Squeeze {
			out.Says[m.Plan.Squeeze[i].Tube] = m.Plan.Squeeze[i].Words()
		}
		return answer{c.Version, out}, nil
	})
}

// planAnswer is a plan with what to squeeze out of each tube, in words.
type planAnswer struct {
	*plan.Plan
	Says map[string]string `json:"squeeze_says"`
	Film string            `json:"film"`
}

// download is a file for the browser to save.
type download struct {
	Name string `json:"name"`
	Kind string `json:"kind"`
	Data []byte `json:"data"`
}

// sheet is the sheet for the easel, to print.
func (s *Server) sheet(w http.ResponseWriter, r *http.Request, x *sitting) {
	paper := draw.A4
	if r.URL.Query().Get("paper") == "letter" {
		paper = draw.Letter
	}
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) {
		m, _, err := s.made(ctx, x, false, p)
		if err != nil {
			return nil, err
		}
		b := draw.Booklet{Title: m.Plan.Title}
		if err := b.AddSheet(m.Plan, m.Pictures, paper); err != nil {
			return nil, err
		}
		var out bytes.Buffer
		if err := b.PDF(&out); err != nil {
			return nil, err
		}
		return download{bare(x.name) + "-sheet.pdf", "application/pdf", out.Bytes()}, nil
	})
}

// easel is the page that opens on a phone without a network, the pictures for
// the wall with it.
func (s *Server) easel(w http.ResponseWriter, r *http.Request, x *sitting) {
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) {
		files, err := s.drawn(ctx, x, p)
		if err != nil {
			return nil, err
		}
		i := slices.IndexFunc(files, func(f draw.File) bool { return f.Name == "plan.html" })
		return download{bare(x.name) + "-plan.html", "text/html", files[i].Data}, nil
	})
}

// drawn is all that a plan's folder holds.
func (s *Server) drawn(ctx context.Context, x *sitting, p plan.Progress) ([]draw.File, error) {
	m, _, err := s.made(ctx, x, false, p)
	if err != nil {
		return nil, err
	}
	own := *m.Plan // its warnings grow
	own.Warnings = slices.Clone(own.Warnings)
	p("drawing", 0, 1)
	return draw.Folder(ctx, m.Kit, &own, m.Pictures, draw.A4)
}

// folder is all that a plan's folder holds, in one file.
func (s *Server) folder(w http.ResponseWriter, r *http.Request, x *sitting) {
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) {
		files, err := s.drawn(ctx, x, p)
		if err != nil {
			return nil, err
		}
		name := bare(x.name) + "-plan"
		var out bytes.Buffer
		z := zip.NewWriter(&out)
		for _, f := range files {
			e, err := z.Create(name + "/" + f.Name)
			if err != nil {
				return nil, err
			}
			if _, err := e.Write(f.Data); err != nil {
				return nil, err
			}
		}
		if err := z.Close(); err != nil {
			return nil, err
		}
		return download{name + ".zip", "application/zip", out.Bytes()}, nil
	})
}

// bare is a photo's name without what says its kind.
func bare(name string) string {
	if b := strings.TrimSuffix(name, filepath.Ext(name)); b != "" {
		return b
	}
	return name
}
