package analyze

import (
	"context"
	"errors"
	"runtime"
	"sync"
	"sync/atomic"
)

// burnt reports a clipped pixel, sunk a crushed one; see clippedFrom.
func burnt(r, g, b float32) bool {
	return (r >= clippedFrom || g >= clippedFrom || b >= clippedFrom) && r >= 0 && g >= 0 && b >= 0
}

func sunk(r, g, b float32) bool { return g <= crushedTo && r <= crushedTo && b <= crushedTo }

// recount takes clipped and crushed pixels from another rendering of the same
// picture.
func (c *census) recount(ctx context.Context, src Source) error {
	w, h := src.Size()
	if w <= 0 || h <= 0 {
		return errors.New("the picture as shot has no pixels; give the same one, unbalanced")
	}
	var next, clipped, crushed atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), h) {
		wg.Go(func() {
			row := make([]float32, 3*w)
			for ctx.Err() == nil {
				y := int(next.Add(1)) - 1
				if y >= h {
					return
				}
				src.Row(y, row)
				var up, down int64
				for i := 0; i < len(row); i += 3 {
					if burnt(row[i], row[i+1], row[i+2]) {
						up++
					}
					if sunk(row[i], row[i+1], row[i+2]) {
						down++
					}
				}
				clipped.Add(up)
				crushed.Add(down)
			}
		})
	}
	wg.Wait()
	c.clipped, c.crushed = clipped.Load(), crushed.Load()
	return ctx.Err()
}
