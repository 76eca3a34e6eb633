package photo

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"image"
	"io"
	"sync"
	_ "unsafe" // for go:linkname

	_ "github.com/gen2brain/heic" // carries the decoder
	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/api"
	"github.com/tetratelabs/wazero/experimental"
	"github.com/tetratelabs/wazero/imports/wasi_snapshot_preview1"
)

// The decoder is libheif and libde265 compiled to WebAssembly, as package heic
// carries it. That package's own Decode prefers a system library where it
// finds one, so that the same file could read differently on two machines and
// a damaged one could take the process down; and it misjudges the rows of
// pictures narrower than 97 pixels. So the module is run from here: always
// this one, in its sandbox, with bounded memory.
//
//go:linkname heicModule github.com/gen2brain/heic.heifWasm
var heicModule []byte

// maxHEICMemory is the sandbox's memory in 64 KiB pages: 1 GiB, five times
// what 24 million pixels take.
const maxHEICMemory = 1 << 14

// heicRuntime compiles the decoder on first use, which takes about 0.4 s.
var heicRuntime = sync.OnceValues(func() (func(experimental.MemoryAllocator) (api.Module, error), error) {
	z, err := gzip.NewReader(bytes.NewReader(heicModule))
	if err != nil {
		return nil, err
	}
	code, err := io.ReadAll(z)
	if err != nil {
		return nil, err
	}
	ctx := context.Background()
	rt := wazero.NewRuntimeWithConfig(ctx, wazero.NewRuntimeConfig().WithMemoryLimitPages(maxHEICMemory))
	if _, err := wasi_snapshot_preview1.Instantiate(ctx, rt); err != nil {
		return nil, err
	}
	compiled, err := rt.CompileModule(ctx, code)
	if err != nil {
		return nil, err
	}
	return func(memory experimental.MemoryAllocator) (api.Module, error) {
		ctx := experimental.WithMemoryAllocator(context.Background(), memory)
		return rt.InstantiateModule(ctx, compiled, wazero.NewModuleConfig().WithName("").WithStartFunctions("_initialize"))
	}, nil
})

// Values of libheif's enums heif_colorspace and heif_chroma.
const (
	heifYCbCr = 0
	heifRGB   = 1
	heifMono  = 2

	heif420 = 1
	heif422 = 2
	heif444 = 3
)

var errHEIC = failure(ErrDamaged, "the HEIC picture cannot be decoded; it may be damaged: copy it again, or save it as JPEG on the phone")

func heicHeader(data []byte) (*header, error) {
	f, cut := readHEIF(data)
	switch {
	case cut:
		return nil, errCut
	case f.itemType == "av01":
		return nil, failure(ErrUnsupported, "an AVIF picture is not read here; open it in a picture program and save it as JPEG or PNG")
	case f.itemType == "":
		return nil, failure(ErrDamaged, "the file does not say where its picture is; copy it again from the phone, or save it as JPEG there")
	case f.itemType != "hvc1":
		return nil, failure(ErrUnsupported, "the picture uses a rare variant of HEIC (%s); save it as JPEG", clean(f.itemType))
	}
	h := &header{
		width: f.width, height: f.height,
		exif:     exifFacts{orientation: 1}, // the decoder turns the picture itself
		channels: 3, profile: f.icc, heif: &f,
		perPixel: 13, // the sandbox's ten, and what is taken out of it
	}
	c := f.coded
	if c == nil {
		c = &colourCode{2, 2, 2, false}
	}
	s, err := codedSpace(c.primaries, c.transfer)
	if err != nil {
		return nil, err
	}
	h.space = s
	switch {
	case f.redone, c.full && c.is601():
		h.table = jfif
	case c.is601(), c.matrix == 0: // 0 is RGB, which the decoder delivers as such
		h.table = bt601Limited
	case c.matrix == 1:
		h.table = newYCCTables(0.2126, 0.0722, c.full)
	case c.matrix == 9, c.matrix == 10:
		h.table = newYCCTables(0.2627, 0.0593, c.full)
	default:
		return nil, failure(ErrUnsupported, "the picture stores its colours in a rare way; save it as JPEG")
	}
	if f.turned {
		h.notes = append(h.notes, "The picture was turned as the phone marked it.")
	}
	if f.gain {
		h.notes = append(h.notes, "The file also holds a brightness map for high dynamic range screens, which was left aside.")
	}
	return h, nil
}

func heicPixels(data []byte, h *header) (image.Image, error) {
	open, err := heicRuntime()
	if err != nil {
		return nil, err
	}
	mod, err := open(newSandbox(len(data), h.width*h.height))
	if err != nil {
		return nil, err
	}
	defer mod.Close(context.Background())
	img, err := runHEIC(context.Background(), mod, data, h)
	if err != nil {
		return nil, errHEIC
	}
	return img, nil
}

// A sandbox is a module's memory, set aside at once in the size that its
// picture will take, since growing means copying. Untouched parts cost nothing.
type sandbox []byte

func newSandbox(file, pixels int) experimental.MemoryAllocatorFunc {
	// Measured: 9 bytes a pixel (three copies of Y, Cb, Cr at different stages).
	return func(least, most uint64) experimental.LinearMemory {
		s := sandbox(make([]byte, 0, max(least, min(most, uint64(16<<20+2*file+10*pixels)))))
		return &s
	}
}

func (s *sandbox) Reallocate(size uint64) []byte {
	if size > uint64(cap(*s)) {
		grown := make([]byte, size, size+size/4)
		copy(grown, *s)
		*s = grown
	}
	*s = (*s)[:size]
	return *s
}

func (s *sandbox) Free() { *s = nil }

func runHEIC(ctx context.Context, mod api.Module, data []byte, h *header) (image.Image, error) {
	fail := errors.New("decoder failed")
	mem := mod.Memory()
	call := func(name string, args ...uint64) (uint32, error) {
		r, err := mod.ExportedFunction(name).Call(ctx, args...)
		if err != nil || len(r) == 0 || uint32(r[0]) == 0 {
			return 0, errors.Join(fail, err)
		}
		return uint32(r[0]), nil
	}
	in, err := call("malloc", uint64(len(data)))
	if err != nil || !mem.Write(in, data) {
		return nil, errors.Join(fail, err)
	}
	// The decoder goes by the major brand alone; what the picture is made of
	// was looked at already.
	mem.Write(in+8, []byte("heic"))
	info, err := call("malloc", 5*4)
	if err != nil {
		return nil, err
	}
	at := func(i uint32) uint64 { return uint64(info + 4*i) }
	decode := func(configOnly, out uint64) error {
		_, err := call("decode", uint64(in), uint64(len(data)), configOnly, at(0), at(1), at(2), at(3), at(4), out)
		return err
	}
	if err := decode(1, 0); err != nil {
		return nil, err
	}
	var v [5]uint32 // width, height, colour space, chroma, premultiplied
	for i := range v {
		v[i], _ = mem.ReadUint32Le(uint32(at(uint32(i))))
	}
	w, hh, kind, chroma := int(v[0]), int(v[1]), v[2], v[3]
	upright := w == h.width && hh == h.height
	turned := w == h.height && hh == h.width
	if !upright && !(h.heif.turned && turned) && !(w > 0 && hh > 0 && w <= h.width && hh <= h.height) {
		return nil, fail
	}

	// libheif makes rows of at least 64 samples, in multiples of 16 bytes.
	stride := func(w, bytes int) int { return (max((w+1)&^1, 64)*bytes + 15) &^ 15 }
	cw, ch := w, hh
	ratio := image.YCbCrSubsampleRatio444
	size := stride(w, 1) * hh
	switch {
	case kind == heifRGB:
		size = stride(w, 4) * hh
	case kind == heifYCbCr && chroma == heif420:
		cw, ch, ratio = (w+1)/2, (hh+1)/2, image.YCbCrSubsampleRatio420
	case kind == heifYCbCr && chroma == heif422:
		cw, ratio = (w+1)/2, image.YCbCrSubsampleRatio422
	case kind == heifYCbCr && chroma == heif444, kind == heifMono:
	default:
		return nil, fail
	}
	if kind == heifYCbCr {
		size += 2 * stride(cw, 1) * ch
	}
	out, err := call("malloc", uint64(size))
	if err != nil {
		return nil, err
	}
	if err := decode(0, uint64(out)); err != nil {
		return nil, err
	}
	view, ok := mem.Read(out, uint32(size))
	if !ok {
		return nil, fail
	}
	pix := bytes.Clone(view) // the view would keep the whole sandbox alive
	h.width, h.height = w, hh
	rect := image.Rect(0, 0, w, hh)
	switch kind {
	case heifRGB:
		if v[4] == 1 {
			return &image.RGBA{Pix: pix, Stride: stride(w, 4), Rect: rect}, nil
		}
		return &image.NRGBA{Pix: pix, Stride: stride(w, 4), Rect: rect}, nil
	case heifMono:
		h.channels = 1
		return &image.Gray{Pix: pix, Stride: stride(w, 1), Rect: rect}, nil
	}
	a := stride(w, 1) * hh
	b := a + stride(cw, 1)*ch
	return &image.YCbCr{
		Y: pix[:a], Cb: pix[a:b], Cr: pix[b:],
		YStride: stride(w, 1), CStride: stride(cw, 1),
		SubsampleRatio: ratio, Rect: rect,
	}, nil
}
