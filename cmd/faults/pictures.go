//go:build linux

package main

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"time"

	"golang.org/x/image/tiff"

	"paintout/analyze/photo"
)

// A kind is one sound file of a kind of picture.
type kind struct {
	name, ext string
	data      []byte
}

// kinds makes sound files where Go can, and takes the others from the picture
// package's own.
func (t *tally) kinds() ([]kind, error) {
	m := image.NewNRGBA(image.Rect(0, 0, 96, 64))
	deep := image.NewNRGBA64(m.Rect)
	for y := range 64 {
		for x := range 96 {
			c := color.NRGBA{uint8(x * 2), uint8(y * 3), uint8(x ^ y), 255}
			m.SetNRGBA(x, y, c)
			deep.Set(x, y, c)
		}
	}
	var j, p, d, f bytes.Buffer
	err := errors.Join(
		jpeg.Encode(&j, m, &jpeg.Options{Quality: 88}), png.Encode(&p, m), png.Encode(&d, deep),
		tiff.Encode(&f, m, &tiff.Options{Compression: tiff.Deflate, Predictor: true}),
	)
	kinds := []kind{
		{"JPEG", "jpg", j.Bytes()}, {"PNG", "png", p.Bytes()}, {"PNG of 16 bits", "png", d.Bytes()}, {"TIFF", "tif", f.Bytes()},
	}
	for _, k := range []kind{
		{"JPEG in passes", "progressive.jpg", nil}, {"JPEG in CMYK", "cmyk.jpg", nil}, {"WebP, lossy", "lossy.webp", nil},
		{"WebP, lossless", "lossless.webp", nil}, {"HEIC", "full601.heic", nil}, {"HEIC of 10 bits", "deep10.heic", nil},
	} {
		data, e := os.ReadFile(filepath.Join(t.root, "analyze", "photo", "testdata", k.ext))
		err = errors.Join(err, e)
		k.data, k.ext = data, strings.TrimPrefix(filepath.Ext(k.ext), ".")
		kinds = append(kinds, k)
	}
	return kinds, err
}

// slowest is how long one damaged file of the size tried here may take.
const slowest = 10 * time.Second

// read reads one damaged file and sorts what came of it into a row.
func (t *tally) read(r *row, what, name string, data []byte) {
	start := time.Now()
	p, err := photo.Decode(name, data, photo.Options{MaxPixels: 1e6})
	if err == nil {
		line := make([]float32, 3*p.Width)
		for y := range p.Height {
			p.Row(y, line)
		}
	}
	d := time.Since(start)
	r.tried++
	r.slowest = max(r.slowest, d)
	if d > slowest {
		t.failf("%s: %v", what, d)
	}
	if err == nil {
		r.read++
		return
	}
	r.refused++
	if r.example == "" {
		r.example = err.Error()
	}
	t.sentence(what, name, err.Error())
}

// sentence checks the form of what is said: one sentence that begins with the
// file's name, and has a mend behind a colon, semicolon or comma.
func (t *tally) sentence(what, name, s string) {
	say, ok := strings.CutPrefix(s, name+": ")
	if !ok || strings.ContainsAny(s, "\n\r\t") || len(say) > 300 || strings.Contains(s, "goroutine") || !strings.ContainsAny(say, ":;,") {
		t.failf("%s: said %q", what, s)
	}
}

// cut reads a picture cut off at each hundredth of its length.
func (t *tally) cut(k kind) {
	r := row{fault: k.name + ", cut at each hundredth"}
	for i := range 100 {
		before := r.read
		t.read(&r, fmt.Sprintf("%s cut at %d %%", k.name, i), "cut."+k.ext, k.data[:len(k.data)*i/100])
		if r.read > before {
			t.failf("%s cut at %d %% was read", k.name, i)
		}
	}
	t.rows = append(t.rows, r)
}

// mutate reads n files with one to eight bytes or bits changed, half of them
// near the start, where sizes and marks are. PNGs get their checksums mended
// three times in four, so that damage comes past them.
func (t *tally) mutate(k kind, n int) {
	r := row{fault: k.name + ", bytes and bits changed"}
	rng := rand.New(rand.NewPCG(11, uint64(len(k.data))))
	for i := range n {
		bad := bytes.Clone(k.data)
		for range 1 + rng.IntN(8) {
			within := len(bad)
			if i%2 == 0 {
				within = min(within, 256)
			}
			at := rng.IntN(within)
			if rng.IntN(2) == 0 {
				bad[at] ^= 1 << rng.IntN(8)
			} else {
				bad[at] = byte(rng.IntN(256))
			}
		}
		if k.ext == "png" && i%4 > 0 {
			mendChecksums(bad)
		}
		t.read(&r, fmt.Sprintf("%s, mutant %d", k.name, i), "changed."+k.ext, bad)
	}
	t.rows = append(t.rows, r)
}

// mendChecksums makes the chunks of a PNG agree with their contents again.
func mendChecksums(data []byte) {
	for rest := data[min(8, len(data)):]; len(rest) >= 12; {
		n := int(binary.BigEndian.Uint32(rest))
		if n > len(rest)-12 {
			return
		}
		binary.BigEndian.PutUint32(rest[8+n:], crc32.ChecksumIEEE(rest[4:8+n]))
		rest = rest[12+n:]
	}
}
