package draw

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// chromium is where Debian puts it.
const chromium = "/usr/bin/chromium"

// browser starts a headless browser that keeps to itself, and gathers whatever
// the page complains of or asks a network for.
type browser struct {
	ctx  context.Context
	mu   sync.Mutex
	says []string
	asks []string
}

func startBrowser(t *testing.T) *browser {
	t.Helper()
	if _, err := os.Stat(chromium); err != nil {
		t.Skip("no browser at " + chromium + ", so the page is not tried in one")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(chromium), chromedp.UserDataDir(t.TempDir()),
		chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
	)
	ctx, stop := chromedp.NewExecAllocator(t.Context(), opts...)
	t.Cleanup(stop)
	ctx, stopTab := chromedp.NewContext(ctx)
	t.Cleanup(stopTab)
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

// shot keeps a picture of what is on screen where someone asked for it.
func (b *browser) shot(t *testing.T, name string, whole bool) {
	t.Helper()
	dir := os.Getenv("PAINTOUT_SHOTS")
	if dir == "" {
		return
	}
	a := chromedp.CaptureScreenshot()
	if whole {
		a = chromedp.FullScreenshot(100)
	}
	buf := tell(t, b, a)
	if err := os.WriteFile(filepath.Join(dir, name+".png"), buf, 0o644); err != nil {
		t.Fatal(err)
	}
}
func TestShots(t *testing.T) {
	b := startBrowser(t)
	url := "file:///tmp/shots/plan.html"
	for _, s := range [][2]int64{{360, 740}, {768, 1024}, {1440, 900}} {
		b.do(t, chromedp.EmulateViewport(s[0], s[1]), chromedp.Navigate(url), chromedp.Sleep(900*time.Millisecond))
		n := fmt.Sprint(s[0])
		b.shot(t, n+"-top", false)
		b.do(t, eval(`document.querySelector('[data-lights="6"]').click()`), chromedp.Sleep(200*time.Millisecond))
		b.shot(t, n+"-lit", false)
		b.do(t, eval(`document.querySelector('#choose').scrollIntoView()`), chromedp.Sleep(200*time.Millisecond))
		b.shot(t, n+"-choose", false)
		b.do(t, eval(`document.querySelector('#pile-13 .open').click();document.querySelector('#pile-13').scrollIntoView()`), chromedp.Sleep(200*time.Millisecond))
		b.shot(t, n+"-mix", false)
		b.shot(t, n+"-full", true)
	}
	t.Log(b.says, b.asks)
}
