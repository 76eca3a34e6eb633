package web

import (
	"context"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"paintout/cmd/internal/cardphoto"
	"paintout/cmd/internal/plan"
	"paintout/inventory/optics"
	"paintout/recipe"
)

// chromium is where Debian puts it.
const chromium = "/usr/bin/chromium"

// window is a window of a headless browser on a page being served, and gathers
// what the page complains of and what it asks of others.
type window struct {
	ctx  context.Context
	home string // the page's address
	down string // where downloads go
	mu   sync.Mutex
	says []string
	asks []string
}

// openPage serves the page with the starter box and opens it in a browser.
func openPage(t *testing.T) *window {
	t.Helper()
	if _, err := os.Stat(chromium); err != nil {
		t.Skip("no browser at " + chromium + ", so the page is not tried in one")
	}
	s := newServer(t, Options{Settings: plan.Settings{PortionError: recipe.KnifeError}, Dir: t.TempDir()})
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stopServer := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx, l) }()

	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(chromium), chromedp.UserDataDir(t.TempDir()),
		chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("hide-scrollbars", true),
	)
	bctx, stopBrowser := chromedp.NewExecAllocator(context.Background(), opts...)
	bctx, stopWindow := chromedp.NewContext(bctx)
	w := &window{ctx: bctx, home: "http://" + l.Addr().String() + "/", down: t.TempDir()}
	t.Cleanup(func() {
		stopWindow()
		stopBrowser()
		stopServer()
		if err := <-ended; err != nil {
			t.Errorf("the server ended with %v", err)
		}
	})
	err = chromedp.Listen(bctx, func(ev any) {
		w.mu.Lock()
		defer w.mu.Unlock()
		switch ev := ev.(type) {
		case *runtime.EventConsoleAPICalled:
			for _, a := range ev.Args {
				w.says = append(w.says, fmt.Sprintf("%s %s%s", ev.Type, a.Value, a.Description))
			}
		case *runtime.EventExceptionThrown:
			text := ev.ExceptionDetails.Text
			if e := ev.ExceptionDetails.Exception; e != nil {
				text += " " + e.Description
			}
			w.says = append(w.says, text)
		case *log.EventEntryAdded:
			w.says = append(w.says, ev.Entry.Text+" "+ev.Entry.URL)
		case *network.EventRequestWillBeSent:
			if u := ev.Request.URL; !strings.HasPrefix(u, w.home) && !strings.HasPrefix(u, "blob:"+w.home) && !strings.HasPrefix(u, "about:") {
				w.asks = append(w.asks, u)
			}
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Do(bctx); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.CallBrowser(bctx, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{
		Behavior: browser.SetDownloadBehaviorBehaviorAllow, DownloadPath: w.down,
	}); err != nil {
		t.Fatal(err)
	}
	return w
}

func (w *window) do(t *testing.T, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	ctx, stop := context.WithTimeout(w.ctx, time.Minute)
	defer stop()
	if err := chromedp.Do(ctx, actions...); err != nil {
		t.Fatal(err)
	}
}

func tell[T any](t *testing.T, w *window, js string) T {
	t.Helper()
	ctx, stop := context.WithTimeout(w.ctx, time.Minute)
	defer stop()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](js))
	if err != nil {
		t.Fatalf("%s: %v", js, err)
	}
	return v
}

func eval(js string) chromedp.Action[chromedp.Void] { return chromedp.Evaluate[chromedp.Void](js) }

// until waits for something to be true on the page.
func (w *window) until(t *testing.T, what, js string) {
	t.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(40 * time.Millisecond) {
		if tell[bool](t, w, js) {
			return
		}
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	t.Fatalf("in a minute %s did not come about; the page says %q", what, w.says)
}

func (w *window) size(t *testing.T, wide, high int64) {
	t.Helper()
	view := []chromedp.EmulateViewportOption{}
	if wide < 500 {
		view = append(view, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulatePortrait)
	}
	w.do(t, chromedp.EmulateViewport(wide, high, view...))
}

// shot keeps a picture of what is on screen. go test -artifacts keeps it after
// the test.
func (w *window) shot(t *testing.T, name string) {
	t.Helper()
	ctx, stop := context.WithTimeout(w.ctx, time.Minute)
	defer stop()
	buf, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(t.ArtifactDir(), name+".png"), buf, 0o644); err != nil {
		t.Fatal(err)
	}
}

// drop puts a photo into the page.
func (w *window) drop(t *testing.T, path string) {
	t.Helper()
	w.do(t, chromedp.WaitReady("#photo"), chromedp.SetUploadFiles("#photo", []string{path}))
	w.until(t, "the first leaf", `document.body.dataset.leaf==="look" && document.querySelectorAll(".pat").length>3`)
	w.settled(t)
}

// settled waits until no work is under way.
func (w *window) settled(t *testing.T) {
	t.Helper()
	w.until(t, "rest", `document.body.dataset.busy==="0"`)
}

// touch taps the picture at a place, as shares of its width and height.
func (w *window) touch(t *testing.T, u, v float64) {
	t.Helper()
	at := tell[[]float64](t, w, fmt.Sprintf(`(function(){var r=document.querySelector(".pad").getBoundingClientRect();return [r.left+r.width*%g,r.top+r.height*%g]})()`, u, v))
	w.do(t, chromedp.MouseClickXY(at[0], at[1]))
	w.settled(t)
}

func (w *window) leaf(t *testing.T, name string) {
	t.Helper()
	w.do(t, eval(`location.hash="`+name+`"`))
	w.until(t, "the leaf "+name, `document.body.dataset.leaf==="`+name+`"`)
	w.settled(t)
}

// quietBut is quiet where the browser may note answers of a status.
func (w *window) quietBut(t *testing.T, status string) {
	w.mu.Lock()
	kept := w.says[:0]
	for _, s := range w.says {
		if !strings.Contains(s, status) {
			kept = append(kept, s)
		}
	}
	w.says = kept
	w.mu.Unlock()
	w.quiet(t)
}

// quiet fails where the page complained or asked anything of others.
func (w *window) quiet(t *testing.T) {
	t.Helper()
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, s := range w.says {
		t.Errorf("the page says: %s", s)
	}
	for _, s := range w.asks {
		t.Errorf("the page asks for %s", s)
	}
}

// axe tries the rules of WCAG 2.2 A and AA and good practice on the view, where
// PAINTOUT_AXE names axe-core's axe.min.js (npm, MPL-2.0).
func (w *window) axe(t *testing.T, view string) {
	t.Helper()
	rules, err := os.ReadFile(os.Getenv("PAINTOUT_AXE"))
	if err != nil {
		t.Log("PAINTOUT_AXE names no axe.min.js, so its rules are not tried")
		return
	}
	if !tell[bool](t, w, `!!window.axe`) {
		w.do(t, eval(string(rules)))
	}
	ctx, stop := context.WithTimeout(w.ctx, time.Minute)
	defer stop()
	found, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](`axe.run(document,{runOnly:["wcag2a","wcag2aa","wcag21a","wcag21aa","wcag22aa","best-practice"]}).then(function(r){`+
		`return r.violations.map(function(v){return v.id+": "+v.help+" "+v.nodes.map(function(n){return n.target.join(" ")+" ("+(n.any[0]||n.all[0]||n.none[0]||{}).message+")"}).join("; ")})})`, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range found {
		t.Errorf("%s: %s", view, f)
	}
}

// photoFile writes the fields to a file.
func photoPath(t *testing.T) string {
	t.Helper()
	if p := os.Getenv("PAINTOUT_PHOTO"); p != "" { // to look at the page with another
		return p
	}
	path := filepath.Join(t.TempDir(), "fields.jpg")
	if err := os.WriteFile(path, fieldsJPEG(t, 1500, 1000), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// A painter's whole sitting in a browser: a photo, its masses, a spot, tubes out
// and in, a kit from the curve, a pile mixed and mended, the sheet, and all of it
// there again after a reload.
func TestPaintersSitting(t *testing.T) {
	w := openPage(t)
	w.size(t, 1440, 900)
	w.do(t, chromedp.Navigate(w.home))
	w.drop(t, photoPath(t))
	count := func(sel string) int { return tell[int](t, w, `document.querySelectorAll('`+sel+`').length`) }
	text := func(sel string) string {
		return tell[string](t, w, `(document.querySelector('`+sel+`')||{textContent:""}).textContent`)
	}

	// The number of masses, by key and by button.
	before := count(".pat")
	w.do(t, chromedp.Click(`[aria-label="One mass more"]`))
	w.settled(t)
	if n := count(".pat"); n != before+1 || text("#how-many") != fmt.Sprint(n) || text(".ends b") != fmt.Sprint(n) {
		t.Errorf("one mass more than %d are %d, said to be %s", before, n, text("#how-many"))
	}
	w.do(t, chromedp.Focus("#masses"), chromedp.KeyEvent(kb.ArrowLeft), chromedp.KeyEvent(kb.ArrowLeft))
	w.settled(t)
	if n := count(".pat"); n != before-1 {
		t.Errorf("two keys to the left leave %d of %d masses", n, before+1)
	}
	if id := tell[string](t, w, `document.activeElement.id`); id != "masses" {
		t.Errorf("the key moved the focus to %q", id)
	}

	// A value print over the picture, then a mass lit up.
	w.do(t, chromedp.Click(`[data-shows="v3"]`))
	if greys := tell[int](t, w, `(function(){var c=document.querySelector(".frame canvas"),d=c.getContext("2d").getImageData(0,0,c.width,c.height).data,s={};for(var i=0;i<d.length;i+=4)s[d[i]===d[i+1]&&d[i]===d[i+2]?d[i]:"colour"]=1;return Object.keys(s).length})()`); greys != 3 {
		t.Errorf("three values are shown in %d", greys)
	}
	w.do(t, chromedp.Click(".pat"))
	if got := tell[string](t, w, `document.querySelector(".pat").getAttribute("aria-pressed")+document.querySelector(".frame canvas").hidden+document.querySelector(".number").textContent`); got != "truefalse"+text(".pat b") {
		t.Errorf("a pile is pressed: %s", got)
	}
	w.do(t, chromedp.Click(".pat"))

	// A spot, by hand and by key; the ring larger.
	w.touch(t, 0.5, 0.3)
	if s := text(".slip"); !strings.Contains(s, "value") || text(".touched .first") == "" {
		t.Errorf("the spot reads %q", s)
	}
	first := text(".slip")
	w.do(t, chromedp.Focus(".pad"), chromedp.KeyEvent(kb.ArrowDown), chromedp.KeyEvent(kb.ArrowDown), chromedp.KeyEvent(kb.ArrowDown),
		chromedp.KeyEvent(kb.ArrowDown), chromedp.KeyEvent(kb.ArrowDown), chromedp.KeyEvent(kb.ArrowDown), chromedp.KeyEvent(kb.Enter))
	w.settled(t)
	if text(".slip") == first {
		t.Error("the spot has been moved by keys and reads the same")
	}
	wide := tell[float64](t, w, `parseFloat(document.querySelector(".ring").style.width)`)
	w.do(t, chromedp.Click(`[aria-label="Larger spot"]`))
	w.settled(t)
	if now := tell[float64](t, w, `parseFloat(document.querySelector(".ring").style.width)`); now <= wide {
		t.Errorf("the ring was %g wide and is %g", wide, now)
	}
	w.do(t, chromedp.Click(`#touched summary`))
	w.until(t, "the question of reach", `Array.from(document.querySelectorAll("#touched button")).some(function(b){return b.textContent.startsWith("How far")})`)
	w.do(t, eval(`Array.from(document.querySelectorAll("#touched button")).find(function(b){return b.textContent.startsWith("How far")}).click()`))
	w.settled(t)
	w.until(t, "the reach of the spot", `document.querySelectorAll("#touched .more li").length>0`)
	w.shot(t, "spot-1440")
	w.axe(t, "look with a spot")
	w.do(t, chromedp.Click(`[aria-label="Put the spot away"]`))

	// A part of the photo, drawn with the pointer; then the whole of it again.
	press := func(words string) {
		w.until(t, "the button "+words, fmt.Sprintf(`Array.from(document.querySelectorAll("#recto button")).some(function(b){return b.textContent===%q})`, words))
		w.do(t, eval(fmt.Sprintf(`Array.from(document.querySelectorAll("#recto button")).find(function(b){return b.textContent===%q}).click()`, words)))
		w.settled(t)
	}
	shape := func() float64 {
		return tell[float64](t, w, `(function(){var i=document.querySelector(".frame img");return i.naturalWidth/i.naturalHeight})()`)
	}
	was := shape()
	w.do(t, eval(`document.querySelectorAll("#recto details").forEach(function(d){d.open=true})`))
	press("Draw the part to keep")
	w.until(t, "the frame to draw", `!document.querySelector(".crop").hidden`)
	w.do(t, eval(`scrollTo(0,0)`))
	at := tell[[]float64](t, w, `(function(){var r=document.querySelector(".pad").getBoundingClientRect();return [r.left+r.width*.1,r.top+r.height*.2,r.left+r.width*.5,r.top+r.height*.9]})()`)
	w.do(t, chromedp.MouseEvent(input.DispatchMouseEventTypeMousePressed, at[0], at[1], chromedp.ButtonLeft), chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, at[2], at[3], chromedp.ButtonLeft), chromedp.MouseEvent(input.DispatchMouseEventTypeMouseReleased, at[2], at[3], chromedp.ButtonLeft))
	w.shot(t, "crop-1440")
	press("Keep this part")
	w.until(t, "the part", fmt.Sprintf(`(function(){var i=document.querySelector(".frame img");return Math.abs(i.naturalWidth/i.naturalHeight-%g)<0.05})()`, was*0.4/0.7))
	press("The whole photo again")
	w.until(t, "the whole", fmt.Sprintf(`(function(){var i=document.querySelector(".frame img");return Math.abs(i.naturalWidth/i.naturalHeight-%g)<0.01})()`, was))
	w.settled(t)

	// A tube out, the undo, and a kit from the curve.
	w.leaf(t, "choose")
	tubes := count(".streaks input")
	w.do(t, eval(`document.querySelectorAll(".streaks input")[3].click()`))
	w.settled(t)
	if n := count(".streaks .out"); n != 1 || !strings.Contains(text("#recto .buttons"), "Undo") {
		t.Errorf("%d tubes are out, %q", n, text("#recto .buttons"))
	}
	w.do(t, chromedp.Click(`#recto .buttons button`))
	w.settled(t)
	if n := count(".streaks .out"); n != 0 {
		t.Errorf("undone, %d tubes are out", n)
	}
	w.do(t, eval(`document.querySelectorAll(".point")[2].click()`))
	w.settled(t)
	if n := tubes - count(".streaks .out"); n != 3 {
		t.Errorf("three tubes were chosen on the curve, %d are carried", n)
	}
	if p := tell[string](t, w, `Array.from(document.querySelectorAll(".point")).map(function(p){return p.getAttribute("aria-pressed")}).join(" ")`); strings.Count(p, "true") != 1 {
		t.Errorf("points of the curve are pressed: %s", p)
	}
	// A tube that every kit must have, and one that none may.
	w.do(t, eval(`(function(){document.querySelectorAll("#recto details").forEach(function(d){d.open=true});var s=document.querySelectorAll(".pins select");s[0].value="keep";s[0].dispatchEvent(new Event("change"))})()`))
	w.settled(t)
	w.do(t, eval(`(function(){var s=document.querySelectorAll(".pins select")[1];s.value="leave";s.dispatchEvent(new Event("change"))})()`))
	w.settled(t)
	w.until(t, "the curve with the settled tubes", `(function(){var s=document.querySelectorAll(".pins select"),k=s[0].dataset.tube,l=s[1].dataset.tube,p=Array.from(document.querySelectorAll(".point"));`+
		`return s[0].value==="keep"&&s[1].value==="leave"&&p.length>2&&p.slice(2).every(function(b){return b.textContent.includes(k)&&!b.textContent.includes(l)})})()`)
	w.do(t, eval(`document.querySelector(".pins").scrollIntoView({block:"center"})`))
	w.shot(t, "settled-1440")
	w.axe(t, "choose with settled tubes")
	for range 2 {
		w.do(t, eval(`(function(){var s=Array.from(document.querySelectorAll(".pins select")).find(function(s){return s.value});s.value="";s.dispatchEvent(new Event("change"))})()`))
		w.settled(t)
	}
	w.until(t, "the curve without them", `document.querySelectorAll(".point").length>3`)
	w.until(t, "the picture as they can paint it", `!document.querySelector(".wide-print").hidden`)
	w.do(t, chromedp.Click(".wide-print"))
	w.shot(t, "three-tubes-1440")
	w.do(t, chromedp.Click(".wide-print"), eval(`document.querySelectorAll(".point")[document.querySelectorAll(".point").length-1].click()`))
	w.settled(t)

	// A pile mixed, noted, asked about and mended.
	w.leaf(t, "mix")
	w.do(t, eval(`document.querySelectorAll(".pile .open")[2].click()`), chromedp.WaitVisible(".body"), eval(`document.querySelectorAll(".pile .tick input")[2].click()`))
	w.settled(t)
	w.do(t, chromedp.SendKeys(".body textarea", "a touch more ochre"), chromedp.Focus(".pile .open"))
	w.settled(t)
	if !strings.Contains(text("#recto .now"), "1 of ") || count(".pat.done") != 1 {
		t.Errorf("%q, and %d piles are marked", text("#recto .now"), count(".pat.done"))
	}
	for _, b := range []string{"Premix it, light to dark", "Why does it look so?"} {
		w.do(t, eval(fmt.Sprintf(`(Array.from(document.querySelectorAll(".body button")).find(function(b){return b.textContent===%q})||{click:function(){}}).click()`, b)))
		w.settled(t)
	}
	if n := count(".string li"); n < 3 {
		t.Errorf("a string of %d piles", n)
	}
	w.do(t, eval(`document.querySelector(".body .buttons").scrollIntoView()`))
	w.shot(t, "premixed-1440")
	w.do(t, eval(`document.querySelector(".body details:nth-of-type(2)") && document.querySelectorAll(".body details").forEach(function(d){d.open=true})`))
	w.do(t, chromedp.SendKeys(`.body input[placeholder^="lab:"]`, "lab:60,0,0"), eval(`Array.from(document.querySelectorAll(".body button")).find(function(b){return b.textContent==="What to add"}).click()`))
	w.settled(t)
	if count(".body .ways li") == 0 && count(".body .say li") == 0 {
		t.Error("nothing is said of how to mend the pile")
	}
	w.do(t, eval(`(function(){var i=document.querySelector('.body input[placeholder^="lab:"]');i.value="a door";Array.from(document.querySelectorAll(".body button")).find(function(b){return b.textContent==="What to add"}).click()})()`))
	w.settled(t)
	if s := text(".body .oops"); !strings.Contains(s, "a door") {
		t.Errorf("of a reading that is none it says %q", s)
	}

	// The sheet.
	w.leaf(t, "carry")
	w.do(t, chromedp.Click(`#recto .strong button`))
	w.settled(t)
	w.until(t, "the download", `(document.querySelector("#recto .done")||{textContent:""}).textContent.includes(".pdf")`)
	var sheet []byte
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end) && len(sheet) == 0; time.Sleep(50 * time.Millisecond) {
		found, _ := filepath.Glob(filepath.Join(w.down, "*-sheet.pdf"))
		if len(found) > 0 {
			sheet, _ = os.ReadFile(found[0])
		}
	}
	if !strings.HasPrefix(string(sheet), "%PDF-") {
		t.Errorf("the sheet begins with %.20q", sheet)
	}

	// A reload.
	carried := tell[string](t, w, `document.querySelector("#recto .now").textContent`)
	w.do(t, chromedp.Reload())
	w.until(t, "the leaf after a reload", `document.body.dataset.leaf==="carry" && document.querySelectorAll(".pat").length>3`)
	w.settled(t)
	if now := text("#recto .now"); now != carried {
		t.Errorf("before the reload %q, now %q", carried, now)
	}
	w.leaf(t, "mix")
	if n := count(".pat.done"); n != 1 {
		t.Errorf("%d piles are ticked after a reload", n)
	}
	w.do(t, eval(`document.querySelectorAll(".pile .open")[2].click()`))
	if v := tell[string](t, w, `document.querySelector(".body textarea").value`); v != "a touch more ochre" {
		t.Errorf("the note reads %q", v)
	}
	// The bare address lists the photo; what is no photo is refused beside the place.
	w.do(t, chromedp.Navigate(w.home))
	w.until(t, "the earlier photos", `document.querySelectorAll(".prints img").length===1`)
	w.shot(t, "begin-1440")
	w.axe(t, "begin")
	bad := filepath.Join(t.TempDir(), "notes.txt")
	if err := os.WriteFile(bad, []byte("these are notes"), 0o644); err != nil {
		t.Fatal(err)
	}
	w.do(t, chromedp.SetUploadFiles("#photo", []string{bad}))
	w.until(t, "words about what is no photo", `(document.querySelector(".bring .oops")||{textContent:""}).textContent.includes("notes.txt")`)
	w.quietBut(t, "422")
}

// Every leaf at a phone's width, a tablet's and a desk's: nothing runs off the
// side, no rule of access is broken, and a picture of it is kept.
func TestEveryLeaf(t *testing.T) {
	w := openPage(t)
	w.size(t, 1440, 900)
	w.do(t, chromedp.Navigate(w.home))
	w.drop(t, photoPath(t))
	for _, size := range [][2]int64{{360, 740}, {768, 1024}, {1440, 900}} {
		w.size(t, size[0], size[1])
		for _, leaf := range []string{"look", "choose", "mix", "carry", "box"} {
			w.leaf(t, leaf)
			w.do(t, eval(`scrollTo(0,0)`))
			name := fmt.Sprintf("%s-%d", leaf, size[0])
			w.shot(t, name+"-top")
			if leaf != "box" {
				w.do(t, eval(`document.querySelector("#recto h1").scrollIntoView()`))
			}
			if leaf == "mix" {
				w.do(t, eval(`document.querySelectorAll(".pat")[1].getAttribute("aria-pressed")==="true"||document.querySelectorAll(".pat")[1].click()`))
			}
			w.do(t, eval(`document.querySelectorAll("main details").forEach(function(d){d.open=true})`))
			w.settled(t)
			time.Sleep(100 * time.Millisecond)
			w.shot(t, name)
			if wide := tell[int64](t, w, `document.documentElement.scrollWidth`); wide > size[0] {
				t.Errorf("%s: the page is %d wide", name, wide)
			}
			w.axe(t, name)
			if leaf == "look" {
				w.do(t, eval(`document.querySelector(".right").scrollIntoView({block:"center"})`))
				w.shot(t, name+"-right")
			}
		}
	}
	w.quiet(t)
}

// The box is the painter's with the first change: a tube added, edited, removed
// and brought back, readings taken in, swatches measured by a photo.
func TestBoxInBrowser(t *testing.T) {
	w := openPage(t)
	w.size(t, 1440, 900)
	w.do(t, chromedp.Navigate(w.home+"#box"))
	w.until(t, "the starter box", `document.querySelectorAll(".tended>li").length===16`)
	w.settled(t)
	tubes := func() int { return tell[int](t, w, `document.querySelectorAll(".tended>li").length`) }
	field := func(place, label, value string) {
		w.do(t, eval(fmt.Sprintf(`(function(){var l=Array.from(document.querySelectorAll(%q+" label")).find(function(l){return l.textContent===%q}),i=document.getElementById(l.htmlFor);i.value=%q})()`, place, label, value)))
	}
	press := func(text string) {
		w.do(t, eval(fmt.Sprintf(`Array.from(document.querySelectorAll("main button")).find(function(b){return (b.getAttribute("aria-label")||b.textContent)===%q}).click()`, text)))
		w.settled(t)
	}
	w.do(t, eval(`document.querySelectorAll("main details").forEach(function(d){d.open=true})`))
	field("details", "Name", "evening blue")
	field("details", "Pigment code", "PB9999")
	press("Add it")
	if s := tell[string](t, w, `(document.querySelector(".tube-form .oops")||{textContent:""}).textContent`); !strings.Contains(s, "PB9999") {
		t.Errorf("of a code that is none it says %q", s)
	}
	field("details", "Pigment code", "PB60")
	press("Add it")
	if tubes() != 17 {
		t.Fatalf("the box holds %d tubes", tubes())
	}
	press("Edit evening blue")
	field(".tended", "Size, ml", "40")
	press("Keep")
	if s := tell[string](t, w, `document.querySelector(".tended>li:last-child").textContent`); !strings.Contains(s, "40 ml") {
		t.Errorf("the edited tube says %q", s)
	}
	press("Remove evening blue")
	if tubes() != 16 {
		t.Errorf("after removing, the box holds %d tubes", tubes())
	}
	press("Undo the last change of the box")
	if tubes() != 17 {
		t.Errorf("after undoing, the box holds %d tubes", tubes())
	}
	file := filepath.Join(t.TempDir(), "blue.csv")
	if err := os.WriteFile(file, []byte("tube,ci,paint_parts,white_parts,L,a,b\nevening blue,PB60,1,0,25,2,-12\nevening blue,PB60,1,4,60,-3,-20\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	w.do(t, eval(`document.querySelectorAll("main details").forEach(function(d){d.open=true})`), chromedp.SetUploadFiles("#readings-file", []string{file}))
	w.until(t, "the readings", `document.querySelector(".tended>li:last-child").textContent.includes("2 readings")`)
	w.settled(t)

	sheet, _, _, err := cardphoto.Sheet([]string{"PB29", "PR101"}, "PW6", []float64{1, 4}, optics.Included, true)
	if err != nil {
		t.Fatal(err)
	}
	card := filepath.Join(t.TempDir(), "card.jpg")
	if err := os.WriteFile(card, cardphoto.Phone(sheet, 0, 480).Photo(sheet), 0o644); err != nil {
		t.Fatal(err)
	}
	w.do(t, chromedp.SetUploadFiles("#card-file", []string{card}))
	w.until(t, "the places", `document.querySelectorAll(".places li").length>3`)
	w.settled(t)
	w.do(t, eval(`document.querySelector(".overview").scrollIntoView()`))
	time.Sleep(100 * time.Millisecond)
	w.shot(t, "swatches-1440")
	w.axe(t, "swatches")
	w.do(t, eval(`document.querySelectorAll(".places input")[0].value="quay blue PB29 1:0"`))
	press("Fit the tubes")
	w.until(t, "the fitted tube", `document.body.textContent.includes("Your box has them")`)
	if tubes() != 18 {
		t.Errorf("with the measured one the box holds %d tubes", tubes())
	}
	w.quietBut(t, "422")
}
