package draw

import (
	"bytes"
	"context"
	"fmt"
	"image/color"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"paintout/analyze/lab"
	"paintout/cmd/internal/plan"
)

// chromium is where Debian puts it.
const chromium = "/usr/bin/chromium"

// browser is one window of a headless browser that keeps to itself, and gathers
// whatever the page complains of or asks a network for.
type browser struct {
	ctx  context.Context
	mu   sync.Mutex
	says []string
	asks []string
}

// TestInBrowser tries the page in one browser, each time in a window with a
// storage of its own.
func TestInBrowser(t *testing.T) {
	if _, err := os.Stat(chromium); err != nil {
		t.Skip("no browser at " + chromium + ", so the page is not tried in one")
	}
	t.Parallel()
	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(chromium), chromedp.UserDataDir(t.TempDir()),
		chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
	)
	ctx, stop := chromedp.NewExecAllocator(t.Context(), opts...)
	t.Cleanup(stop)
	ctx, stopFirst := chromedp.NewContext(ctx)
	t.Cleanup(stopFirst)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatal(err)
	}
	for _, trial := range []struct {
		name string
		of   func(*testing.T, *browser)
	}{
		{"taps", tryTaps}, {"widths", tryWidths}, {"later plans", tryLaterPlans}, {"no storage", tryNoStorage}, {"everyone", tryEveryone}, {"print", tryPrint},
	} {
		t.Run(trial.name, func(t *testing.T) {
			b := openWindow(t, ctx)
			trial.of(t, b)
			b.quiet(t)
		})
	}
}

func openWindow(t *testing.T, first context.Context) *browser {
	t.Helper()
	ctx, stop := chromedp.NewContext(first, chromedp.WithNewBrowserContext())
	t.Cleanup(stop)
	b := &browser{ctx: ctx}
	err := chromedp.Listen(ctx, func(ev any) {
		b.mu.Lock()
		defer b.mu.Unlock()
		switch ev := ev.(type) {
		case *runtime.EventConsoleAPICalled:
			for _, a := range ev.Args {
				b.says = append(b.says, fmt.Sprintf("%s %s%s", ev.Type, a.Value, a.Description))
			}
		case *runtime.EventExceptionThrown:
			b.says = append(b.says, ev.ExceptionDetails.Text)
		case *log.EventEntryAdded:
			b.says = append(b.says, ev.Entry.Text)
		case *network.EventRequestWillBeSent:
			if u := ev.Request.URL; !strings.HasPrefix(u, "file://") && !strings.HasPrefix(u, "data:") {
				b.asks = append(b.asks, u)
			}
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func (b *browser) do(t *testing.T, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	ctx, stop := context.WithTimeout(b.ctx, time.Minute)
	defer stop()
	if err := chromedp.Do(ctx, actions...); err != nil {
		t.Fatal(err)
	}
}

func tell[T any](t *testing.T, b *browser, a chromedp.Action[T]) T {
	t.Helper()
	ctx, stop := context.WithTimeout(b.ctx, time.Minute)
	defer stop()
	v, err := chromedp.Run(ctx, a)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// eval runs a line of script for its effect.
func eval(js string) chromedp.Action[chromedp.Void] { return chromedp.Evaluate[chromedp.Void](js) }

// shot keeps a picture of what is on screen, or of one element, where someone
// asked for it.
func (b *browser) shot(t *testing.T, name, element string) {
	t.Helper()
	dir := os.Getenv("PAINTOUT_SHOTS")
	if dir == "" {
		return
	}
	if element != "" { // in a window that has room for all of it
		at := `document.querySelector("` + element + `")`
		size := tell(t, b, chromedp.Evaluate[[]int64](`[innerWidth,Math.min(6000,`+at+`.offsetHeight+20)]`))
		b.do(t, chromedp.EmulateViewport(size[0], size[1]), eval(at+`.scrollIntoView()`))
	}
	buf := tell(t, b, chromedp.CaptureScreenshot())
	if err := os.WriteFile(filepath.Join(dir, name+".png"), buf, 0o644); err != nil {
		t.Fatal(err)
	}
}

// openPage writes the fixture's page to a file, as it lies on a phone, and opens it.
func (b *browser) openPage(t *testing.T, p *plan.Plan, pics *plan.Pictures, w, h int64) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "plan.html")
	if err := os.WriteFile(path, []byte(pageOf(t, p, pics)), 0o644); err != nil {
		t.Fatal(err)
	}
	view := []chromedp.EmulateViewportOption{}
	if w < 500 {
		view = append(view, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulatePortrait)
	}
	b.do(t, chromedp.EmulateViewport(w, h, view...), chromedp.Navigate("file://"+path))
	b.ready(t)
}

// ready waits for the page to have read its picture.
func (b *browser) ready(t *testing.T) {
	t.Helper()
	b.do(t, chromedp.WaitVisible("#canvas"))
}

// quiet fails where the page complained or asked a network for anything.
func (b *browser) quiet(t *testing.T) {
	t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, s := range b.says {
		t.Errorf("the page says: %s", s)
	}
	for _, s := range b.asks {
		t.Errorf("the page asks for %s", s)
	}
}

// where gives the middle of a place of the picture on screen, u and v as shares.
func (b *browser) where(t *testing.T, u, v float64) (x, y float64) {
	t.Helper()
	at := tell(t, b, chromedp.Evaluate[[]float64](fmt.Sprintf(
		`(function(){var r=document.getElementById("canvas").getBoundingClientRect();return [r.left+r.width*%g,r.top+r.height*%g]})()`, u, v)))
	return at[0], at[1]
}

// pixel reads the canvas at a place.
func (b *browser) pixel(t *testing.T, u, v float64) color.RGBA {
	t.Helper()
	at := tell(t, b, chromedp.Evaluate[[]int](fmt.Sprintf(
		`(function(){var c=document.getElementById("canvas");return Array.from(c.getContext("2d").getImageData(Math.floor(c.width*%g),Math.floor(c.height*%g),1,1).data)})()`, u, v)))
	return color.RGBA{uint8(at[0]), uint8(at[1]), uint8(at[2]), uint8(at[3])}
}

func grey(c color.RGBA) bool { return c.R == c.G && c.G == c.B }

func tryTaps(t *testing.T, b *browser) {
	p, pics := fixture(600, 400, 2)
	b.openPage(t, p, pics, 360, 740)

	// The straw field and the ridge behind it, away from their edges.
	const strawU, strawV, ridgeU, ridgeV = 0.75, 0.79, 0.5, 0.445
	straw, ridge := 5, 3
	if m := pics.Masses[int(strawV*400)*600+int(strawU*600)]; int(m) != straw {
		t.Fatalf("the fixture has mass %d where the straw should be", m)
	}
	if m := pics.Masses[int(ridgeV*400)*600+int(ridgeU*600)]; int(m) != ridge {
		t.Fatalf("the fixture has mass %d where the ridge should be", m)
	}

	// Tap a mass in the picture.
	if grey(b.pixel(t, strawU, strawV)) || grey(b.pixel(t, ridgeU, ridgeV)) {
		t.Error("the photo is grey before anything is lit")
	}
	x, y := b.where(t, strawU, strawV)
	b.do(t, chromedp.TapXY(x, y), chromedp.WaitReady(`html[data-lit="6"]`))
	if grey(b.pixel(t, strawU, strawV)) || !grey(b.pixel(t, ridgeU, ridgeV)) {
		t.Error("the straw is tapped and not alone in its colour")
	}
	if got := tell(t, b, chromedp.Text("#lit")); got != "Lit: 6 straw." {
		t.Errorf("the page says %q", got)
	}
	if n := tell(t, b, chromedp.Evaluate[int](`document.querySelectorAll('.pat[aria-pressed=true]').length`)); n != 1 {
		t.Errorf("%d piles are marked as lit, want 1", n)
	}
	// Tap a pile, by key; then put the light out.
	b.do(t, chromedp.Focus(`.pat[data-lights="3"]`), chromedp.KeyEvent("\r"), chromedp.WaitReady(`html[data-lit="4"]`))
	if !grey(b.pixel(t, strawU, strawV)) || grey(b.pixel(t, ridgeU, ridgeV)) {
		t.Error("the ridge is lit and not alone in its colour")
	}
	b.shot(t, "lit-360", "")
	b.do(t, chromedp.Click("#out"), chromedp.WaitReady(`html[data-lit=""]`))

	// Value steps: greys, no more of them than steps; masses in their colours.
	for _, n := range []int{2, 3, 5} {
		b.do(t, chromedp.Click(fmt.Sprintf(`[data-view="v%d"]`, n)))
		levels := tell(t, b, chromedp.Evaluate[[]int](`(function(){var c=document.getElementById("canvas"),d=c.getContext("2d").getImageData(0,0,c.width,c.height).data,s={};`+
			`for(var i=0;i<d.length;i+=4){s[d[i]===d[i+1]&&d[i]===d[i+2]?d[i]:-1]=1}return Object.keys(s).map(Number).sort(function(a,b){return b-a})})()`))
		var want []int
		for _, s := range p.ValueSteps[n] {
			want = append(want, int(greyOfValue(s.Value).R))
		}
		if !slices.Equal(levels, want) {
			t.Errorf("%d values show the greys %v, want %v", n, levels, want)
		}
		if !tell(t, b, chromedp.Evaluate[bool](fmt.Sprintf(`document.querySelector('.steps[data-for=v%d]').checkVisibility()`, n))) {
			t.Errorf("%d values: their shares are not shown", n)
		}
	}
	for view, want := range map[string]string{"masses": p.Masses[straw].AimHex, "mixes": p.Masses[straw].First().Hex} {
		b.do(t, chromedp.Click(`[data-view="`+view+`"]`))
		if got := hexOf(b.pixel(t, strawU, strawV)); got != want {
			t.Errorf("%s: the straw is %s, want %s", view, got, want)
		}
	}

	// Open a mix from the light, tick it, write a note; both outlast a reload.
	b.do(t, chromedp.Click(`.pat[data-lights="5"]`), chromedp.Click("#to-mix"), chromedp.WaitVisible("#body-6"))
	b.shot(t, "open-360", "")
	b.do(t, chromedp.Click(`#pile-6 .tick`), chromedp.SendKeys(`[data-note="6"]`, "more ochre"), chromedp.Reload())
	b.ready(t)
	if !tell(t, b, chromedp.Evaluate[bool](`document.querySelector('[data-tick="6"]').checked`)) {
		t.Error("the tick is gone after a reload")
	}
	if !tell(t, b, chromedp.Evaluate[bool](`document.querySelector('[data-lights="5"]').classList.contains("done")`)) {
		t.Error("the palette does not show which pile is mixed")
	}
	if got := tell(t, b, chromedp.Evaluate[string](`document.querySelector('[data-note="6"]').value`)); got != "more ochre" {
		t.Errorf("the note reads %q after a reload", got)
	}
	if got := tell(t, b, chromedp.Text("#count")); got != "1 of 14 mixed." {
		t.Errorf("the page counts %q", got)
	}
}

// At a phone's width, a tablet's and a desk's nothing runs off the side, closed
// or open; with PAINTOUT_SHOTS set the pages are left there to be looked at.
func tryWidths(t *testing.T, b *browser) {
	side := 300
	if os.Getenv("PAINTOUT_SHOTS") != "" {
		side = 900
	}
	p, pics := fixture(side, side*2/3, 3)
	withKit(p)
	p.Masses[6].Recipes[0].Why = "Quarry Ochre leans to red and Smithy Black to blue, so the green between them is half undone."
	p.Masses[2].Name = "a name so long that it must be broken somewhere, blue-grey-violet-greenish-and-so-on"
	for _, size := range [][2]int64{{360, 740}, {768, 1024}, {1440, 900}} {
		name := fmt.Sprint(size[0])
		b.openPage(t, p, pics, size[0], size[1])
		fits := func(when string) {
			t.Helper()
			if w := tell(t, b, chromedp.Evaluate[int64](`document.documentElement.scrollWidth`)); w > size[0] {
				t.Errorf("%s px, %s: the page is %d wide", name, when, w)
			}
		}
		fits("closed")
		b.shot(t, "top-"+name, "")
		b.do(t, eval(`document.querySelector('.pat[data-lights="6"]').click();document.getElementById("choose").scrollIntoView()`))
		b.shot(t, "choose-"+name, "")
		b.shot(t, "closed-"+name, "body")
		b.do(t, chromedp.EmulateViewport(size[0], size[1]), eval(`document.querySelector("#to-mix").click()`))
		b.shot(t, "mix-"+name, "")
		b.do(t, eval(`document.getElementById("open-all").click();document.querySelectorAll("details").forEach(function(d){d.open=true})`))
		fits("open")
		b.shot(t, "open-"+name, "body")
		b.shot(t, "carry-"+name, "#carry")
		b.shot(t, "curve-"+name, ".curve")
		b.shot(t, "trust-"+name, "#trust")
	}
}

// Whatever a later plan of the photo is made with, nothing a painter wrote is
// lost, and no tick lands on another colour.
func tryLaterPlans(t *testing.T, b *browser) {
	p, pics := fixture(150, 100, 0)
	p.Photo.FileWidth, p.Photo.FileHeight = 4032, 3024
	b.openPage(t, p, pics, 360, 740)
	open := func(id string) chromedp.Action[chromedp.Void] { return chromedp.Click("#pile-" + id + " .open") }
	note := func(id, text string) {
		t.Helper()
		b.do(t, chromedp.ScrollIntoView("#pile-"+id), open(id), chromedp.SendKeys(`[data-note="`+id+`"]`, text))
	}
	tick := func(id string) chromedp.Action[chromedp.Void] { return chromedp.Click("#pile-" + id + " .tick") }
	b.do(t, tick("6"), tick("13"), tick("2"))
	note("6", "more ochre")
	note("13", "orange instead")
	note("3", "grey it")
	ticked := func() string {
		t.Helper()
		return tell(t, b, chromedp.Evaluate[string](`Array.from(document.querySelectorAll(".tick input:checked")).map(function(i){return i.getAttribute("data-tick")}).join(" ")`))
	}
	notes := func() string {
		t.Helper()
		return tell(t, b, chromedp.Evaluate[string](`Array.from(document.querySelectorAll("[data-note]")).filter(function(a){return a.value}).map(function(a){return a.getAttribute("data-note")+" "+a.value}).join("; ")`))
	}
	earlier := func() string {
		t.Helper()
		return tell(t, b, chromedp.Evaluate[string](`document.getElementById("earlier").checkVisibility()?Array.from(document.querySelectorAll("#earlier>.was li div")).map(function(d){return Array.from(d.children).map(function(e){return e.textContent}).join(" | ")}).join("; "):""`))
	}
	expect := func(when, wantTicked, wantNotes string, wantEarlier ...string) {
		t.Helper()
		if got := ticked(); got != wantTicked {
			t.Errorf("%s: ticked are %q, want %q", when, got, wantTicked)
		}
		if got := notes(); got != wantNotes {
			t.Errorf("%s: the notes are %q, want %q", when, got, wantNotes)
		}
		got := earlier()
		if len(wantEarlier) == 0 && got != "" {
			t.Errorf("%s: earlier notes stand there: %q", when, got)
		}
		for _, want := range wantEarlier {
			if !strings.Contains(got, want) {
				t.Errorf("%s: the earlier notes are %q, want %q among them", when, got, want)
			}
		}
	}
	// Piles stand light to dark.
	expect("as written", "2 6 13", "6 more ochre; 3 grey it; 13 orange instead")

	// Another box, crop and number of masses: the straw is pile 5 and within
	// 1.2 units, the vermilion 1.3 units off, the two blues are one between them.
	q, _ := fixture(150, 100, 0)
	q.Box.Name, q.Finish, q.Photo = "another box", "excluded", p.Photo
	q.Photo.Width, q.Photo.Height = 2400, 1800
	shift := func(i int, c lab.Lab) { q.Masses[i].Aim, q.Masses[i].AimHex = c, c.Hex() }
	straw, red := p.Masses[5].Aim, p.Masses[12].Aim
	shift(5, lab.Lab{L: straw.L + 0.7, A: straw.A, B: straw.B - 0.9})
	q.Masses[5].ID, q.Masses[4].ID = 5, 6
	q.Masses[5].Name = "dry straw"
	shift(12, lab.Lab{L: red.L, A: red.A - 1.3, B: red.B})
	shift(2, lab.Lab{L: 40, A: -20, B: -30})
	b.openPage(t, q, pics, 360, 740)
	vermilion := []string{"Pile 13, vermilion", "✓ Mixed · " + short(*p.Masses[12].First()), "orange instead", time.Now().UTC().Format("2006")}
	expect("a later plan", "2 5", "5 more ochre", append(vermilion, "Pile 3, soft blue", "grey it")...)
	if got := tell(t, b, chromedp.TextContent("#pile-5 .from")); !strings.Contains(got, "Ticked on an earlier plan") || !strings.Contains(got, "as pile 6, straw: "+short(*p.Masses[5].First())) {
		t.Errorf("of the straw's tick the page says %q", got)
	}
	b.shot(t, "earlier-360", "#earlier")

	// They are copied with the rest.
	b.do(t, eval(`Object.defineProperty(navigator,"clipboard",{value:{writeText:function(s){window.copied=s;return Promise.resolve()}}});document.getElementById("copy").click()`))
	copied := tell(t, b, chromedp.Evaluate[string](`window.copied`))
	for _, want := range []string{"[x] 5 dry straw: ", "    more ochre\n", "[ ] 13 vermilion: ", "\nEarlier notes\n", "[x] Pile 13, vermilion (" + p.Masses[12].AimHex + "); ", "    orange instead\n", "[ ] Pile 3, soft blue", "    grey it\n"} {
		if !strings.Contains(copied, want) {
			t.Errorf("%q is not copied among %q", want, copied)
		}
	}

	// Ticked on the later plan; one put away, and brought back.
	b.do(t, tick("13"))
	b.do(t, eval(`document.getElementById("earlier").scrollIntoView()`), chromedp.Click(`#earlier>.was li:first-child button`))
	away := tell(t, b, chromedp.TextContent("#away li h4"))
	if got := earlier(); strings.Contains(got, away) || got == "" {
		t.Errorf("%q is put away, and the earlier notes are %q", away, got)
	}
	b.do(t, chromedp.Reload())
	b.ready(t)
	if got := tell(t, b, chromedp.TextContent("#away li h4")); got != away {
		t.Errorf("put away is %q after a reload, want %q", got, away)
	}
	b.do(t, eval(`document.querySelector("#away summary").click();document.querySelector("#away li button").click()`))
	expect("brought back", "2 5 13", "5 more ochre", append(vermilion, "grey it")...)

	// Another photo of that name shows them, and takes none of them.
	r, _ := fixture(150, 100, 0)
	r.Photo.FileWidth, r.Photo.FileHeight = 3000, 2000
	b.openPage(t, r, pics, 360, 740)
	expect("another photo", "", "", "more ochre", "orange instead", "grey it", "4032 × 3024")
	r.Photo.Path = "other.jpg"
	b.openPage(t, r, pics, 360, 740)
	expect("another name", "", "")

	// The first plan is as it was; what was ticked later is another red.
	b.openPage(t, p, pics, 360, 740)
	expect("the first again", "2 6 13", "6 more ochre; 3 grey it; 13 orange instead", "Pile 13, vermilion | ✓ Mixed")
	b.do(t, tick("6"), chromedp.Reload())
	b.ready(t)
	expect("unticked", "2 13", "6 more ochre; 3 grey it; 13 orange instead", "Pile 13, vermilion | ✓ Mixed")

	// What another window of it writes shows here too, and nonsense does no harm.
	b.do(t, eval(`var n=Object.keys(localStorage)[0],k=JSON.parse(localStorage.getItem(n));k.tick=true;delete k.note;`+
		`k.lab=document.getElementById("pile-9").getAttribute("data-lab").split(" ").map(Number);localStorage.setItem(n+"a",JSON.stringify(k));`+
		`localStorage.setItem(n+"b","{");localStorage.setItem(n+"c","null");dispatchEvent(new StorageEvent("storage",{key:n+"a"}))`))
	expect("another window", "2 9 13", "6 more ochre; 3 grey it; 13 orange instead", "Pile 13, vermilion | ✓ Mixed")
}

// A viewer may refuse storage: the page then says so, and still works.
func tryNoStorage(t *testing.T, b *browser) {
	b.do(t, chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		_, err := cdp.Call(ctx, target, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{
			Source: `Object.defineProperty(window,"localStorage",{get:function(){throw new DOMException("refused","SecurityError")}})`})
		return err
	}))
	p, pics := fixture(300, 200, 2)
	b.openPage(t, p, pics, 360, 740)
	if got := tell(t, b, chromedp.Text("#kept")); !strings.Contains(got, "keeps nothing") {
		t.Errorf("without storage the page says %q", got)
	}
	b.do(t, chromedp.Click(`#pile-6 .tick`), chromedp.Click("#save"))
	if got := tell(t, b, chromedp.Text("#count")); got != "1 of 14 mixed." {
		t.Errorf("the page counts %q", got)
	}
}

// axe-core (npm, MPL-2.0) checks the rules of WCAG 2.2 A and AA; PAINTOUT_AXE
// names its axe.min.js.
func tryEveryone(t *testing.T, b *browser) {
	axe, err := os.ReadFile(os.Getenv("PAINTOUT_AXE"))
	if err != nil {
		t.Skip("PAINTOUT_AXE names no axe.min.js, so its rules are not tried")
	}
	p, pics := fixture(300, 200, 2)
	withKit(p)
	run := func(name string) {
		t.Helper()
		b.do(t, eval(string(axe)))
		found := tell(t, b, chromedp.Evaluate[[]string](`axe.run(document,{runOnly:["wcag2a","wcag2aa","wcag21a","wcag21aa","wcag22aa","best-practice"]}).then(function(r){`+
			`return r.violations.map(function(v){return v.id+": "+v.help+" "+v.nodes.map(function(n){return n.target.join(" ")+" ("+(n.any[0]||n.all[0]||n.none[0]||{}).message+")"}).join("; ")})})`, chromedp.EvalAwaitPromise))
		for _, f := range found {
			t.Errorf("%s: %s", name, f)
		}
	}
	for _, size := range [][2]int64{{360, 740}, {1440, 900}} {
		b.openPage(t, p, pics, size[0], size[1])
		run(fmt.Sprint(size[0], " closed"))
		b.do(t, eval(`document.querySelector('.pat[data-lights="6"]').click();document.getElementById("open-all").click();document.querySelectorAll("details").forEach(function(d){d.open=true});document.querySelector('[data-view="v3"]').click();document.querySelector(".tick input").click()`))
		run(fmt.Sprint(size[0], " open"))
	}
	path := filepath.Join(t.TempDir(), "overview.html")
	var over bytes.Buffer
	if err := Overview(&over, []Item{{p, pics, "one/plan.html"}, {p, pics, "two/plan.html"}, {p, pics, "three/plan.html"}}); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, over.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, size := range [][2]int64{{360, 740}, {1440, 900}} {
		b.do(t, chromedp.EmulateViewport(size[0], size[1]), chromedp.Navigate("file://"+path))
		run(fmt.Sprint(size[0], " overview"))
		b.shot(t, fmt.Sprint("overview-", size[0]), "body")
	}
}
