package plan

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// kept remembers what was worked out for the keys last asked for. Who asks for
// a key that is being worked out waits for it; work that was cancelled is not
// kept, and one of those who wait takes it up.
type kept[K comparable, V any] struct {
	most int // keys remembered, at least 1
	mu   sync.Mutex
	of   map[K]*keptValue[V]
	age  []K // oldest first
}

type keptValue[V any] struct {
	done  chan struct{}
	value V
	err   error
}

func (c *kept[K, V]) get(ctx context.Context, key K, work func(context.Context) (V, error)) (V, error) {
	for {
		c.mu.Lock()
		e := c.of[key]
		if e == nil {
			e = &keptValue[V]{done: make(chan struct{})}
			if c.of == nil {
				c.of = map[K]*keptValue[V]{}
			}
			c.of[key] = e
			c.age = append(c.age, key)
			for len(c.age) > max(1, c.most) {
				delete(c.of, c.age[0])
				c.age = c.age[1:]
			}
			c.mu.Unlock()
			return c.fill(ctx, key, e, work)
		}
		c.mu.Unlock()
		select {
		case <-e.done:
			if e.err == nil {
				return e.value, nil
			}
			if ctx.Err() == nil {
				continue // the one who worked on it gave up
			}
		case <-ctx.Done():
		}
		var none V
		return none, ctx.Err()
	}
}

// fill does the work for an entry; on an error, or a panic, the entry is
// forgotten.
func (c *kept[K, V]) fill(ctx context.Context, key K, e *keptValue[V], work func(context.Context) (V, error)) (V, error) {
	failed := true
	defer func() {
		if failed {
			if e.err == nil {
				e.err = context.Canceled
			}
			c.mu.Lock()
			if c.of[key] == e {
				delete(c.of, key)
				for i := range c.age {
					if c.age[i] == key {
						c.age = append(c.age[:i:i], c.age[i+1:]...)
						break
					}
				}
			}
			c.mu.Unlock()
		}
		close(e.done)
	}()
	e.value, e.err = work(ctx)
	failed = e.err != nil
	return e.value, e.err
}

// inParallel runs f for 0…n-1 on all cores.
func inParallel(n int, f func(i int)) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for {
				i := int(next.Add(1) - 1)
				if i >= n {
					return
				}
				f(i)
			}
		})
	}
	wg.Wait()
}

// inStrips runs f over rows [0, h) in strips on all cores.
func inStrips(h int, f func(y0, y1 int)) {
	n := min(runtime.GOMAXPROCS(0), h)
	inParallel(n, func(i int) { f(i*h/n, (i+1)*h/n) })
}
