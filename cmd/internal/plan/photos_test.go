package plan

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"paintout/recipe"
)

// realPhoto finds one of the photographs that lie beside a checkout.
func realPhoto(t testing.TB, name string) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		p := filepath.Join(dir, "shared", "photos", name)
		if _, err := os.Stat(p); err == nil {
			return p
		}
		if filepath.Dir(dir) == dir {
			t.Skipf("the photographs (shared/photos/%s) do not lie beside this checkout", name)
		}
		dir = filepath.Dir(dir)
	}
}

// starter opens the starter box whatever the machine has saved.
func starter(t testing.TB) *Workspace {
	t.Helper()
	t.Setenv("HOME", t.TempDir())
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	w, err := Open(Settings{PortionError: recipe.KnifeError})
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// makeOne plans one photo from the kit that mixes it within recipe.KitTolerance.
func makeOne(ctx context.Context, w *Workspace, path string, v View, progress Progress) (p *Plan, pics *Pictures, err error) {
	e := w.Make(ctx, []string{path}, v, KitAsk{Tolerance: recipe.KitTolerance}, progress, func(_ int, m Made) error {
		p, pics, err = m.Plan, m.Pictures, m.Err
		return nil
	})
	return p, pics, errors.Join(e, err)
}

// On real landscapes, with the range fitted, mixes of the starter box come
// within 3 ΔE00 of at least nine tenths of the area, and what they miss is
// explained.
func TestStarterReachesRealPhotos(t *testing.T) {
	w := starter(t)
	for _, name := range []string{"aitzgorri.jpg", "life.jpg", "seeding.jpg", "sunset.jpg"} {
		p, pics, err := makeOne(context.Background(), w, realPhoto(t, name), View{K: 12}, nil)
		if err != nil {
			t.Fatal(err)
		}
		worst := 0.0
		for _, m := range p.Masses {
			worst = max(worst, m.Recipes[0].DE00)
			if m.Recipes[0].DE00 > 1.8 && m.Why == "" {
				t.Errorf("%s: mass %d is %.1f off and nothing says why", name, m.ID, m.Recipes[0].DE00)
			}
		}
		t.Logf("%s: %.1f %% of the area within 3 ΔE00, worst mass %.2f; picture to masses mean %.2f, 99 %% within %.1f",
			name, 100*p.Within3, worst, p.Fit.Mean, p.Fit.P99)
		if p.Within3 < 0.9 {
			t.Errorf("%s: only %.0f %% of the area within 3 ΔE00", name, 100*p.Within3)
		}
		if len(p.Masses) != 12 || len(pics.Masses) != pics.W*pics.H {
			t.Errorf("%s: %d masses, mask of %d for %d × %d", name, len(p.Masses), len(pics.Masses), pics.W, pics.H)
		}
	}
}

// A plan of a 15.9-megapixel JPEG with the sixteen tubes of the starter box,
// and where the time goes.
func BenchmarkPlan(b *testing.B) {
	path := realPhoto(b, "seeding.jpg")
	w := starter(b)
	stages := map[string]time.Duration{}
	for b.Loop() {
		last, at := "", time.Now()
		_, _, err := makeOne(context.Background(), w, path, View{K: 12}, func(stage string, _, _ int) {
			if stage != last {
				stages[last] += time.Since(at)
				last, at = stage, time.Now()
			}
		})
		if err != nil {
			b.Fatal(err)
		}
		stages[last] += time.Since(at)
	}
	for _, s := range []string{Reading, Measuring, Mixing} {
		b.ReportMetric(stages[s].Seconds()/float64(b.N), map[string]string{Reading: "s/read", Measuring: "s/measure", Mixing: "s/mix"}[s])
	}
}
