package recipe

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"paintout/analyze/lab"
	"paintout/inventory"
)

// ReachTolerance is the ΔE00 within which a colour counts as reached unless
// the painter sets another: about where two patches side by side first show
// that they differ.
const ReachTolerance = 2.0

// A mix stands at a hue and value if its CIELAB hue lies within HueWindow
// degrees and its value within ValueWindow steps of the 0–10 scale.
const (
	HueWindow   = 3.0
	ValueWindow = 0.25
)

// tooGrey is the C*ab below which a colour has no hue to speak of, and asking
// for the most vivid mix of its hue makes no sense.
const tooGrey = 4.0

// ReachOptions says what to ask.
type ReachOptions struct {
	Tolerance float64           // ΔE00 at which the colour counts as reached, 0 or more; ReachTolerance is usual
	With      []*inventory.Tube // tubes to mix with as if they lay in the box
	// Library is what tubes to add are chosen from; nil for the whole library.
	Library []*inventory.Tube
	// Add is how many tubes to add are ranked, where the colour is out of
	// reach; 0 asks for none, and then nothing is said of the library.
	Add int
	// Progress, if set, is called now and then, from several goroutines, with
	// the work done and in all.
	Progress func(done, all int)
}

// Mixed is a mix that answers a question, with the palette that its parts
// count in.
type Mixed struct {
	Palette *Palette
	Parts   []Part // in mixing order
	Lab     lab.Lab
	DE00    float64 // from the colour asked for
}

// Reach says whether a palette reaches a colour, and if not, why not and what
// would.
type Reach struct {
	Palette   *Palette // the tubes asked of, those of ReachOptions.With included
	Aim       lab.Lab
	Tolerance float64
	Exact     bool  // all sets of three tubes were tried, see [Palette.Reach]
	Reachable bool  // Nearest lies within Tolerance
	Nearest   Mixed // of all mixes on the ladder
	// Finer is the least ΔE00 found for Nearest's tubes in parts of any size
	// within the ladder's span.
	Finer float64
	// Before is the ΔE00 of the nearest mix without ReachOptions.With; NaN where
	// nothing was added or nothing can be mixed without.
	Before float64
	Miss   Shortfall
	// AtValue is the ladder mix of the highest C*ab at the colour's hue and
	// value, within HueWindow and ValueWindow; AtHue the same at any value. Nil
	// where no mix stands there, or the colour is too grey to have a hue.
	AtValue, AtHue *Mixed
	Add            []Addition // best first; none where the colour is reached
	// Library is the nearest mix found of any paints of the library: exact over
	// all its pairs, and over threes of the ShortList tubes whose pairs come
	// nearest. Paints that are not Advisable are used only if the others fail.
	// Nil where it was not asked for, or no surface can show the colour.
	Library *Mixed
	Surface SurfaceLimit
}

// Shortfall is what separates the nearest mix from the colour asked for.
type Shortfall struct {
	Value  float64 // steps of value; negative is too dark
	Chroma float64 // C*ab; negative is too dull
	Hue    float64 // degrees of CIELAB hue, −180 to 180; 0 where either is too grey
	Words  string  // the largest part first, as [Miss] says it; empty where they can't be told apart
}

// SurfaceLimit is what any surface could do, by the limits of optimal colours.
type SurfaceLimit struct {
	// Possible reports that some surface may show the colour within the
	// tolerance. Where it is false none can: the colour would have to glow.
	Possible bool
	// Chroma is the highest C*ab that any surface can have at the colour's hue
	// and value, Paint the highest with the shine of a film in the palette's
	// finish.
	Chroma, Paint float64
}

// Addition is a tube that would bring a colour nearer.
type Addition struct {
	Tube      *inventory.Tube
	Mix       Mixed // the nearest mix of the tube with up to two more, and white
	Reachable bool
}

// LadderSlack is what keeping to the ladder's parts may cost: of 12,000 random
// mixes in parts of any size within the ladder's span (1 to 32 between coloured
// tubes, to 256 of white), of boxes of three to five tubes with strong
// tinters among them, every one had a ladder mix within 2.8 ΔE00, 99.9 % within
// 2.7, 99 % within 1.9 and half within 0.5; boxes with more tubes come nearer. So
// a colour that is not reached within x may be reached within x − LadderSlack
// in finer parts, hardly nearer.
const LadderSlack = 3.0

// How far sets of three are tried: all those of a box of up to WholeBox tubes,
// white counted; of a larger box, and of the library, those of the ShortList
// tubes that look best. All threes of 100 tubes would take minutes.
const (
	WholeBox  = 32
	ShortList = 20
)

// Reach asks whether the palette's tubes reach a colour (D65 Lab). Answers are
// exact over the ladder: no mix of up to three tubes and white whose parts
// stand on it comes nearer than Nearest, or is more vivid than AtValue and
// AtHue in their windows. With more than WholeBox tubes it is exact over all
// pairs, and over threes of the ShortList tubes that look best for each
// question, and says so in Exact. Finer parts may come nearer by what the ladder's
// steps cost, see LadderSlack.
func (p *Palette) Reach(ctx context.Context, aim lab.Lab, o ReachOptions) (*Reach, error) {
	if !aim.Finite() || aim.L < -1e-9 || aim.L > 200 || aim.Chroma() > 400 {
		return nil, fmt.Errorf("the colour L* %.4g a* %.4g b* %.4g is no colour that can be asked for: give L* from 0 to 100 and a*, b* within about ±128", aim.L, aim.A, aim.B)
	}
	if !(o.Tolerance >= 0) {
		return nil, fmt.Errorf("a tolerance of %v ΔE00: give 0 or more, %g is usual", o.Tolerance, ReachTolerance)
	}
	all := p
	if len(o.With) > 0 {
		var err error
		if all, err = NewPalette(slices.Concat(p.Tubes, o.With), p.Finish); err != nil {
			return nil, err
		}
	}
	r := &Reach{Palette: all, Aim: aim, Tolerance: o.Tolerance, Before: math.NaN(), Exact: len(all.Tubes) <= WholeBox}
	lo, hi := valueSpan(aim, ValueWindow)
	// What is looked through for each.
	near, atValue, atHue := func() quest { return newNearQuest(aim) }, vividQuests(aim.Hue(), lo, hi), vividQuests(aim.Hue(), math.Inf(-1), math.Inf(1))
	jobs, err := all.lookThrough(ctx, func(c lab.Lab) float64 { return lab.DE00(aim, c) }, vividness(aim.Hue(), math.Inf(-1), math.Inf(1)), vividness(aim.Hue(), lo, hi))
	if err != nil {
		return nil, err
	}
	work := newProgress(len(jobs[0])+len(jobs[1])+len(jobs[2]), o.Progress)
	limit := math.Inf(1)
	if len(o.With) > 0 {
		before := slices.DeleteFunc(slices.Clone(jobs[0]), func(j job) bool {
			return slices.Max(append(j.tubes[:], j.white)) >= int16(len(p.Tubes))
		})
		work.plan(len(before))
		f, ok, err := p.hunt(ctx, before, limit, near, work.done)
		if err != nil {
			return nil, err
		}
		if ok {
			r.Before, limit = f.score, f.score+1e-9
		}
	}
	best, ok, err := all.hunt(ctx, jobs[0], limit, near, work.done)
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, errors.New("these tubes give no mix at all: their constants are no paint's; measure or import them again")
	}
	r.Nearest = all.mixed(best.parts(), aim)
	r.Reachable = r.Nearest.DE00 <= o.Tolerance
	r.Finer = all.finer(r.Nearest.Parts, aim)
	r.Miss = shortfall(aim, r.Nearest.Lab)
	if aim.Chroma() >= tooGrey {
		for i, to := range []**Mixed{&r.AtHue, &r.AtValue} {
			if m := r.AtHue; i == 1 && (m == nil || m.Lab.L >= lo && m.Lab.L <= hi) {
				r.AtValue = m // there is none at any value, or the best stands at this one
				work.done(len(jobs[2]))
				break
			}
			f, ok, err := all.hunt(ctx, jobs[1+i], 0, []func() quest{atHue, atValue}[i], work.done)
			if err != nil {
				return nil, err
			}
			if ok {
				m := all.mixed(f.parts(), aim)
				*to = &m
			}
		}
	}
	_, off := AnySurface.Nearest(aim)
	r.Surface = SurfaceLimit{
		Possible: off <= o.Tolerance+bandLoss,
		Chroma:   AnySurface.MaxChroma(aim.L, aim.Hue()),
		Paint:    PaintedSurface(p.Finish).MaxChroma(aim.L, aim.Hue()),
	}
	if !r.Reachable && o.Add > 0 {
		if err := r.consult(ctx, o, work); err != nil {
			return nil, err
		}
	}
	work.finish()
	return r, nil
}

// vividQuests makes quests for the most vivid mix of a hue within a span of L*.
func vividQuests(hue, lo, hi float64) func() quest {
	return func() quest { return newVividQuest(hue, HueWindow, lo, hi) }
}

// vividness scores colours for a first look at which tubes may give the most
// vivid mix of a hue within a span of L*: the windows are wider, and what lies
// outside comes last.
func vividness(hue, lo, hi float64) func(lab.Lab) float64 {
	return func(c lab.Lab) float64 {
		if c.L < lo-5 || c.L > hi+5 || hueApart(c.Hue(), hue) > 3*HueWindow {
			return 1 / (1 + c.Chroma())
		}
		return -c.Chroma()
	}
}

// hueApart is the angle between two hues, degrees.
func hueApart(a, b float64) float64 { return math.Abs(math.Mod(a-b+540, 360) - 180) }

// lookThrough gives the jobs to look through for each of several questions, by
// how well a colour answers them: all jobs of a box of up to WholeBox tubes, or
// all pairs and the threes of the ShortList most promising.
func (p *Palette) lookThrough(ctx context.Context, score ...func(lab.Lab) float64) ([][]job, error) {
	jobs := make([][]job, len(score))
	if len(p.Tubes) <= WholeBox {
		every := p.jobs()
		for i := range jobs {
			jobs[i] = every
		}
		return jobs, nil
	}
	short, err := p.promising(ctx, ShortList, score...)
	if err != nil {
		return nil, err
	}
	pairs := p.pairJobs()
	for i, s := range short {
		jobs[i] = slices.Concat(pairs, p.threes(s))
	}
	return jobs, nil
}

// mixed writes a mix out in mixing order and in whole parts.
func (p *Palette) mixed(parts []Part, aim lab.Lab) Mixed {
	p.InOrder(parts)
	_, c := p.Mix(parts)
	return Mixed{p, parts, c, lab.DE00(aim, c)}
}

// inSpan reports whether parts of any size lie within the ladder's span: no
// coloured tube beyond 1 to 32 of another, white within 32 to 1 and 1 to 256 of
// each.
func (p *Palette) inSpan(parts []Part) bool {
	top := float64(Ladder[len(Ladder)-1])
	whiteTop := float64(WhiteLadder[len(WhiteLadder)-1])
	lo, hi := math.Inf(1), 0.0
	for _, q := range parts {
		if !p.Tubes[q.Tube].White {
			lo, hi = min(lo, q.Parts), max(hi, q.Parts)
		}
	}
	for _, q := range parts {
		if p.Tubes[q.Tube].White && (q.Parts > whiteTop*lo || hi > top*q.Parts) {
			return false
		}
	}
	return hi <= top*lo
}

// finer is the least ΔE00 that a search in ever smaller steps finds from the
// given parts, the parts being free within the ladder's span.
func (p *Palette) finer(parts []Part, aim lab.Lab) float64 {
	now := slices.Clone(parts)
	off := func() float64 {
		_, c := p.Mix(now)
		return lab.DE00(aim, c)
	}
	best := off()
	for step := 0.3; step > 0.002; {
		better := false
		for i := range now {
			was := now[i].Parts
			for _, f := range []float64{math.Exp(step), math.Exp(-step)} {
				now[i].Parts = was * f
				if d := off(); d < best-1e-9 && p.inSpan(now) {
					best, better, was = d, true, now[i].Parts
				}
				now[i].Parts = was
			}
		}
		if !better {
			step /= 2
		}
	}
	return best
}

// valueSpan is the span of L* within so many steps of value of a colour's.
func valueSpan(c lab.Lab, steps float64) (lo, hi float64) {
	l := func(v float64) float64 {
		return lab.FromXYZ(lab.XYZ{Y: lab.LuminanceOfValue(v)}, lab.D65).L
	}
	v := c.Value()
	return l(v - steps), l(v + steps)
}

func shortfall(aim, mix lab.Lab) Shortfall {
	s := Shortfall{
		Value:  mix.Value() - aim.Value(),
		Chroma: mix.Chroma() - aim.Chroma(),
		Words:  Miss(aim, mix),
	}
	if aim.Chroma() >= tooGrey && mix.Chroma() >= tooGrey {
		s.Hue = math.Mod(mix.Hue()-aim.Hue()+540, 360) - 180
	}
	return s
}

// Words says the answer in sentences, the plainest first.
func (r *Reach) Words() []string {
	var out []string
	say := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	if r.Reachable {
		say("Yes: %s comes within %.1f ΔE00 (%s).", r.Nearest.words(), r.Nearest.DE00, Grade(r.Nearest.DE00))
	} else {
		miss := r.Miss.Words
		if miss == "" {
			miss = "off by less than the eye can tell"
		}
		say("No: the nearest mix is %s: %s (%.1f ΔE00, %s).", r.Nearest.words(), miss, r.Nearest.DE00, Grade(r.Nearest.DE00))
	}
	if !r.Reachable && r.Finer <= r.Tolerance {
		say("In finer parts than a knife keeps to, the same tubes come within %.1f.", r.Finer)
	}
	if !math.IsNaN(r.Before) {
		say("Without the tubes to try it is %.1f ΔE00.", r.Before)
	}
	if aim := r.Aim.Chroma(); aim >= tooGrey {
		switch {
		case r.AtHue == nil:
			say("No mix of these tubes has this hue at all.")
		case r.AtValue == nil:
			say("No mix of these tubes has this hue at this value; their most vivid of this hue, %s, stands at value %.1f.", r.AtHue.words(), r.AtHue.Lab.Value())
		default:
			share := r.AtValue.Lab.Chroma() / aim
			switch {
			case share < 0.97 && !r.Reachable:
				say("At this hue and value their most vivid mix, %s, has %.0f %% of the chroma asked for.", r.AtValue.words(), 100*share)
			case share > 1.05 && r.Reachable:
				say("At this hue and value they go up to %.1f times this chroma.", share)
			}
			if dv := r.AtHue.Lab.Value() - r.Aim.Value(); math.Abs(dv) > 0.5 && r.AtHue.Lab.Chroma() > 1.1*r.AtValue.Lab.Chroma() {
				say("They are most vivid at this hue at value %.1f, %s.", r.AtHue.Lab.Value(), lighter(dv))
			}
		}
	}
	if r.Reachable {
		return out
	}
	switch {
	case r.Surface.Possible:
	case r.Aim.L > 100:
		say("No surface of any kind can show this colour: it is lighter than white.")
	default:
		say("No surface of any kind can show this colour by reflected light: at this hue and value the limit is chroma %.0f, and %.0f is asked for. Paint can only suggest it by contrast.", r.Surface.Chroma, r.Aim.Chroma())
	}
	switch {
	case len(r.Add) > 0 && r.Add[0].Reachable:
		say("%s would bring it within reach: %s, %.1f ΔE00.", Capital(r.Add[0].Tube.Name), r.Add[0].Mix.words(), r.Add[0].Mix.DE00)
	case len(r.Add) > 0:
		say("No one tube brings it within reach; %s comes nearest: %s, %.1f ΔE00.", r.Add[0].Tube.Name, r.Add[0].Mix.words(), r.Add[0].Mix.DE00)
	case r.Library != nil:
		say("No one tube of the library would help by much.")
	}
	if l := r.Library; l != nil && (len(r.Add) == 0 || !r.Add[0].Reachable) {
		if l.DE00 <= r.Tolerance {
			say("Paint can do it with other tubes: %s, %.1f ΔE00.", l.words(), l.DE00)
		} else if r.Surface.Possible {
			say("Of all the library's paints the nearest found is %s, %.1f ΔE00: paint as known here does not reach it.", l.words(), l.DE00)
		}
	}
	return out
}

func lighter(steps float64) string {
	if steps > 0 {
		return fmt.Sprintf("%.1f steps lighter", steps)
	}
	return fmt.Sprintf("%.1f steps darker", -steps)
}

// words writes a mix as tubes with their parts.
func (m *Mixed) words() string { return m.Palette.words(m.Parts) }

// words writes parts as "phthalo blue 1 to titanium white 12".
func (p *Palette) words(parts []Part) string {
	if len(parts) == 1 {
		return p.Tubes[parts[0].Tube].Name + " alone"
	}
	var s []string
	for _, q := range parts {
		s = append(s, fmt.Sprintf("%s %g", p.Tubes[q.Tube].Name, q.Parts))
	}
	return strings.Join(s, " to ")
}

// Capital begins a sentence with s.
func Capital(s string) string {
	if s == "" {
		return s
	}
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}
