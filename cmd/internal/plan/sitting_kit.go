package plan

import (
	"context"
	"fmt"
	"slices"

	"paintout/recipe"
)

// kitPhoto is the sitting's photo as a kit sees it.
func (s *Sitting) kitPhoto(w *Workspace, d Division) kitPhoto {
	a := s.cut(d)
	return kitPhoto{s.study.photo.Name, w.masses(a), slices.Concat(s.study.photo.Notes, a.Warnings)}
}

// Kit finds the fewest tubes of the workspace for the masses of a division, and
// the curve of what any number of them can do.
func (s *Sitting) Kit(ctx context.Context, w *Workspace, d Division, ask KitAsk, progress Progress) (*KitPlan, error) {
	all := w
	w, err := w.choosing(ask)
	if err != nil {
		return nil, err
	}
	if n := len(w.Palette.Tubes); n > recipe.KitBox {
		return nil, fmt.Errorf("%d tubes are more than the %d that a kit is chosen among while you look on: take some out", n, recipe.KitBox)
	}
	photos := []kitPhoto{s.kitPhoto(all, d)}
	k, err := w.kit(ctx, photos, ask, false, progress)
	if err != nil {
		return nil, err
	}
	out, err := w.kitPlan(ctx, all, k, photos, ask, false)
	if err != nil {
		return nil, err
	}
	return &out, nil
}

// Plan is the whole job for the sitting's photo with the tubes that are carried,
// paint measured out for the canvas it was cut to, if it was, laid as thick as
// film says. The tubes come with it, to draw wheel and chart of. A brief plan
// has no strings to premix, which take longest.
func (s *Sitting) Plan(ctx context.Context, w *Workspace, d Division, c Carried, film Film, brief bool, progress Progress) (*Made, error) {
	rig, err := s.rig(w, c)
	if err != nil {
		return nil, err
	}
	return s.plans.get(ctx, planOf{rig, w.NoFit, d, film, brief}, func(ctx context.Context) (*Made, error) {
		named := *rig
		named.Chosen = true // what the painter saw is what is planned
		t, err := named.trip(ctx, w, []kitPhoto{s.kitPhoto(w, d)}, KitAsk{Tolerance: recipe.KitTolerance}, progress)
		if err != nil {
			return nil, err
		}
		t.brief = brief
		p, pics, err := t.plan(ctx, &study{s.study.photo, s.cut(d)}, 0, progress)
		if err != nil {
			return nil, err
		}
		p.measureOut(s.canvas, film)
		return &Made{Plan: p, Pictures: pics, Kit: t.from}, nil
	})
}

type planOf struct {
	workspace *Workspace
	noFit     bool
	Division
	Film
	brief bool
}
