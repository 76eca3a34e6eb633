package plan

import "testing"

// Mixes as they are typed: errors of one sentence, or names with parts that
// are numbers.
func FuzzParseMix(f *testing.F) {
	for _, s := range []string{"PB29:1,PY43:2", "PB15:4:1", "PBr7/burnt sienna:2", "red, warm:1,white:16", " a : 1e3 ,b:0.5", "PB29:1,", ":1", "a:inf"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		ps, err := ParseMix(s)
		if (err == nil) != (len(ps) > 0) {
			t.Fatalf("%q: %v, %v", s, ps, err)
		}
		for _, p := range ps {
			if p.Name == "" || !(p.Parts > 0 && p.Parts < 1e9) {
				t.Errorf("%q: %+v", s, p)
			}
		}
	})
}

func FuzzParseFilm(f *testing.F) {
	for _, s := range []string{"brush", "knife", "150um", "150 µm", "0.3mm", "1e2μm", "nanum", "-5mm"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if film, err := ParseFilm(s); err == nil && !(film.Microns >= 5 && film.Microns <= 10000) {
			t.Errorf("%q: %+v", s, film)
		}
	})
}
