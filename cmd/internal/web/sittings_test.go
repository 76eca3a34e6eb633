package web

import (
	"context"
	"encoding/json"
	"fmt"
	"image/jpeg"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"paintout/analyze"
	"paintout/cmd/internal/cardphoto"
	"paintout/cmd/internal/plan"
	"paintout/inventory/optics"
)

// unpack reads runs back.
func unpack(t testing.TB, b []byte) (w, h int, index []byte) {
	t.Helper()
	varint := func() (v int) {
		for shift := 0; ; shift += 7 {
			if len(b) == 0 {
				t.Fatal("the runs are cut short")
			}
			c := b[0]
			b = b[1:]
			v |= int(c&127) << shift
			if c < 128 {
				return v
			}
		}
	}
	w, h = varint(), varint()
	for len(b) > 0 {
		v := b[0]
		b = b[1:]
		for range varint() {
			index = append(index, v)
		}
	}
	if len(index) != w*h {
		t.Fatalf("%d places for %d × %d", len(index), w, h)
	}
	return w, h, index
}

func TestRunsComeBack(t *testing.T) {
	m := &analyze.Mask{W: 300, H: 2, Index: make([]uint8, 600)}
	for i := range m.Index {
		m.Index[i] = uint8(i / 130 * 9)
	}
	w, h, index := unpack(t, runs(m))
	if w != 300 || h != 2 || string(index) != string(m.Index) {
		t.Errorf("%d × %d and other places came back", w, h)
	}
}

// A painter's whole sitting, asked for without a browser.
func TestSitting(t *testing.T) {
	s := newServer(t, Options{Dir: t.TempDir()})
	h := s.Handler()
	v := begun(t, h)
	at := "/sittings/" + v.ID
	if n := len(v.Look.Masses); n < 4 {
		t.Fatalf("%d masses in a picture of five fields", n)
	}
	// Fewer masses: the pixels follow.
	var few view
	must(t, h, "POST", at+"/choose", map[string]any{"k": 4}, &few)
	if len(few.Look.Masses) != 4 || few.Choices.Version != v.Choices.Version+1 {
		t.Errorf("%d masses at version %d", len(few.Look.Masses), few.Choices.Version)
	}
	wide, high, index := unpack(t, call(h, "GET", at+"/masses", nil, nil).Body.Bytes())
	if wide != 300 || high != 200 {
		t.Errorf("the masses lie on %d × %d", wide, high)
	}
	for _, m := range index {
		if int(m) >= 4 {
			t.Fatalf("a place belongs to mass %d of 4", m+1)
		}
	}
	if _, _, steps := unpack(t, call(h, "GET", at+"/values/3", nil, nil).Body.Bytes()); steps[0] != 0 {
		t.Errorf("the lightest field is step %d of three values", steps[0]+1)
	}
	// Mixes of the whole box, then of four tubes.
	var all, some answered[plan.SittingMixes]
	must(t, h, "GET", at+"/mixes", nil, &all)
	var box boxAnswer
	must(t, h, "GET", "/box", nil, &box)
	var out []string
	for _, tube := range box.Box.Tubes[4:] {
		out = append(out, tube.Name)
	}
	must(t, h, "POST", at+"/choose", map[string]any{"out": out}, &few)
	must(t, h, "GET", at+"/mixes", nil, &some)
	for i, m := range some.Answer.Masses {
		if b := all.Answer.Masses[i]; m.DE00 < b.DE00 || m.BoxDE00 != b.DE00 {
			t.Errorf("mass %d: %.2f from four tubes, the box %.2f, said to be %.2f", m.ID, m.DE00, b.DE00, m.BoxDE00)
		}
		for _, r := range m.Recipes {
			for _, p := range r.Parts {
				if strings.Contains(strings.Join(out, "\n")+"\n", p.Tube+"\n") {
					t.Errorf("%s is taken out and mixed from", p.Tube)
				}
			}
		}
	}
	if some.Answer.Carried != 4 || some.Version != few.Choices.Version {
		t.Errorf("%d carried at version %d", some.Answer.Carried, some.Version)
	}
	// Undo.
	must(t, h, "POST", at+"/choose", map[string]any{"undo": true}, &few)
	if len(few.Choices.Out) != 0 {
		t.Errorf("after undoing %v are out", few.Choices.Out)
	}
	// A spot, its reach, and the same from a place that has nothing to do with it.
	var sp answered[plan.Spot]
	must(t, h, "GET", at+"/spot?x=0.5&y=0.05&r=0.01", nil, &sp)
	if sp.Answer.Value < 7.5 || len(sp.Answer.Recipes) == 0 {
		t.Errorf("the sky reads value %.1f with %d mixes", sp.Answer.Value, len(sp.Answer.Recipes))
	}
	var reach answered[plan.ReachResult]
	must(t, h, "GET", at+"/reach?x=0.5&y=0.05&r=0.01", nil, &reach)
	if len(reach.Answer.Say) == 0 || math.Abs(reach.Answer.Aim.L-sp.Answer.Aim.L) > 1e-3 {
		t.Errorf("reach asks for %v, the spot for %v", reach.Answer.Aim, sp.Answer.Aim)
	}
	// The curve.
	var kit answered[plan.KitPlan]
	must(t, h, "GET", at+"/kit", nil, &kit)
	for i, step := range kit.Answer.Curve[1:] {
		if step.Worst > kit.Answer.Curve[i].Worst+1e-9 {
			t.Errorf("%d tubes miss by more than %d", step.Count, kit.Answer.Curve[i].Count)
		}
	}
	// The picture as tubes can paint it: fewer tubes keep less.
	var whole, poor answered[painted]
	must(t, h, "GET", at+"/painted", nil, &whole)
	must(t, h, "POST", at+"/choose", map[string]any{"out": out[:len(out)-1]}, nil)
	must(t, h, "GET", at+"/painted", nil, &poor)
	if poor.Answer.Kept > whole.Answer.Kept || len(whole.Answer.Image) == 0 {
		t.Errorf("with fewer tubes %.3f is kept, with all %.3f", poor.Answer.Kept, whole.Answer.Kept)
	}
	// Ticks and notes stick to the colour.
	m := few.Look.Masses[1]
	aim := [3]float64{m.Aim.L, m.Aim.A, m.Aim.B}
	must(t, h, "POST", at+"/choose", map[string]any{"mixed": aim}, &few)
	must(t, h, "POST", at+"/choose", map[string]any{"note": mark{aim, "a touch more ochre"}}, &few)
	if len(few.Choices.Mixed) != 1 || few.Choices.Notes[0].Text != "a touch more ochre" {
		t.Errorf("kept are %v and %v", few.Choices.Mixed, few.Choices.Notes)
	}
	must(t, h, "POST", at+"/choose", map[string]any{"unmixed": aim}, &few)
	if len(few.Choices.Mixed) != 0 {
		t.Error("the tick stays")
	}
	// The same mass as a string, light to dark.
	var str plan.MassString
	must(t, h, "POST", at+"/string", map[string]any{"aim": aim}, &str)
	for i, p := range str.Piles[1:] {
		if p.Value >= str.Piles[i].Value {
			t.Errorf("pile %d of the string has value %.1f after %.1f", i+2, p.Value, str.Piles[i].Value)
		}
	}
	if says := result(t, call(h, "POST", at+"/string", []byte(`{"aim":[900,0,0]}`), nil), nil); says == "" {
		t.Error("a string is made of no colour")
	}
	// What goes along.
	for path, begins := range map[string]string{"/sheet": "%PDF-", "/easel": "<!DOCTYPE html>", "/folder": "PK\x03\x04"} {
		var d download
		must(t, h, "GET", at+path, nil, &d)
		if !strings.HasPrefix(strings.ToLower(string(d.Data)), strings.ToLower(begins)) || !strings.HasPrefix(d.Name, "fields-") {
			t.Errorf("%s is %s, which begins with %.20q", path, d.Name, d.Data)
		}
	}
}

// Cut to a part, to a canvas, balanced by a place: the photo is read anew, and a
// choice that cannot be carried out changes nothing.
func TestPutRight(t *testing.T) {
	s := newServer(t, Options{})
	h := s.Handler()
	v := begun(t, h)
	at := "/sittings/" + v.ID
	var w view
	must(t, h, "POST", at+"/choose", map[string]any{"crop": []float64{0, 0.5, 1, 0.5}}, &w)
	if w.Look.Photo.Height != 100 || w.Frame != [4]float64{0, 0.5, 1, 0.5} {
		t.Errorf("the lower half is %d high, frame %v", w.Look.Photo.Height, w.Frame)
	}
	if img, err := jpeg.Decode(call(h, "GET", at+"/whole.jpg", nil, nil).Body); err != nil || img.Bounds().Dy() != 200 {
		t.Errorf("the whole photo: %v", err)
	}
	must(t, h, "POST", at+"/choose", map[string]any{"canvas": "20x20cm"}, &w)
	if w.Look.Photo.Width != 100 {
		t.Errorf("cut to a square it is %d wide", w.Look.Photo.Width)
	}
	must(t, h, "POST", at+"/choose", map[string]any{"crop": []float64{}, "canvas": ""}, &w)
	must(t, h, "POST", at+"/choose", map[string]any{"grey": []float64{0.5, 0.3}}, &w)
	var sp answered[plan.Spot]
	must(t, h, "GET", at+"/spot?x=0.5&y=0.3&r=0.004", nil, &sp)
	if c := sp.Answer.Lab.Chroma(); c > 3 {
		t.Errorf("what was said to be neutral has chroma %.1f", c)
	}
	// Within a part, the place is the part's.
	must(t, h, "POST", at+"/choose", map[string]any{"grey": []float64{}, "crop": []float64{0, 0.2, 1, 0.4}}, &w)
	must(t, h, "POST", at+"/choose", map[string]any{"grey": []float64{0.5, 0.25}}, &w)
	if g := w.Choices.Grey; g == nil || math.Abs(g[1]-0.3) > 1e-9 {
		t.Errorf("the neutral place lies at %v of the whole photo", g)
	}
	must(t, h, "POST", at+"/choose", map[string]any{"crop": []float64{}, "grey": []float64{}}, &w)
	red := call(h, "POST", at+"/choose", []byte(`{"grey":[0.715,0.515]}`), nil)
	if says := result(t, red, nil); !strings.Contains(says, "too strongly coloured") && !strings.Contains(says, "grey spot") {
		t.Errorf("the red accent is taken for grey: %q", says)
	}
	must(t, h, "GET", at, nil, &w)
	if w.Choices.Grey != nil {
		t.Error("the place that cannot have been grey is kept")
	}
	// Range fitting off: colours to mix are the photo's.
	must(t, h, "POST", at+"/choose", map[string]any{"no_fit": true}, &w)
	if m := w.Look.Masses[0]; m.Aim != m.Lab {
		t.Errorf("without fitting %v is to be mixed for %v", m.Aim, m.Lab)
	}
}

// The program is stopped and started: the photo, what was chosen and the notes
// are there again; what was half written is not.
func TestWorkIsKept(t *testing.T) {
	dir := t.TempDir()
	s := newServer(t, Options{Dir: dir})
	h := s.Handler()
	v := begun(t, h)
	at := "/sittings/" + v.ID
	must(t, h, "POST", at+"/choose", map[string]any{"k": 5, "out": []string{"ivory black"}, "crop": []float64{0, 0, 1, 0.8}}, nil)
	s.end()
	s.keep.wait()
	if err := os.MkdirAll(filepath.Join(dir, "AAAAAAAAAAAAAAAAAAAAAAAAAA"), 0o700); err != nil { // begun, and killed
		t.Fatal(err)
	}
	again, err := New(Options{Settings: s.o.Settings, Dir: dir})
	if err != nil {
		t.Fatal(err)
	}
	h = again.Handler()
	var w view
	must(t, h, "GET", at, nil, &w)
	if w.Choices.K != 5 || w.Choices.Out[0] != "ivory black" || w.Look.Photo.Height != 160 || w.Name != "fields.jpg" {
		t.Errorf("what is kept: %+v, %d high", w.Choices, w.Look.Photo.Height)
	}
	var list struct{ Sittings []listed }
	must(t, h, "GET", "/sittings", nil, &list)
	if len(list.Sittings) != 1 || list.Sittings[0].ID != v.ID {
		t.Errorf("listed are %v", list.Sittings)
	}
	if c := call(h, "GET", at+"/small.jpg", nil, nil); c.Code != 200 || c.Header().Get("Content-Type") != "image/jpeg" {
		t.Errorf("the small picture: %d", c.Code)
	}
	must(t, h, "DELETE", at, nil, nil)
	if c := call(h, "GET", at, nil, nil); c.Code != http.StatusNotFound {
		t.Errorf("put away, it answers with %d", c.Code)
	}
	if _, err := os.Stat(filepath.Join(dir, v.ID)); !os.IsNotExist(err) {
		t.Errorf("put away, its folder is there: %v", err)
	}
}

// The oldest makes room, and says so; as many as there are stay in memory.
func TestOldestMakesRoom(t *testing.T) {
	s := newServer(t, Options{})
	h := s.Handler()
	photo := fieldsJPEG(t, 60, 40)
	var ids []string
	for i := range maxSittings + 2 {
		var v view
		must(t, h, "POST", fmt.Sprintf("/sittings?name=%d.jpg", i), photo, &v)
		ids = append(ids, v.ID)
		time.Sleep(time.Millisecond) // the clock's steps
	}
	if w := call(h, "GET", "/sittings/"+ids[0], nil, nil); w.Code != http.StatusGone || !strings.Contains(result(t, w, nil), "make room") {
		t.Errorf("the oldest answers with %d", w.Code)
	}
	open := 0
	for _, x := range s.keep.list() {
		if x.open != nil {
			open++
		}
	}
	if open > maxOpen {
		t.Errorf("%d are open", open)
	}
	must(t, h, "GET", "/sittings/"+ids[5], nil, nil) // no longer open, and yet there
}

// Ten browsers at once on two sittings, choosing, touching, mixing and painting:
// every answer is whole, belongs to the choices it names, and no change is lost.
func TestTenAtOnce(t *testing.T) {
	s := newServer(t, Options{Dir: t.TempDir()})
	h := s.Handler()
	a, b := begun(t, h), begun(t, h)
	var box boxAnswer
	must(t, h, "GET", "/box", nil, &box)
	var wg sync.WaitGroup
	notes := 0
	for n := range 10 {
		id := []string{a.ID, b.ID}[n%2]
		if n%2 == 0 {
			notes++
		}
		wg.Go(func() {
			at := "/sittings/" + id
			try := func(method, path string, body any, v any) {
				data, _ := json.Marshal(body)
				w := call(h, method, at+path, data, nil)
				if says := result(t, w, v); says != "" {
					t.Errorf("%s: %s", path, says)
				}
			}
			for i := range 4 {
				var v view
				try("POST", "/choose", map[string]any{"k": 4 + (n+i)%4, "out": []string{box.Box.Tubes[1+(n+i)%6].Name}}, &v)
				if want := 4 + (n+i)%4; len(v.Look.Masses) > want {
					t.Errorf("%d masses where %d were asked for", len(v.Look.Masses), want)
				}
				var m answered[plan.SittingMixes]
				try("GET", "/mixes", nil, &m)
				if m.Answer.Carried != 15 {
					t.Errorf("%d tubes carried", m.Answer.Carried)
				}
				var sp answered[plan.Spot]
				try("GET", fmt.Sprintf("/spot?x=0.%d&y=0.5&r=0.01", 1+(n+i)%9), nil, &sp)
				if i == 0 {
					try("GET", "/painted", nil, nil)
					if w := call(h, "GET", at+"/picture.jpg", nil, nil); w.Code != 200 {
						t.Errorf("the picture: %d", w.Code)
					}
				}
			}
			try("POST", "/choose", map[string]any{"note": mark{[3]float64{float64(n), 0, 0}, fmt.Sprint(n)}}, nil)
		})
	}
	wg.Wait()
	var v view
	must(t, h, "GET", "/sittings/"+a.ID, nil, &v)
	if len(v.Choices.Notes) != notes {
		t.Errorf("%d of %d notes are kept", len(v.Choices.Notes), notes)
	}
}

// A browser that has moved on ends the work.
func TestMovedOn(t *testing.T) {
	s := newServer(t, Options{})
	h := s.Handler()
	v := begun(t, h)
	ctx, stop := context.WithCancel(context.Background())
	stop()
	w := call(h, "GET", "/sittings/"+v.ID+"/kit", nil, func(r *http.Request) { *r = *r.WithContext(ctx) })
	if w.Body.Len() != 0 {
		t.Errorf("nobody waits, and the answer is %q", w.Body)
	}
	var m answered[plan.SittingMixes]
	must(t, h, "GET", "/sittings/"+v.ID+"/mixes", nil, &m) // the next one gets its answer
}

// A box file that is broken by hand is said to be, in its own words, on the page;
// mended, the page mixes from it at once, and so it does when tubes change.
func TestBoxFileChanges(t *testing.T) {
	s := newServer(t, Options{})
	h := s.Handler()
	v := begun(t, h)
	at := "/sittings/" + v.ID
	var box boxAnswer
	must(t, h, "POST", "/box", map[string]any{"own": true}, &box)
	if !box.Own || len(box.Box.Tubes) != 16 {
		t.Fatalf("the box is own: %t, %d tubes", box.Own, len(box.Box.Tubes))
	}
	must(t, h, "POST", "/box", map[string]any{"add": map[string]string{"name": "my blue", "pigment": "PB60", "size": "40"}}, &box)
	if len(box.Box.Tubes) != 17 {
		t.Errorf("%d tubes after one was added to 16", len(box.Box.Tubes))
	}
	must(t, h, "POST", "/box", map[string]any{"edit": "my blue", "to": map[string]string{"name": "evening blue"}}, &box)
	must(t, h, "POST", "/box", map[string]any{"remove": []string{"titanium white"}}, &box)
	if len(box.Box.Tubes) != 16 || box.Box.Tubes[15].Name != "evening blue" {
		t.Errorf("the box holds %d tubes, the last %s", len(box.Box.Tubes), box.Box.Tubes[len(box.Box.Tubes)-1].Name)
	}
	must(t, h, "POST", "/box", map[string]any{"undo": true}, &box)
	if len(box.Box.Tubes) != 17 {
		t.Errorf("undone, the box holds %d tubes", len(box.Box.Tubes))
	}
	for _, bad := range []map[string]any{
		{"add": map[string]string{"name": "evening blue", "pigment": "PB29"}}, {"add": map[string]string{"name": "x", "pigment": "PB9999"}},
		{"add": map[string]string{"name": "x", "pigment": "PB29", "size": "-4"}}, {"edit": "no such tube", "to": map[string]string{"note": "x"}},
		{"remove": []string{"no such tube"}}, {"add": map[string]string{"file": "/etc/passwd"}}, {},
	} {
		body, _ := json.Marshal(bad)
		if w := call(h, "POST", "/box", body, nil); w.Code < 400 || result(t, w, nil) == "" {
			t.Errorf("%s: %d", body, w.Code)
		}
	}
	var m answered[plan.SittingMixes]
	must(t, h, "GET", at+"/mixes", nil, &m)
	if m.Answer.Carried != 17 {
		t.Errorf("mixed from %d tubes", m.Answer.Carried)
	}
	csv := "tube,ci,paint_parts,white_parts,L,a,b\nevening blue,PB60,1,0,25,2,-12\nevening blue,PB60,1,4,60,-3,-20\nevening blue,PB60,1,9,72,-3,-16\n"
	must(t, h, "POST", "/box/readings?name=blue.csv", []byte(csv), &box)
	if tube := box.Box.Tubes[16]; tube.Readings != 3 {
		t.Errorf("%s has %d readings", tube.Name, tube.Readings)
	}
	if says := result(t, call(h, "POST", "/box/readings?name=blue.csv", []byte("not,a,table\n1,2,3\n"), nil), nil); !strings.Contains(says, "blue.csv") {
		t.Errorf("of a table that is none it says %q", says)
	}
	file, err := plan.BoxFile("")
	if err != nil {
		t.Fatal(err)
	}
	good, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte("box: [\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	var broken view
	must(t, h, "GET", at, nil, &broken)
	if !strings.Contains(broken.BoxSays, "box.yaml") || broken.Look != nil {
		t.Errorf("of a broken box it says %q", broken.BoxSays)
	}
	if w := call(h, "GET", at+"/mixes", nil, nil); w.Code < 400 {
		t.Errorf("mixes from a broken box: %d", w.Code)
	}
	if err := os.WriteFile(file, good, 0o644); err != nil {
		t.Fatal(err)
	}
	must(t, h, "GET", at+"/mixes", nil, &m)
}

// Swatches are measured by a photo of them beside a colour chart: the places are
// found, named, and the tubes fitted and kept.
func TestSwatches(t *testing.T) {
	s := newServer(t, Options{})
	h := s.Handler()
	sheet, laid, _, err := cardphoto.Sheet([]string{"PB29"}, "PW6", []float64{1, 4}, optics.Included, true)
	if err != nil {
		t.Fatal(err)
	}
	c := cardphoto.Phone(sheet, 0, 480)
	photo := c.Photo(sheet)
	var m measured
	must(t, h, "POST", "/box/swatches?name=card.jpg", photo, &m)
	if len(m.Places) < len(laid)-1 || m.Saved || m.Box.Own || !strings.HasPrefix(string(m.Overview), "\x89PNG") {
		t.Fatalf("%d places found for %d swatches, saved: %t", len(m.Places), len(laid), m.Saved)
	}
	q := url.Values{"name": {"card.jpg"}}
	for _, d := range laid {
		x, y := c.Middle(sheet, d.X, d.Y)
		at := fmt.Sprintf("%.0f,%.0f", x, y) // white on white is not found
		for _, p := range m.Places {
			if math.Hypot(float64(p.X)-x, float64(p.Y)-y) < 12 {
				at = fmt.Sprint(p.Number)
			}
		}
		name := map[string]string{"PW6": "chalk white", "PB29": "quay blue"}[d.Pigment]
		q.Add("swatch", fmt.Sprintf("%s %s %g:%g@%s", name, d.Pigment, d.Paint, d.White, at))
	}
	must(t, h, "POST", "/box/swatches?"+q.Encode(), photo, &m)
	if !m.Saved || !m.Box.Own || len(m.Import.Fitted) != 2 {
		t.Fatalf("fitted are %v, saved: %t", m.Import.Fitted, m.Saved)
	}
	names := map[string]int{}
	for _, tube := range m.Box.Box.Tubes {
		names[tube.Name] = tube.Readings
	}
	if len(names) != 18 || names["quay blue"] != 3 {
		t.Errorf("the box holds %v", names)
	}
	if says := result(t, call(h, "POST", "/box/swatches?name=fields.jpg", fieldsJPEG(t, 300, 200), nil), nil); !strings.Contains(says, "fields.jpg") && !strings.Contains(says, "chart") {
		t.Errorf("of a photo without a chart it says %q", says)
	}
}

// Work that takes long says how far it is, then gives its result; quick work
// gives the result alone, with a status of its own where it fails.
func TestWorkReports(t *testing.T) {
	s := newServer(t, Options{})
	try := func(do func(context.Context, plan.Progress) (any, error)) *httptest.ResponseRecorder {
		w := httptest.NewRecorder()
		s.work(w, httptest.NewRequest("GET", "/", nil), do)
		return w
	}
	w := try(func(_ context.Context, p plan.Progress) (any, error) {
		for i := range 6 {
			p(plan.Mixing, i, 6)
			time.Sleep(quiet / 4)
		}
		return "done", nil
	})
	lines := strings.Split(strings.TrimSpace(w.Body.String()), "\n")
	if len(lines) < 2 || !strings.Contains(lines[0], plan.Mixing) || lines[len(lines)-1] != `{"result":"done"}` {
		t.Errorf("long work reports %q", lines)
	}
	w = try(func(_ context.Context, p plan.Progress) (any, error) { p(plan.Mixing, 1, 2); return 7, nil })
	if got := w.Body.String(); got != "{\"result\":7}\n" {
		t.Errorf("quick work answers %q", got)
	}
	w = try(func(context.Context, plan.Progress) (any, error) { return nil, sayf(http.StatusGone, "It is gone.") })
	if w.Code != http.StatusGone || w.Body.String() != "{\"error\":\"It is gone.\"}\n" {
		t.Errorf("failed work answers %d, %q", w.Code, w.Body)
	}
}
