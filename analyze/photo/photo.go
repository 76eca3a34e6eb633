// Package photo reads picture files as colour-managed linear light.
//
// Light here means linear sRGB as IEC 61966-2-1 defines it: red, green and
// blue of the sRGB primaries, white D65, 1 being full scale, in proportion to
// energy, so that averages mean what an eye half shut sees. Wide-gamut colours
// leave [0, 1] rather than being clipped.
//
// Start from [Open]; ask the [Photo] for its size and rows, for a spot with
// [Photo.At], for a small copy with [Photo.Reduced], for something to look at
// with [Photo.Preview]. What was assumed or done on the way is in Notes, in
// sentences that can be shown as they are.
//
// The kind of a file is told by its content, never by its name. Files are not
// trusted: sizes are checked before memory is taken, and whatever a decoder
// does with a damaged file comes back as an error of one sentence.
package photo

import (
	"errors"
	"fmt"
	"image"
	"io"
	"io/fs"
	"math"
	"os"
	"runtime"
)

// DefaultMaxPixels is the largest picture read unless told otherwise: 120
// million pixels, above every phone and camera back in common use. A picture
// stored so that reading it takes over 1280 MiB is refused before that.
const DefaultMaxPixels = 120_000_000

// maxFile bounds a file's bytes: an uncompressed picture of DefaultMaxPixels
// at 16 bits and four channels.
const maxFile = 1 << 30

// Options say how a picture is read. The zero value means the whole picture
// as it is.
type Options struct {
	// Grey is a spot that was neutral in the scene; the picture is balanced so
	// that it comes out neutral. Nil means no balancing.
	Grey *Point
	// GreyRadius is the spot's radius in pixels; 0 means 1/200 of the longer
	// side, and at least 2.
	GreyRadius int
	// Exposure brightens (or darkens) by that many stops, −10 to 10.
	Exposure float64
	// Crop keeps a part. Nil means all.
	Crop *Crop
	// Canvas cuts what is left, centred, to the canvas's proportions.
	Canvas *Canvas
	// MaxPixels is the largest picture accepted; 0 means DefaultMaxPixels.
	MaxPixels int
}

// Balance is a white balance that was applied.
type Balance struct {
	X, Y, Radius int        // the spot, in the whole upright picture
	Spot         [3]float64 // its mean linear sRGB before
	Gain         [3]float64 // of the three Bradford cone responses
}

// A Photo is a decoded picture. Its methods are safe for concurrent use.
type Photo struct {
	Name        string
	Format      string          // "JPEG", "PNG", "TIFF", "WebP" or "HEIC"
	Profile     string          // name of the colour space the file is in, or was taken to be in
	Orientation int             // Exif orientation that was applied, 1–8
	Width       int             // after orientation and crop
	Height      int             // after orientation and crop
	FileWidth   int             // as stored
	FileHeight  int             // as stored
	Frame       image.Rectangle // the part read, in the whole upright picture
	Balance     *Balance        // nil where none was asked for
	Exposure    float64         // stops
	Notes       []string        // what was assumed or done, a sentence each

	raster *raster
	conv   *converter
	plain  *converter // without balance and exposure
}

// Open reads a picture file. Errors name the file and say what to do; the
// reason can be tested with errors.Is ([ErrMissing] and so on).
func Open(path string, o Options) (*Photo, error) {
	data, err := readFile(path)
	if err != nil {
		return nil, named(path, err)
	}
	return Decode(path, data, o)
}

func readFile(path string) ([]byte, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, failure(ErrMissing, "there is no such file; check the name and the folder")
	case errors.Is(err, fs.ErrPermission):
		return nil, failure(ErrUnreadable, "you may not read this file; change its permissions or copy it to a folder of your own")
	case err != nil:
		return nil, failure(ErrUnreadable, "the file cannot be read (%s); copy it elsewhere and try again", clean(reason(err)))
	case info.IsDir():
		return nil, failure(ErrUnreadable, "this is a folder; name a picture inside it")
	case !info.Mode().IsRegular():
		return nil, failure(ErrUnreadable, "this is not an ordinary file; save the picture to a file first")
	case info.Size() > maxFile:
		return nil, failure(ErrTooLarge, "the file has %d MB, over the limit of %d MB; save it smaller, as JPEG", info.Size()>>20, maxFile>>20)
	}
	f, err := os.Open(path)
	if err != nil {
		if errors.Is(err, fs.ErrPermission) {
			return nil, failure(ErrUnreadable, "you may not read this file; change its permissions or copy it to a folder of your own")
		}
		return nil, failure(ErrUnreadable, "the file cannot be read (%s); copy it elsewhere and try again", clean(reason(err)))
	}
	defer f.Close()
	data := make([]byte, info.Size())
	n, err := io.ReadFull(f, data)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, failure(ErrUnreadable, "the file cannot be read (%s); copy it elsewhere and try again", clean(reason(err)))
	}
	return data[:n], nil
}

// reason is the bare cause of a file error, without the path.
func reason(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}

// Decode reads a picture from memory; name is used in errors and as
// Photo.Name. data must not change until Decode returns.
func Decode(name string, data []byte, o Options) (p *Photo, err error) {
	defer func() {
		// Decoders are written for sound files; what they do with others is a
		// property of the file.
		if r := recover(); r != nil {
			p, err = nil, named(name, fmt.Errorf("%v", r))
		}
	}()
	p, err = decode(data, o)
	if err != nil {
		return nil, named(name, err)
	}
	p.Name = name
	return p, nil
}

func decode(data []byte, o Options) (*Photo, error) {
	if math.IsNaN(o.Exposure) || math.Abs(o.Exposure) > 10 {
		return nil, failure(ErrOption, "an exposure of %g stops is out of range; choose between −10 and 10", o.Exposure)
	}
	f, err := sniff(data)
	if err != nil {
		return nil, err
	}
	h, err := f.header(data)
	if err != nil {
		return nil, err
	}
	if err := h.checkSize(o.MaxPixels, len(data)); err != nil {
		return nil, err
	}
	if h.short {
		return nil, errCut
	}
	img, err := f.pixels(data, h)
	if err != nil {
		return nil, sentence(err)
	}
	if h.width*h.height > 4_000_000 {
		// Decoders leave up to six times the picture behind. Handing that back
		// at once lets what follows reuse the room instead of adding to it.
		runtime.GC()
	}
	r, ok := newRaster(img)
	if !ok || r.w != h.width || r.h != h.height {
		return nil, failure(ErrDamaged, "the picture does not match its own header; open it elsewhere and save it as JPEG")
	}
	p := &Photo{
		Format: f.name, Orientation: h.exif.orientation,
		FileWidth: h.width, FileHeight: h.height,
		Notes: h.notes, raster: r,
	}
	s := p.space(h)
	p.Profile = s.name
	r.orient(h.exif.orientation)
	if h.exif.orientation > 1 {
		p.note("The camera's orientation mark (%d) was followed: the picture is %s.", h.exif.orientation, turned[h.exif.orientation])
	}
	if r.alpha {
		p.note("Transparent parts were laid over white.")
	}
	p.Frame = image.Rect(0, 0, r.w, r.h)
	p.Width, p.Height = r.w, r.h
	if err := p.expose(s, h.table, o); err != nil {
		return nil, err
	}
	if err := p.cut(o); err != nil {
		return nil, err
	}
	return p, nil
}

var turned = [9]string{
	2: "mirrored left to right",
	3: "turned upside down",
	4: "mirrored top to bottom",
	5: "turned a quarter and mirrored",
	6: "turned a quarter clockwise",
	7: "turned a quarter and mirrored",
	8: "turned a quarter anticlockwise",
}

func (p *Photo) note(format string, args ...any) {
	p.Notes = append(p.Notes, fmt.Sprintf(format, args...))
}

// space settles what the file's numbers mean.
func (p *Photo) space(h *header) *space {
	if h.profile != nil {
		s, err := readProfile(h.profile, h.channels)
		if err == nil {
			return s
		}
		h.brokenProfile = true
		p.note("The colour profile in the file was not used: %s.", err)
	} else if h.brokenProfile {
		p.note("The colour profile in the file was not used: it is cut short or damaged.")
	}
	switch {
	case h.channels == 4:
		p.note("There is no colour profile to go by: the inks were taken as plain CMYK, each taking away its share of sRGB, which is only a guess at the press.")
		s := spaceSRGB()
		s.name = "CMYK"
		return s
	case h.space != nil:
		return h.space
	case h.exif.adobeRGB:
		p.note("There is no colour profile to go by, but the camera marked the picture as Adobe RGB, and it was read so.")
		return spaceAdobe()
	}
	p.note("There is no colour profile to go by: the colours were taken as sRGB.")
	return spaceSRGB()
}

// cut applies crop and canvas.
func (p *Photo) cut(o Options) error {
	if o.Crop != nil {
		r, err := o.Crop.rect(p.raster.w, p.raster.h)
		if err != nil {
			return err
		}
		p.Frame = r
		p.note("Cropped to %d×%d of %d×%d pixels.", r.Dx(), r.Dy(), p.raster.w, p.raster.h)
	}
	if c := o.Canvas; c != nil {
		if !(c.Width > 0 && c.Height > 0) || math.IsInf(c.Width+c.Height, 0) {
			return failure(ErrOption, "the canvas %s has no area; give its width and height", c)
		}
		r := c.fit(p.Frame)
		if lost := 1 - float64(r.Dx()*r.Dy())/float64(p.Frame.Dx()*p.Frame.Dy()); r != p.Frame {
			s := fmt.Sprintf("Cropped, centred, to the proportions of a canvas of %s: %d×%d pixels, leaving out %.0f %%.", c, r.Dx(), r.Dy(), 100*lost)
			if (c.Width > c.Height) != (p.Frame.Dx() > p.Frame.Dy()) && c.Width != c.Height && p.Frame.Dx() != p.Frame.Dy() {
				s += fmt.Sprintf(" The picture lies the other way; a canvas of %s would keep more of it.", Canvas{c.Height, c.Width})
			}
			p.note("%s", s)
		}
		p.Frame = r
	}
	p.Width, p.Height = p.Frame.Dx(), p.Frame.Dy()
	return nil
}

// AsShot is the same picture, orientation and crop without white balance and
// exposure: what the camera recorded. It shares p's pixels.
func (p *Photo) AsShot() *Photo {
	q := *p
	q.conv, q.Balance, q.Exposure = p.plain, nil, 0
	return &q
}

// Size is the width and height in pixels, after orientation and crop.
func (p *Photo) Size() (w, h int) { return p.Width, p.Height }

// Row writes row y (0 is the top) as linear light: red, green, blue of each
// pixel in turn. dst must hold 3 values a pixel of the width; it panics where
// dst is shorter or y is outside the picture.
func (p *Photo) Row(y int, dst []float32) { p.span(0, y, p.Width, dst) }

// span is n pixels of row y from column x on.
func (p *Photo) span(x, y, n int, dst []float32) {
	if y < 0 || y >= p.Height {
		panic(fmt.Sprintf("photo: row %d of a picture of %d rows", y, p.Height))
	}
	p.raster.span(p.conv, p.Frame.Min.X+x, p.Frame.Min.Y+y, n, dst)
}

// At is the mean linear light of the disc of that radius (pixels; 0 is one
// pixel) about x, y, as far as it lies inside the picture. A centre outside
// is moved to the nearest edge.
func (p *Photo) At(x, y, radius int) [3]float64 {
	mean, _ := p.disc(x, y, radius, nil)
	return mean
}

// disc is the mean over a disc and the share of its pixels for which test
// holds.
func (p *Photo) disc(x, y, radius int, test func([]float32) bool) (mean [3]float64, share float64) {
	x, y = min(max(x, 0), p.Width-1), min(max(y, 0), p.Height-1)
	radius = min(max(radius, 0), p.Width+p.Height)
	var row []float32
	var n, hits int
	for yy := max(0, y-radius); yy <= min(p.Height-1, y+radius); yy++ {
		dy := yy - y
		half := int(math.Sqrt(float64(radius*radius - dy*dy)))
		x0, x1 := max(0, x-half), min(p.Width-1, x+half)
		k := 3 * (x1 - x0 + 1)
		if cap(row) < k {
			row = make([]float32, k)
		}
		row = row[:k]
		p.span(x0, yy, x1-x0+1, row)
		for i := 0; i < k; i += 3 {
			for c := range mean {
				mean[c] += float64(row[i+c])
			}
			if test != nil && test(row[i:i+3]) {
				hits++
			}
		}
		n += k / 3
	}
	for c := range mean {
		mean[c] /= float64(n)
	}
	return mean, float64(hits) / float64(n)
}

// Pixel turns a place in the whole upright picture, as a painter points at
// it, into a pixel of what was read. It fails outside the crop.
func (p *Photo) Pixel(pt Point) (x, y int, err error) {
	x, y, err = pt.pixel(p.raster.w, p.raster.h)
	if err == nil && !(image.Point{x, y}).In(p.Frame) {
		err = failure(ErrOption, "the place %s was cropped away; choose one inside the crop", pt)
	}
	if err != nil {
		return 0, 0, named(p.Name, err)
	}
	return x - p.Frame.Min.X, y - p.Frame.Min.Y, nil
}
