//go:build linux

// Race runs paintout beside the tools that people have for parts of its work,
// in one run on one machine, and prints times, their ratios and peak memory
// with what was aimed for.
//
//	go run ./cmd/race                          # 24 megapixels; some minutes
//	go run ./cmd/race -mp 3 -rounds 1 -slow=false
//	go run ./cmd/race -photo ../shared/photos/seeding.jpg
//
// Every side runs as a process of its own, rounds times, and its best round
// counts. A side that reports its own time (all but ImageMagick) is spared its
// start-up. What is missing here (ImageMagick, scikit-learn, SciPy, GLPK) is
// left out, and that is said.
package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"
)

func main() {
	log.SetFlags(0)
	if len(os.Args) > 2 && os.Args[1] == "-side" {
		if err := side(os.Args[2], os.Args[3:]); err != nil {
			log.Fatal(err)
		}
		return
	}
	r := &race{out: os.Stdout}
	flag.Float64Var(&r.mp, "mp", 24, "megapixels of the photo, made from the demonstration scene with grain")
	flag.StringVar(&r.photo, "photo", "", "JPEG to use instead")
	flag.IntVar(&r.rounds, "rounds", 3, "times that each side runs")
	flag.BoolVar(&r.slow, "slow", true, "run sides that take minutes too: scikit-learn's KMeans on all pixels, SLSQP, 60 tubes, GLPK")
	flag.StringVar(&r.plot, "plot", filepath.Join("cmd", "race", "growth.svg"), "file for the plot of how each part grows; empty for none")
	flag.Parse()
	if err := r.run(); err != nil {
		log.Fatal(err)
	}
}

type race struct {
	photo  string
	mp     float64
	rounds int
	slow   bool
	plot   string
	out    io.Writer
	dir    string
}

// A result is what one side came to.
type result struct {
	Seconds float64 // as it reports itself, or of the process
	CPU     float64 // of the process
	Memory  int64   // peak bytes of the process
	Report
}

// Report is what a side prints of itself, as JSON.
type Report struct {
	Seconds float64
	Pixels  int          `json:",omitempty"`
	Labs    [][3]float64 `json:",omitempty"` // colours of a palette
	Error   float64      `json:",omitempty"` // ΔE00
	Worst   float64      `json:",omitempty"`
	Done    int          `json:",omitempty"` // of All, where it was cut short
	All     int          `json:",omitempty"`
	Mixes   [][]Amount   `json:",omitempty"` // per aim
}

// Amount is a tube and its parts.
type Amount struct {
	Tube  int
	Parts float64
}

var errMissing = errors.New("not here")

// best runs a side some times and gives the quickest.
func (r *race) best(rounds int, name string, args ...string) (best result, err error) {
	if _, err := exec.LookPath(name); err != nil {
		return best, errMissing
	}
	for i := range rounds {
		cmd := exec.Command(name, args...)
		cmd.Dir = r.dir
		var out, say bytes.Buffer
		cmd.Stdout, cmd.Stderr = &out, &say
		start := time.Now()
		if err := cmd.Run(); err != nil {
			if strings.Contains(say.String(), "ModuleNotFoundError") {
				return best, errMissing
			}
			return best, fmt.Errorf("%s %s: %w\n%s", name, strings.Join(args, " "), err, say.String())
		}
		x := result{Seconds: time.Since(start).Seconds()}
		x.CPU = (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds()
		x.Memory = cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss << 10
		if json.Unmarshal(out.Bytes(), &x.Report) == nil && x.Report.Seconds > 0 {
			x.Seconds = x.Report.Seconds
		}
		if i == 0 || x.Seconds < best.Seconds {
			best = x
		}
	}
	return best, nil
}

// own runs a side of this program.
func (r *race) own(name string, args ...string) (result, error) {
	return r.best(r.rounds, os.Args[0], append([]string{"-side", name}, args...)...)
}

func (r *race) say(what string, x result, note string) {
	fmt.Fprintf(r.out, "  %-46s %8.3f s %8.3f s CPU %6d MiB  %s\n", what, x.Seconds, x.CPU, x.Memory>>20, note)
}

// aim prints how a figure stands to its aim.
func (r *race) aim(what string, got float64, most float64) {
	word := "met"
	if !(got <= most) {
		word = "MISSED"
	}
	fmt.Fprintf(r.out, "  %-46s %8.3f, at most %.3g: %s\n", what, got, most, word)
}

// ratio prints how times stand to their aim: the clock's count, and the
// processor's are beside, which hang less on what else the machine does.
func (r *race) ratio(what string, a, b result, most float64) {
	r.aim(what, a.Seconds/b.Seconds, most)
	fmt.Fprintf(r.out, "  %-46s %8.3f\n", "  and of the processes' CPU time", a.CPU/b.CPU)
}

// python is Debian's, which its packages are for, where there is one.
func python() string {
	const debian = "/usr/bin/python3"
	if _, err := os.Stat(debian); err == nil {
		return debian
	}
	return "python3"
}

func (r *race) skip(what string) {
	fmt.Fprintf(r.out, "  %-46s not here, left out\n", what)
}

func (r *race) run() (err error) {
	if r.dir, err = os.MkdirTemp("", "race"); err != nil {
		return err
	}
	defer os.RemoveAll(r.dir)
	for name, text := range map[string]string{"kmeans.py": kmeansPy, "mixes.py": mixesPy} {
		if err := os.WriteFile(filepath.Join(r.dir, name), []byte(text), 0o644); err != nil {
			return err
		}
	}
	root, err := os.Getwd() // sides run in r.dir
	if err != nil {
		return err
	}
	if r.photo == "" {
		r.photo = filepath.Join(r.dir, "photo.jpg")
		scene := filepath.Join(root, "testdata", "marrow-sound.jpg")
		if _, err := r.best(1, os.Args[0], "-side", "scale", scene, fmt.Sprint(r.mp), r.photo); err != nil {
			return err
		}
	} else if r.photo, err = filepath.Abs(r.photo); err != nil {
		return err
	}
	load, _ := os.ReadFile("/proc/loadavg")
	fmt.Fprintf(r.out, "Load before: %s\n", strings.TrimSpace(string(load)))
	for _, f := range []func() error{r.pictures, r.mixes, r.kit, r.plan, r.growth} {
		if err := f(); err != nil {
			return err
		}
	}
	load, _ = os.ReadFile("/proc/loadavg")
	fmt.Fprintf(r.out, "Load after: %s\n", strings.TrimSpace(string(load)))
	return nil
}

// judge gives the mean ΔE00 of a photo's pixels from the nearest of some colours.
func (r *race) judge(x *result) error {
	data, err := json.Marshal(x.Labs)
	if err != nil {
		return err
	}
	y, err := r.best(1, os.Args[0], "-side", "judge", r.photo, string(data))
	x.Error = y.Error
	return err
}

func (r *race) pictures() error {
	bare, err := r.own("decode", r.photo)
	if err != nil {
		return err
	}
	fmt.Fprintf(r.out, "\nTwelve masses of a JPEG of %.1f megapixels\n", float64(bare.Pixels)/1e6)
	r.say("image/jpeg, decoding alone", bare, "")
	ours, err := r.own("analyze", r.photo)
	if err != nil {
		return err
	}
	plain, err := r.own("analyze", r.photo, "plain")
	if err != nil {
		return err
	}
	if err := errors.Join(r.judge(&ours), r.judge(&plain)); err != nil {
		return err
	}
	r.say("analyze, accents kept", ours, fmt.Sprintf("mean ΔE00 %.2f", ours.Error))
	r.say("analyze, no accents", plain, fmt.Sprintf("mean ΔE00 %.2f", plain.Error))
	r.ratio("time of analyze by decoding alone", ours, bare, 1.8)
	r.aim("peak memory of analyze, MiB", float64(ours.Memory>>20), 200)

	im, err := r.best(r.rounds, "convert", r.photo, "-colorspace", "Lab", "+dither", "-colors", "12", "null:")
	switch {
	case errors.Is(err, errMissing):
		r.skip("ImageMagick")
	case err != nil:
		return err
	default:
		out, err := exec.Command("convert", r.photo, "-colorspace", "Lab", "+dither", "-colors", "12", "-unique-colors", "-colorspace", "sRGB", "-depth", "8", "rgb:-").Output()
		if err != nil {
			return err
		}
		im.Labs = labsOf(out)
		if err := r.judge(&im); err != nil {
			return err
		}
		r.say("ImageMagick, 12 colours in Lab to null:", im, fmt.Sprintf("mean ΔE00 %.2f", im.Error))
		r.ratio("time of analyze by ImageMagick's", ours, im, 1.0/6)
		r.aim("mean ΔE00 by ImageMagick's", ours.Error/im.Error, 1)
	}
	if !r.slow {
		return nil
	}
	if _, err := r.best(1, os.Args[0], "-side", "labs", r.photo, "labs.f32"); err != nil {
		return err
	}
	km, err := r.best(1, python(), "kmeans.py", "labs.f32")
	switch {
	case errors.Is(err, errMissing):
		r.skip("scikit-learn (Debian: python3-sklearn)")
		return nil
	case err != nil:
		return err
	}
	if err := r.judge(&km); err != nil {
		return err
	}
	r.say("scikit-learn KMeans, all pixels, one start", km, fmt.Sprintf("mean ΔE00 %.2f; decoding not counted", km.Error))
	r.ratio("time of analyze by KMeans'", ours, km, 0.1)
	r.aim("mean ΔE00 by KMeans', accents kept", ours.Error/km.Error, 1.2)
	r.aim("mean ΔE00 by KMeans', no accents", plain.Error/km.Error, 1.1)
	return nil
}

func (r *race) mixes() error {
	fmt.Fprint(r.out, "\nMixes of up to three tubes and white\n")
	for _, c := range []struct {
		tubes, aims string
		most        float64
	}{{"24", "12", 0.5}, {"60", "16", 3}} {
		if c.tubes != "24" && !r.slow {
			continue
		}
		ours, err := r.own("mixes", c.tubes, c.aims)
		if err != nil {
			return err
		}
		r.say(fmt.Sprintf("search, %s tubes and white, %s aims, exact", c.tubes, c.aims), ours, fmt.Sprintf("nearest: mean ΔE00 %.2f, worst %.2f", ours.Error, ours.Worst))
		r.aim("seconds", ours.Seconds, c.most)
		if c.tubes != "24" {
			continue
		}
		if _, err := r.best(1, os.Args[0], "-side", "instance", c.tubes, c.aims, "instance.json"); err != nil {
			return err
		}
		for _, way := range []string{"nnls", "slsqp"} {
			if way == "slsqp" && !r.slow {
				continue
			}
			x, err := r.best(1, python(), "mixes.py", "instance.json", way)
			if errors.Is(err, errMissing) {
				r.skip("SciPy (Debian: python3-scipy)")
				break
			}
			if err != nil {
				return err
			}
			data, err := json.Marshal(x.Mixes)
			if err != nil {
				return err
			}
			y, err := r.best(1, os.Args[0], "-side", "judgemixes", c.tubes, c.aims, string(data))
			if err != nil {
				return err
			}
			whole := x.Seconds * float64(x.All) / float64(x.Done)
			r.say("SciPy "+strings.ToUpper(way)+", a triple at a time", x, fmt.Sprintf("%d of %d triples; best so far, parts of any size: mean ΔE00 %.2f", x.Done, x.All, y.Error))
			fmt.Fprintf(r.out, "  %-46s %8.4f (%.1f s for all triples)\n", "time of the search by it", ours.Seconds/whole, whole)
		}
	}
	return nil
}

// kit has the package's own benchmark compare with GLPK on one instance.
func (r *race) kit() error {
	if !r.slow {
		return nil
	}
	fmt.Fprint(r.out, "\nThe smallest kit of 60 tubes for 16 masses, all mixes known\n")
	if _, err := exec.LookPath("glpsol"); err != nil {
		r.skip("GLPK (Debian: glpk-utils)")
		return nil
	}
	out, err := exec.Command("go", "test", "-run", "^$", "-bench", "KitBesideGLPK", "-benchtime", "1x", "paintout/recipe").CombinedOutput()
	for line := range strings.Lines(string(out)) {
		if strings.HasPrefix(line, "Benchmark") || err != nil {
			fmt.Fprint(r.out, "  ", line)
		}
	}
	return err
}

func (r *race) plan() error {
	fmt.Fprint(r.out, "\nThe whole plan of the photo, 24 tubes and white, twelve masses\n")
	bin := filepath.Join(r.dir, "paintout")
	if out, err := exec.Command("go", "build", "-o", bin, "paintout/cmd/paintout").CombinedOutput(); err != nil {
		return fmt.Errorf("go build: %w\n%s", err, out)
	}
	if _, err := r.best(1, os.Args[0], "-side", "box", "24", filepath.Join(r.dir, "box.yaml")); err != nil {
		return err
	}
	x, err := r.best(r.rounds, bin, "plan", r.photo, "-k", "12", "--tubes", "box.yaml", "--out", "plan")
	if err != nil {
		return err
	}
	r.say("paintout plan, from its start to files written", x, "")
	r.aim("seconds", x.Seconds, 2.5)
	return nil
}

// growth shows how the parts grow, and plots it.
func (r *race) growth() error {
	fmt.Fprint(r.out, "\nHow each part grows\n")
	pixels := panel{title: "analyze, twelve masses", axis: "megapixels"}
	for _, mp := range []float64{1.5, 3, 6, 12, 24} {
		if mp > 6 && !r.slow {
			break
		}
		if _, err := r.best(1, os.Args[0], "-side", "scale", r.photo, fmt.Sprint(mp), filepath.Join(r.dir, "part.jpg")); err != nil {
			return err
		}
		x, err := r.own("analyze", "part.jpg")
		if err != nil {
			return err
		}
		r.say(fmt.Sprintf("analyze, %g megapixels", mp), x, "")
		pixels.add(mp, x.CPU)
	}
	search := func(p *panel, tubes, aims, at int) error {
		x, err := r.own("mixes", fmt.Sprint(tubes), fmt.Sprint(aims))
		if err != nil {
			return err
		}
		r.say(fmt.Sprintf("search, %d tubes and white, %d aims", tubes, aims), x, "")
		p.add(float64(at), x.CPU)
		return nil
	}
	tubes := panel{title: "mixes, 12 masses", axis: "tubes beside white"}
	for _, n := range []int{8, 16, 24, 32, 40, 48, 60} {
		if n > 40 && !r.slow {
			break
		}
		if err := search(&tubes, n, 12, n); err != nil {
			return err
		}
	}
	aims := panel{title: "mixes, 24 tubes and white", axis: "masses"}
	for _, n := range []int{1, 4, 8, 12, 16} {
		if err := search(&aims, 24, n, n); err != nil {
			return err
		}
	}
	if r.plot == "" {
		return nil
	}
	return os.WriteFile(r.plot, plot(pixels, tubes, aims), 0o644)
}
