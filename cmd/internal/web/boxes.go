package web

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"strings"

	"paintout/analyze/card"
	"paintout/analyze/lab"
	"paintout/analyze/photo"
	"paintout/cmd/internal/draw"
	"paintout/cmd/internal/plan"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// boxAnswer is the box with what is drawn of it and the words that go with it.
type boxAnswer struct {
	*plan.TubesResult
	Paths   []string `json:"paths"` // outlines of the tubes' streaks
	Own     bool     `json:"own"`   // it is the painter's, and can be changed
	Care    []string `json:"care"`
	Scope   string   `json:"scope"`
	Labels  string   `json:"labels"`
	Changed any      `json:"changed,omitempty"` // what a change did
}

func (s *Server) boxNow(changed any) (*boxAnswer, error) {
	own, err := plan.BoxIsOwn(s.bench.settings.TubesFile)
	if err != nil {
		return nil, err
	}
	list, err := plan.ListTubes(s.bench.settings)
	if err != nil {
		return nil, err
	}
	if list.Warnings = s.minds(list.Warnings, own); len(list.Box.Tubes) == 0 {
		list.Warnings = []string{"The box is empty: add a tube."}
	}
	out := &boxAnswer{TubesResult: list, Own: own, Care: inventory.GeneralCare, Scope: inventory.CautionScope, Labels: inventory.LabelWins, Changed: changed}
	for i := range out.Box.Tubes {
		out.Paths = append(out.Paths, draw.StreakPath(i))
	}
	return out, nil
}

// minds puts what is to be known of the box into the page's words.
func (s *Server) minds(notes []string, own bool) []string {
	if own {
		return notes
	}
	return []string{"These are the tubes of the starter box. Change them under Your box, and it becomes yours."}
}

// box gives the tubes to choose from.
func (s *Server) box(w http.ResponseWriter, r *http.Request) {
	out, err := s.boxNow(nil)
	if err != nil {
		s.fail(w, err)
		return
	}
	s.json(w, http.StatusOK, out)
}

// boxChange is what a browser asks to be done to the box.
type boxChange struct {
	Add    inventory.Fields `json:"add"`
	Edit   string           `json:"edit"` // the tube that To is for
	To     inventory.Fields `json:"to"`
	Remove []string         `json:"remove"`
	Undo   bool             `json:"undo"`
	Own    bool             `json:"own"` // begin a box of one's own with the starter's tubes
}

// fields are what a browser may say of a tube. A box file has no others.
var fields = map[string]bool{"name": true, "pigment": true, "medium": true, "size": true, "left": true, "strength": true, "opacity": true, "tinting": true, "lightfast": true, "caution": true, "white": true, "note": true}

func checkFields(f inventory.Fields) error {
	for k, v := range f {
		if !fields[k] {
			return sayf(http.StatusBadRequest, "A tube has no %.40q: reload the page and try again.", k)
		}
		if len(v) > maxText {
			return sayf(http.StatusBadRequest, "What is said of a tube's %s has more than %d letters: shorten it.", k, maxText)
		}
	}
	return nil
}

// changeBox adds, edits or removes tubes, or undoes that.
func (s *Server) changeBox(w http.ResponseWriter, r *http.Request) {
	var ch boxChange
	if err := read(w, r, &ch); err != nil {
		s.fail(w, err)
		return
	}
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) {
		for _, f := range []inventory.Fields{ch.Add, ch.To} {
			if err := checkFields(f); err != nil {
				return nil, err
			}
		}
		box := s.bench.settings.TubesFile
		s.bench.edits.Lock()
		defer s.bench.edits.Unlock()
		if !ch.Undo {
			if err := plan.OwnBox(box); err != nil {
				return nil, err
			}
		}
		var did any
		var err error
		switch {
		case ch.Undo:
			err = plan.UndoBox(box)
		case ch.Add != nil:
			did, err = plan.AddTube(box, ch.Add)
		case ch.Edit != "":
			did, err = plan.EditTube(box, ch.Edit, ch.To)
		case len(ch.Remove) > 0:
			did, err = plan.RemoveTubes(box, ch.Remove)
		case ch.Own:
		default:
			err = sayf(http.StatusBadRequest, "Nothing was asked to be changed.")
		}
		if err != nil {
			return nil, err
		}
		return s.boxNow(did)
	})
}

// readings fits tubes to a file of readings, or takes over a table of tubes.
func (s *Server) readings(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	var said inventory.Said
	var err error
	if v := q.Get("illuminant"); v != "" {
		ill, e := optics.ParseIlluminant(v)
		said.Illuminant, err = &ill, e
	}
	if v := q.Get("finish"); v != "" && err == nil {
		f, e := optics.ParseFinish(v)
		said.Finish, err = &f, e
	}
	if err != nil {
		s.fail(w, said400(err))
		return
	}
	name := cleanName(q.Get("name"))
	data, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxTable))
	if err != nil {
		var big *http.MaxBytesError
		if errors.As(err, &big) {
			err = sayf(http.StatusRequestEntityTooLarge, "%s is over the limit of %d MB for a table of readings.", name, maxTable>>20)
		} else {
			err = sayf(http.StatusBadRequest, "%s did not arrive whole: send it again.", name)
		}
		s.fail(w, err)
		return
	}
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) {
		s.bench.edits.Lock()
		defer s.bench.edits.Unlock()
		if err := plan.OwnBox(s.bench.settings.TubesFile); err != nil {
			return nil, err
		}
		did, err := plan.ImportData(name, data, s.bench.settings.TubesFile, said)
		if err != nil {
			return nil, err
		}
		return s.boxNow(did)
	})
}

// swatches reads a photo of swatches: first what places there are, then, with
// each named, the tubes fitted to them.
func (s *Server) swatches(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	o := plan.MeasureOptions{Photo: cleanName(q.Get("name")), Swatches: q["swatch"], Box: s.bench.settings.TubesFile, NoSave: len(q["swatch"]) == 0, MaxPixels: maxPixels}
	const most = 200
	if len(o.Swatches) > most {
		s.fail(w, sayf(http.StatusBadRequest, "%d swatches are more than the %d that can be read at once: take several photos.", len(o.Swatches), most))
		return
	}
	if v := q.Get("grey"); v != "" {
		at, err := photo.ParsePoint(v)
		if err != nil {
			s.fail(w, said400(err))
			return
		}
		o.Grey = []card.Grey{{Place: at, Reflectance: card.GreyCard}}
	}
	data, ok := s.arrived(w, r, o.Photo)
	if !ok {
		return
	}
	o.Data = data
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) {
		select {
		case s.decode <- struct{}{}:
			defer func() { <-s.decode }()
		case <-ctx.Done():
			return nil, ctx.Err()
		}
		s.bench.edits.Lock()
		defer s.bench.edits.Unlock()
		if !o.NoSave {
			if err := plan.OwnBox(o.Box); err != nil {
				return nil, err
			}
		}
		p("reading the swatches", 0, 1)
		m, err := plan.Measure(o)
		if err != nil {
			return nil, err
		}
		out := measured{MeasureResult: m}
		var b bytes.Buffer
		if err := draw.PlacesPNG(&b, m); err != nil {
			return nil, err
		}
		out.Overview = b.Bytes()
		out.Box, err = s.boxNow(m.Import)
		return out, err
	})
}

// measured is what a photo of swatches says, with a picture of its places, and
// the box as it is then.
type measured struct {
	*plan.MeasureResult
	Overview []byte     `json:"overview"` // PNG
	Box      *boxAnswer `json:"box_now"`
}

func said400(err error) error { return said{http.StatusBadRequest, err} }

// pigments lists the library, for who writes a tube down.
func (s *Server) pigments(w http.ResponseWriter, r *http.Request) {
	type entry struct {
		CI   string `json:"ci"`
		Name string `json:"name"`
		Hex  string `json:"hex"`
	}
	list, err := plan.Pigments(nil, optics.Included)
	if err != nil {
		s.fail(w, err)
		return
	}
	out := []entry{}
	for i, p := range inventory.Library() {
		out = append(out, entry{p.Key(), list.Pigments[i].Name, list.Pigments[i].Hex})
	}
	s.json(w, http.StatusOK, out)
}

// mend says how to put a pile right.
func (s *Server) mend(w http.ResponseWriter, r *http.Request) {
	var ask struct {
		Aim      [3]float64 `json:"aim"`
		Readings []string   `json:"readings"` // as mixed, and after each addition
		Mixed    string     `json:"mixed"`
		Added    []string   `json:"added"`
		Save     bool       `json:"save"`
	}
	if err := read(w, r, &ask); err != nil {
		s.fail(w, err)
		return
	}
	s.work(w, r, func(ctx context.Context, p plan.Progress) (any, error) {
		const most = 12
		if len(ask.Readings) > most || len(ask.Added) > most {
			return nil, sayf(http.StatusBadRequest, "A pile is mended with at most %d readings: begin it again.", most)
		}
		for i, text := range ask.Readings {
			text = strings.TrimSpace(text)
			t, err := lab.ParseTarget(text)
			if err != nil {
				return nil, err
			}
			if t.Kind == lab.PhotoTarget { // a name of a file, which the page does not open
				return nil, sayf(http.StatusBadRequest, "%.60q is no reading: give a colorimeter's lab:52,-10,31, a hex colour or notation:5GY 5/4.", text)
			}
			ask.Readings[i] = text
		}
		if len(ask.Readings) == 0 {
			return nil, sayf(http.StatusBadRequest, "What does the pile look like? Give a colorimeter's lab:52,-10,31, a hex colour or notation:5GY 5/4.")
		}
		if ask.Save {
			s.bench.edits.Lock()
			defer s.bench.edits.Unlock()
			if err := plan.OwnBox(s.bench.settings.TubesFile); err != nil {
				return nil, err
			}
		}
		aim := lab.Lab{L: ask.Aim[0], A: ask.Aim[1], B: ask.Aim[2]}
		return plan.Mend(ctx, s.bench.settings, photoOptions, plan.MendAsk{
			Target: "lab:" + labText(aim), Readings: ask.Readings, Mixed: ask.Mixed, Added: ask.Added, Save: ask.Save,
		}, func(done, all int) { p(plan.Mixing, done, all) })
	})
}
