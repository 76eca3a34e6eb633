package cli

import (
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"

	"github.com/charmbracelet/x/term"
	"github.com/mattn/go-runewidth"

	"paintout/analyze/lab"
	"paintout/cmd/internal/plan"
)

func isTerminal(f *os.File) bool { return term.IsTerminal(f.Fd()) }

// showsColour reports whether a file is a terminal that may be sent colour:
// NO_COLOR (no-color.org) and TERM=dumb turn it off.
func showsColour(f *os.File) bool {
	return os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb" && isTerminal(f)
}

func columns(f *os.File) int {
	if w, _, err := term.GetSize(f.Fd()); err == nil && w > 0 {
		return w
	}
	return 100
}

// swatch is a block of colour some columns wide, or nothing without colour.
func (s Streams) swatch(hex string, wide int) string {
	if !s.Colour {
		return ""
	}
	var r, g, b uint8
	if _, err := fmt.Sscanf(hex, "#%02x%02x%02x", &r, &g, &b); err != nil {
		return ""
	}
	return fmt.Sprintf("\x1b[48;2;%d;%d;%dm%s\x1b[0m ", r, g, b, strings.Repeat(" ", wide))
}

// pad fills s with spaces to a width on screen.
func pad(s string, wide int) string {
	if n := wide - runewidth.StringWidth(s); n > 0 {
		return s + strings.Repeat(" ", n)
	}
	return s
}

// wrap breaks text into lines of at most wide columns, after the first each
// begun with indent.
func wrap(text string, wide int, indent string) string {
	var b strings.Builder
	col := 0
	for i, word := range strings.Fields(text) {
		n := runewidth.StringWidth(word)
		switch {
		case i == 0:
		case col+1+n > wide:
			b.WriteString("\n" + indent)
			col = runewidth.StringWidth(indent)
		default:
			b.WriteByte(' ')
			col++
		}
		b.WriteString(word)
		col += n
	}
	return b.String()
}

// list prints sentences as a bulleted list under a heading.
func (s Streams) list(heading string, lines []string) {
	if len(lines) == 0 {
		return
	}
	fmt.Fprintln(s.Out, heading)
	for _, l := range lines {
		fmt.Fprintln(s.Out, "  - "+wrap(l, max(40, s.Wide-4), "    "))
	}
}

// progress draws one line on the error stream while it is a terminal and work
// takes longer than half a second; it draws nothing in a pipe.
type progress struct {
	w     io.Writer
	start time.Time
	mu    sync.Mutex
	last  time.Time
	drawn bool
}

func (s Streams) progress() *progress {
	if !s.ErrIsTerm {
		return &progress{}
	}
	return &progress{w: s.Err, start: time.Now()}
}

func (p *progress) update(stage string, done, all int) {
	if p.w == nil || all <= 0 {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	now := time.Now()
	if now.Sub(p.start) < 500*time.Millisecond || now.Sub(p.last) < 80*time.Millisecond {
		return
	}
	p.last, p.drawn = now, true
	const bar = 24
	n := min(bar, bar*done/all)
	fmt.Fprintf(p.w, "\r\x1b[K%s %s%s %3d %%", stage, strings.Repeat("━", n), strings.Repeat("┄", bar-n), min(100, 100*done/all))
}

// end wipes the line.
func (p *progress) end() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.drawn {
		fmt.Fprint(p.w, "\r\x1b[K")
		p.drawn = false
	}
}

// partsLine writes a mix in parts, "16 titanium white + 2 ultramarine blue".
func partsLine(parts []plan.Part) string {
	var out []string
	for _, p := range parts {
		out = append(out, fmt.Sprintf("%g %s", p.Parts, p.Tube))
	}
	if len(parts) == 1 {
		return parts[0].Tube + " alone"
	}
	return strings.Join(out, " + ")
}

func labText(c lab.Lab) string { return fmt.Sprintf("L* %.1f a* %.1f b* %.1f", c.L, c.A, c.B) }
