package analyze

import (
	"math"
	"sync"

	"paintout/analyze/lab"
)

// sample is a colour of the picture with its weight in pixels: what the
// clustering works on.
type sample struct {
	mean
	p point
}

// Leaves of the tree, and levels at which it is judged: more than leafMax
// masses are never shown.
const (
	leafMax  = 24
	levelMin = 3
)

// firstClusters are the numbers of clusters from which trees are grown, the
// better being kept. One start lands a few percent off now and then.
var firstClusters = [...]int{32, 64}

// node of the tree of masses. Leaves come first, each parent after its
// children, the root last.
type node struct {
	parent, left, right int // -1 where there is none
	from, to            int // the levels (numbers of masses) at which it stands as a mass
}

// tree is a hierarchy of colours: at level k the picture is cut into k masses,
// and level k+1 splits one of them in two.
type tree struct {
	nodes  []node
	leaves int

	centre []point // of every node
	walk   []stop  // for placing a colour
}

// stop is a node met in walking the tree from the root, the heavier side
// first.
type stop struct {
	centre point
	say    float64 // sum over the levels at which it stands of 1/(cost of level)
	parent int     // where in the walk its parent is, −1 for the root
	past   int     // where the walk goes on past all that is below it
	leaf   int     // −1 unless it is one
}

// grow builds the tree. The samples are cut along their widest axis into the
// first clusters, settled by k-means and merged by Ward's rule (J. H. Ward, J.
// Am. Stat. Assoc. 58:236–244, 1963: always the two whose union adds least to
// the sum of squares) down to one. The lowest leafMax levels are kept and
// refined by letting every sample change leaf, see settle; and merging and
// refining go on from the refined leaves.
func grow(s []sample) *tree {
	var trees [len(firstClusters)]*tree
	var scores [len(firstClusters)]float64
	var wg sync.WaitGroup
	for i, n := range firstClusters {
		wg.Go(func() { trees[i], scores[i] = growFrom(s, n) })
	}
	wg.Wait()
	best := 0
	for i := range scores {
		if scores[i] < scores[best] {
			best = i
		}
	}
	return trees[best]
}

func growFrom(s []sample, clusters int) (best *tree, score float64) {
	centres := divide(s, clusters)
	of := make([]int, len(s))
	lloyd(s, centres, of, 12)
	t := ward(s, of, len(centres))
	if len(centres) > leafMax {
		of = t.cut(of, leafMax)
		t = ward(s, of, leafMax)
	}
	for range 4 {
		if now := t.settle(s, of, 8); best == nil || now < score {
			best, score = t, now
		}
		t = ward(s, of, t.leaves)
	}
	return best, score
}

// divide cuts the samples into at most n groups, each time the group with the
// largest sum of squares at its mean, across its principal axis, and gives the
// groups' means. No chance is involved.
func divide(s []sample, n int) []point {
	type group struct {
		idx  []int32
		mean point
		axis point
		sse  float64
	}
	measure := func(idx []int32) group {
		g := group{idx: idx}
		var w float64
		for _, i := range idx {
			w += s[i].w
			for c, v := range s[i].p {
				g.mean[c] += s[i].w * v
			}
		}
		for c := range g.mean {
			g.mean[c] /= w
		}
		var cov [3][3]float64
		for _, i := range idx {
			p := s[i].p
			x, y, z := p[0]-g.mean[0], p[1]-g.mean[1], p[2]-g.mean[2]
			cov[0][0] += s[i].w * x * x
			cov[0][1] += s[i].w * x * y
			cov[0][2] += s[i].w * x * z
			cov[1][1] += s[i].w * y * y
			cov[1][2] += s[i].w * y * z
			cov[2][2] += s[i].w * z * z
		}
		cov[1][0], cov[2][0], cov[2][1] = cov[0][1], cov[0][2], cov[1][2]
		g.sse = cov[0][0] + cov[1][1] + cov[2][2]
		g.axis = point{1, 0.7, 0.5} // any start not at right angles to the answer
		for range 24 {
			var v point
			for r := range 3 {
				v[r] = cov[r][0]*g.axis[0] + cov[r][1]*g.axis[1] + cov[r][2]*g.axis[2]
			}
			l := math.Sqrt(v.dist2(point{}))
			if l == 0 {
				break
			}
			g.axis = point{v[0] / l, v[1] / l, v[2] / l}
		}
		return g
	}
	all := make([]int32, len(s))
	for i := range all {
		all[i] = int32(i)
	}
	groups := []group{measure(all)}
	for len(groups) < n {
		widest := 0
		for i := range groups {
			if groups[i].sse > groups[widest].sse {
				widest = i
			}
		}
		g := &groups[widest]
		var low, high []int32
		for _, i := range g.idx {
			p := s[i].p
			if (p[0]-g.mean[0])*g.axis[0]+(p[1]-g.mean[1])*g.axis[1]+(p[2]-g.mean[2])*g.axis[2] > 0 {
				high = append(high, i)
			} else {
				low = append(low, i)
			}
		}
		if len(low) == 0 || len(high) == 0 {
			break // all groups are single colours
		}
		groups[widest] = measure(low)
		groups = append(groups, measure(high))
	}
	means := make([]point, len(groups))
	for i := range groups {
		means[i] = groups[i].mean
	}
	return means
}

// lloyd settles k-means on the samples for at most rounds.
func lloyd(s []sample, centres []point, of []int, rounds int) {
	type sum struct {
		w float64
		p point
	}
	sums := make([]sum, len(centres))
	for round := range rounds {
		clear(sums)
		moved := false
		for i := range s {
			best, near := 0, math.Inf(1)
			for c := range centres {
				if d := s[i].p.dist2(centres[c]); d < near {
					best, near = c, d
				}
			}
			moved = moved || of[i] != best
			of[i] = best
			t := &sums[best]
			t.w += s[i].w
			for c, v := range s[i].p {
				t.p[c] += s[i].w * v
			}
		}
		if !moved && round > 0 {
			return
		}
		for c, t := range sums {
			if t.w > 0 {
				centres[c] = point{t.p[0] / t.w, t.p[1] / t.w, t.p[2] / t.w}
			}
		}
	}
}

// ward merges n groups of samples into one, and gives the tree of the merges.
// Empty groups merge first and so stand only at the last levels.
func ward(s []sample, of []int, n int) *tree {
	w := make([]float64, n, 2*n)
	c := make([]point, n, 2*n)
	for i, g := range of {
		w[g] += s[i].w
		for j, v := range s[i].p {
			c[g][j] += s[i].w * v
		}
	}
	t := &tree{leaves: n, nodes: make([]node, n, 2*n-1)}
	alive := make([]int, n)
	for g := range n {
		if w[g] > 0 {
			for j := range c[g] {
				c[g][j] /= w[g]
			}
		}
		t.nodes[g] = node{parent: -1, left: -1, right: -1, from: 1, to: n}
		alive[g] = g
	}
	for k := n - 1; k >= 1; k-- {
		bi, bj, least := 1, 0, math.Inf(1)
		for i := range alive {
			for j := range i {
				a, b := alive[i], alive[j]
				rise := -1.0
				if w[a] > 0 && w[b] > 0 {
					rise = w[a] * w[b] / (w[a] + w[b]) * c[a].dist2(c[b])
				}
				if rise < least {
					bi, bj, least = i, j, rise
				}
			}
		}
		a, b := alive[bi], alive[bj]
		sum := w[a] + w[b]
		mean := c[a]
		if sum > 0 {
			for j := range mean {
				mean[j] = (w[a]*c[a][j] + w[b]*c[b][j]) / sum
			}
		}
		id := len(t.nodes)
		t.nodes[a].parent, t.nodes[a].from = id, k+1
		t.nodes[b].parent, t.nodes[b].from = id, k+1
		t.nodes = append(t.nodes, node{parent: -1, left: a, right: b, from: 1, to: k})
		w, c = append(w, sum), append(c, mean)
		alive[bj] = id
		alive = append(alive[:bi], alive[bi+1:]...)
	}
	return t
}

// at gives, for every node, the node that stands for it at level k, where it
// stands below one.
func (t *tree) at(k int) []int {
	up := make([]int, len(t.nodes))
	for i := len(t.nodes) - 1; i >= 0; i-- {
		up[i] = i
		if t.nodes[i].from > k {
			up[i] = up[t.nodes[i].parent]
		}
	}
	return up
}

// cut numbers the groups of level k from 0 and gives every sample its own.
func (t *tree) cut(of []int, k int) []int {
	number := map[int]int{}
	group := make([]int, t.leaves)
	for leaf, n := range t.at(k)[:t.leaves] {
		if _, known := number[n]; !known {
			number[n] = len(number)
		}
		group[leaf] = number[n]
	}
	out := make([]int, len(of))
	for i, leaf := range of {
		out[i] = group[leaf]
	}
	return out
}

// settle is k-means on all levels at once: every sample moves to the leaf
// whose line of ancestors costs least, the cost being its squared distance to
// the mass it would belong to, summed over the levels from levelMin to the
// leaves, each level's in proportion to that level's total. Masses stay nested,
// for only leaves are chosen. Centres are means in linear light. It returns
// the sum over levels of the log of the mean distance, lower being better.
func (t *tree) settle(s []sample, of []int, rounds int) float64 {
	var score float64
	low := min(levelMin, t.leaves)
	for range rounds {
		sums := t.sums(s, of)
		t.centre = make([]point, len(t.nodes))
		for i, m := range sums {
			if m.w > 0 {
				t.centre[i] = m.point()
			}
		}
		square := make([]float64, len(t.nodes)) // cost per node
		plain := make([]float64, len(t.nodes))
		for i, leaf := range of {
			for n := leaf; n >= 0; n = t.nodes[n].parent {
				d2 := s[i].p.dist2(t.centre[n])
				square[n] += s[i].w * d2
				plain[n] += s[i].w * math.Sqrt(d2)
			}
		}
		level := make([]float64, t.leaves+1)
		levelPlain := make([]float64, t.leaves+1)
		for i, n := range t.nodes {
			for k := max(n.from, low); k <= n.to; k++ {
				level[k] += square[i]
				levelPlain[k] += plain[i]
			}
		}
		score = 0
		for k := low; k <= t.leaves; k++ {
			level[k] = max(level[k], 1e-9*sums[len(sums)-1].w) // a perfect level has no preference
			score += math.Log(max(levelPlain[k], 1e-9*sums[len(sums)-1].w))
		}
		say := make([]float64, len(t.nodes))
		for i, n := range t.nodes {
			for k := max(n.from, low); k <= n.to; k++ {
				say[i] += 1 / level[k]
			}
			if sums[i].w == 0 {
				say[i] = math.Inf(1) // an empty node attracts nothing
			}
		}
		t.walk = t.walk[:0]
		t.lay(len(t.nodes)-1, -1, say, sums)
		moved := 0
		path := make([]float64, len(t.nodes))
		for i := range s {
			if leaf := t.place(s[i].p, path); leaf != of[i] {
				of[i] = leaf
				moved++
			}
		}
		if moved == 0 {
			break
		}
	}
	return score
}

// lay appends a node and all below it to the walk.
func (t *tree) lay(n, parent int, say []float64, sums []mean) {
	at := len(t.walk)
	t.walk = append(t.walk, stop{centre: t.centre[n], say: say[n], parent: parent, leaf: -1})
	if l, r := t.nodes[n].left, t.nodes[n].right; l < 0 {
		t.walk[at].leaf = n
	} else {
		if sums[l].w < sums[r].w {
			l, r = r, l
		}
		t.lay(l, at, say, sums)
		t.lay(r, at, say, sums)
	}
	t.walk[at].past = len(t.walk)
}

// place gives the leaf a colour belongs to. path is room for one figure a
// node. Costs only grow on the way down, so what costs more than the best leaf
// so far is passed by.
func (t *tree) place(p point, path []float64) int {
	best, least := 0, math.Inf(1)
	for i := 0; i < len(t.walk); {
		s := &t.walk[i]
		v := s.say * p.dist2(s.centre)
		if s.parent >= 0 {
			v += path[s.parent]
		}
		if !(v < least) {
			i = s.past
			continue
		}
		path[i] = v
		if s.leaf >= 0 {
			best, least = s.leaf, v
		}
		i++
	}
	return best
}

// mean adds up linear light.
type mean struct {
	w   float64
	lin [3]float64 // sums
}

func (m mean) plus(o mean) mean {
	m.w += o.w
	for c, v := range o.lin {
		m.lin[c] += v
	}
	return m
}

func (m mean) lab() lab.Lab { return lab.FromLinear(m.lin[0]/m.w, m.lin[1]/m.w, m.lin[2]/m.w) }
func (m mean) point() point { return even(m.lab()) }

// sums adds up the samples of every node.
func (t *tree) sums(s []sample, of []int) []mean {
	m := make([]mean, len(t.nodes))
	for i, leaf := range of {
		m[leaf] = m[leaf].plus(s[i].mean)
	}
	for i, n := range t.nodes {
		if n.left >= 0 {
			m[i] = m[n.left].plus(m[n.right])
		}
	}
	return m
}
