package analyze

import (
	"context"
	"testing"
)

// tiled repeats a frame n times across and down.
type tiled struct {
	*frame
	n int
}

func (t tiled) Size() (int, int) { return t.n * t.w, t.n * t.h }

func (t tiled) Row(y int, d []float32) {
	line := t.pix[3*t.w*(y%t.h) : 3*t.w*(y%t.h+1)]
	for i := range t.n {
		copy(d[3*t.w*i:], line)
	}
}

// A synthetic picture of 6000×4000.
func large() Source { return tiled{shoot(1500, 1000, hills(1500, 1000), 4), 4} }

func BenchmarkCount24MP(b *testing.B) {
	src := large()
	for b.Loop() {
		if _, err := count(context.Background(), src, defaultMaskSide, nil); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/24e6, "ns/pixel")
}

func BenchmarkAnalyze24MP(b *testing.B) {
	src := large()
	for b.Loop() {
		analyze(b, src, Options{K: 12})
	}
}

func BenchmarkWithK(b *testing.B) {
	a := analyze(b, large(), Options{K: 12})
	k := 0
	for b.Loop() {
		k++
		a.WithK(6 + k%8)
	}
}

func BenchmarkPhotoWithK(b *testing.B) {
	for name, src := range photos(b) {
		b.Run(name, func(b *testing.B) {
			a := analyze(b, src, Options{K: 12})
			k := 0
			for b.Loop() {
				k++
				a.WithK(6 + k%8)
			}
		})
	}
}

func BenchmarkPhotoAnalyze(b *testing.B) {
	for name, src := range photos(b) {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				analyze(b, src, Options{K: 12})
			}
		})
	}
}

func BenchmarkValueSteps(b *testing.B) {
	a := analyze(b, large(), Options{K: 12})
	for b.Loop() {
		if _, err := a.ValueSteps(5); err != nil {
			b.Fatal(err)
		}
	}
}
