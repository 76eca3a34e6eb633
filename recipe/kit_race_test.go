package recipe

import (
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// The smallest kit of 60 tubes for 16 masses, and GLPK's on the same program,
// one after the other: the same number of tubes and the same mean.
func BenchmarkKitBesideGLPK(b *testing.B) {
	glpsol, err := exec.LookPath("glpsol")
	if err != nil {
		b.Skip("glpsol (Debian: glpk-utils) is not here to compare with")
	}
	c := paintLike(rand.New(rand.NewPCG(60, 16)), 60, 16)
	for m, ways := range c.ways { // in thousandths, so that sums stay small
		c.share[m] = 1
		for j := range ways {
			ways[j].miss /= 1000
		}
	}
	allow := make([]int32, len(c.ways))
	for m := range allow {
		allow[m] = max(c.ways[m][0].miss+500, 2000)
	}
	var ours, theirs time.Duration
	for b.Loop() {
		start := time.Now()
		p, proven := c.kit(allow)
		ours += time.Since(start)
		start = time.Now()
		count, mean, err := c.glpk(glpsol, filepath.Join(b.TempDir(), "kit"), allow)
		theirs += time.Since(start)
		if err != nil {
			b.Fatal(err)
		}
		if !proven || p.tubes.count() != count || p.mean != mean {
			b.Fatalf("%d tubes, mean %d, proven %v; GLPK has %d, %d", p.tubes.count(), p.mean, proven, count, mean)
		}
	}
	b.ReportMetric(ours.Seconds()*1000/float64(b.N), "ms/kit")
	b.ReportMetric(theirs.Seconds()*1000/float64(b.N), "ms/GLPK")
	b.ReportMetric(theirs.Seconds()/ours.Seconds(), "GLPK/kit")
}
