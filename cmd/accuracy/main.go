// Accuracy measures how well mixes are foretold from a painter's own readings,
// and prints it. The measured paints are the oil films of Geldof, Proaño Gaibor,
// Kirchner & Ligterink, Heritage Science 6:17, 2018 (CC0): 75 films of pigments
// alone, in zinc or lead white and with bone black, parts by mass, each brought
// to hiding from its readings over black and over white. They go the way a
// painter's readings go: a CSV file, the fit, the mix.
//
//	go run ./cmd/accuracy -from ../shared/data
package main

import (
	"flag"
	"fmt"
	"io"
	"log"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

func main() {
	log.SetFlags(0)
	from := flag.String("from", filepath.Join("..", "shared", "data"), "`folder` with oil-mixtures/")
	quick := flag.Bool("quick", false, "pass over leaving out one film at a time, which takes most of the time")
	each := flag.Bool("each", false, "list every film")
	flag.Parse()
	if err := run(os.Stdout, *from, *quick, *each); err != nil {
		log.Fatal("accuracy: ", err)
	}
}

// ways are the methods set beside one another.
var ways = []struct {
	name string
	labs bool
	by   method
}{
	{"spectra", false, twoConstant(false)},
	{"Lab colours alone", true, twoConstant(true)},
	{"single-constant K/S", false, singleConstant},
}

func run(w io.Writer, from string, quick, list bool) error {
	all, err := readFilms(filepath.Join(from, "oil-mixtures"))
	if err != nil {
		return err
	}
	films := make([]*film, len(all))
	for i := range all {
		films[i] = &all[i]
	}
	fmt.Fprintf(w, "%d films of Geldof et al., Heritage Science 6:17, 2018 (CC0); differences are ΔE00, D65, 2° observer.\n", len(films))

	var pooled [2][]prediction // spectra, Lab
	for i, way := range ways {
		var mixes, masstones []prediction
		if !quick {
			if mixes, err = leaveOneOut(films, way.by); err != nil {
				return err
			}
			mixes, masstones = split(mixes)
		}
		few, err := fromFew(films, way.by)
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "\n%s\n", way.name)
		if !quick {
			fmt.Fprintf(w, "  each mix from all other films      %s\n", figures(mixes))
			fmt.Fprintf(w, "  each masstone from its mixes       %s\n", figures(masstones))
		}
		fmt.Fprintf(w, "  others from masstone, about a tenth in white, greys\n")
		fmt.Fprintf(w, "                                     %s\n", figures(few))
		if list {
			for _, p := range slices.Concat(mixes, masstones, few) {
				fmt.Fprintf(w, "    %5.2f  %-42v foretold %5.1f %5.1f %5.1f  measured %5.1f %5.1f %5.1f\n", p.off, p.film, p.colour.L, p.colour.A, p.colour.B, p.seen.L, p.seen.A, p.seen.B)
			}
		}
		if i < len(pooled) {
			pooled[i] = slices.Concat(mixes, masstones, few)
		}
	}
	fmt.Fprintf(w, "\nbounds of nine in ten, stated beforehand, portions weighed\n")
	for i, p := range pooled {
		honesty(w, ways[i].name, p)
	}
	return nil
}

// leaveOneOut foretells each film but those of the whites alone from all the
// others, where another film of its paint is left.
func leaveOneOut(films []*film, by method) ([]prediction, error) {
	var test []*film
	for _, f := range films {
		if f.own != f.white && slices.ContainsFunc(films, func(g *film) bool { return g != f && g.own == f.own }) {
			test = append(test, f)
		}
	}
	return together(test, func(f *film) (prediction, error) {
		rest := slices.DeleteFunc(slices.Clone(films), func(g *film) bool { return g == f })
		p, err := by(rest, []*film{f})
		if err != nil {
			return prediction{}, err
		}
		return p[0], nil
	})
}

// fromFew foretells the other tints and the shades of every pigment from its
// masstone and its tint of about one in ten in zinc white, and from the greys.
func fromFew(films []*film, by method) ([]prediction, error) {
	var from, test []*film
	for _, f := range films {
		switch {
		case f.white == lead:
		case f.own == zinc || f.own == bone || f.masstone() || f.tint(0.05, 0.2):
			from = append(from, f)
		default:
			test = append(test, f)
		}
	}
	return by(from, test)
}

func split(p []prediction) (mixes, masstones []prediction) {
	for _, q := range p {
		if q.film.masstone() {
			masstones = append(masstones, q)
		} else {
			mixes = append(mixes, q)
		}
	}
	return mixes, masstones
}

func figures(p []prediction) string {
	var v []float64
	mean := 0.0
	for _, q := range p {
		v = append(v, q.off)
		mean += q.off / float64(len(p))
	}
	return fmt.Sprintf("%3d films  mean %5.2f  median %5.2f  nine in ten %5.2f  largest %5.2f", len(p), mean, quantile(v, 0.5), quantile(v, 0.9), quantile(v, 1))
}

// quantile interpolates between order statistics.
func quantile(v []float64, q float64) float64 {
	v = slices.Sorted(slices.Values(v))
	at := q * float64(len(v)-1)
	i := min(int(at), len(v)-2)
	if len(v) == 1 {
		return v[0]
	}
	return v[i] + (at-float64(i))*(v[i+1]-v[i])
}

// honesty prints how many of the true differences lie within their bounds. What
// the bounds rest on is a figure of the program, chosen on this very set; so
// the factor on it that would be right for half of the paints is found, and
// tried on the other half.
func honesty(w io.Writer, name string, p []prediction) {
	var bounds []float64
	for i := range p {
		bounds = append(bounds, p[i].bound(1))
	}
	fmt.Fprintf(w, "  %-20s %3d of %d within (%.0f %%); median bound %.1f\n", name, within(p, 1), len(p), share(p, 1), quantile(bounds, 0.5))
	var paints []string
	for _, q := range p {
		if !slices.Contains(paints, q.film.own) {
			paints = append(paints, q.film.own)
		}
	}
	slices.SortFunc(paints, strings.Compare)
	half := func(which int) (out []prediction) {
		for _, q := range p {
			if slices.Index(paints, q.film.own)%2 == which {
				out = append(out, q)
			}
		}
		return out
	}
	inside := 0
	for learn := range 2 {
		a, b := half(learn), half(1-learn)
		factor := 0.2
		for ; factor < 5 && share(a, factor) < 90; factor += 0.02 {
		}
		inside += within(b, factor)
		fmt.Fprintf(w, "  %20s half of the paints ask for %.2f times that: %.0f %% of the other half's %d within\n", "", factor, share(b, factor), len(b))
	}
	fmt.Fprintf(w, "  %20s so cross-validated: %d of %d within (%.0f %%)\n", "", inside, len(p), 100*float64(inside)/float64(len(p)))
}

func within(p []prediction, factor float64) (n int) {
	for i := range p {
		if p[i].off <= p[i].bound(factor) {
			n++
		}
	}
	return n
}

func share(p []prediction, factor float64) float64 {
	return 100 * float64(within(p, factor)) / float64(len(p))
}
