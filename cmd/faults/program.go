//go:build linux

package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"
)

const (
	maxMemory = 1536 << 20 // for the largest photo that is accepted
	maxSmall  = 300 << 20  // for a file that is refused by its header
	nobody    = 65534
)

// A program is paintout built for this run, and folders to run it in.
type program struct {
	*tally
	dir, bin string
}

// A trial runs the program once.
type trial struct {
	args []string
	env  []string
	as   uint32 // user, 0 for the present one
	code int    // exit code it must end with
	says string // part of what it must say on standard error
}

// do runs one trial into a row.
func (p *program) do(r *row, what string, x trial) {
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, p.bin, x.args...)
	cmd.Dir = p.dir
	cmd.Env = append(append(os.Environ(), "HOME="+filepath.Join(p.dir, "home"), "XDG_CONFIG_HOME="), x.env...)
	if x.as != 0 {
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: x.as, Gid: x.as}}
	}
	var said bytes.Buffer
	cmd.Stderr = &said
	start := time.Now()
	err := cmd.Run()
	r.tried++
	r.slowest = max(r.slowest, time.Since(start))
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) || ctx.Err() != nil {
		p.failf("%s: %v %v", what, err, ctx.Err())
		return
	}
	r.memory = max(r.memory, cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss<<10)
	s := strings.TrimSpace(said.String())
	if cmd.ProcessState.ExitCode() == 0 {
		r.read++
	} else {
		r.refused++
		if r.example == "" {
			r.example = strings.ReplaceAll(s, p.dir, "…")
		}
		if strings.ContainsAny(s, "\n\r\t") || strings.Contains(s, "goroutine") {
			p.failf("%s: said %q", what, s)
		}
	}
	if code := cmd.ProcessState.ExitCode(); code != x.code || !strings.Contains(s, x.says) {
		p.failf("%s: exit %d, want %d; said %q, want %q", what, code, x.code, s, x.says)
	}
}

// row runs trials by name into one row of the table.
func (p *program) row(fault string, limit int64, trials map[string]trial) {
	r := row{fault: fault}
	for _, what := range slices.Sorted(maps.Keys(trials)) {
		p.do(&r, fault+": "+what, trials[what])
	}
	if limit > 0 && r.memory > limit {
		p.failf("%s: %d MiB, over %d", fault, r.memory>>20, limit>>20)
	}
	p.rows = append(p.rows, r)
}

func (p *program) path(name string) string { return filepath.Join(p.dir, name) }

func (p *program) file(name string, data []byte) error {
	return os.WriteFile(p.path(name), data, 0o644)
}

func analyze(path string) []string { return []string{"analyze", path, "--json"} }

func (p *program) run(kinds []kind, large bool) error {
	scene, err := os.ReadFile(filepath.Join(p.root, "testdata", "marrow-sound.jpg"))
	if err != nil {
		return err
	}
	if err := errors.Join(os.Mkdir(p.path("home"), 0o755), p.file("scene.jpg", scene), p.file("empty.jpg", nil)); err != nil {
		return err
	}
	steps := []func() error{
		func() error { return p.bombs(kinds) },
		func() error { return p.names(scene) },
		p.places,
		p.texts,
		p.refusing,
		p.full,
	}
	if large {
		steps = append(steps, p.largest)
	}
	for _, f := range steps {
		if err := f(); err != nil {
			return err
		}
	}
	return nil
}

// bombs are headers that promise more than anything should hold.
func (p *program) bombs(kinds []kind) error {
	be, le := binary.BigEndian, binary.LittleEndian
	set := map[string]trial{}
	for _, k := range kinds {
		d := bytes.Clone(k.data)
		size := "over the limit"
		switch {
		case k.name == "PNG":
			be.PutUint32(d[16:], 100_000)
			be.PutUint32(d[20:], 100_000)
			mendChecksums(d)
		case k.name == "TIFF":
			at := int(le.Uint32(d[4:]))
			for i := range int(le.Uint16(d[at:])) {
				e := d[at+2+12*i:]
				if tag := le.Uint16(e); tag == 256 || tag == 257 {
					le.PutUint16(e[2:], 4)
					le.PutUint32(e[8:], 100_000)
				}
			}
		case k.name == "HEIC":
			at := bytes.Index(d, []byte("ispe"))
			be.PutUint32(d[at+8:], 100_000)
			be.PutUint32(d[at+12:], 100_000)
		case k.name == "JPEG": // 65,535 is the most that its header can say
			at := bytes.Index(d, []byte("\xff\xc0"))
			be.PutUint32(d[at+5:], 0xffffffff)
		case k.name == "WebP, lossless": // 16,384
			at := bytes.Index(d, []byte("VP8L")) + 9
			copy(d[at:], []byte{0xff, 0xff, 0xff, d[at+3] | 0x0f})
		default:
			continue
		}
		name := "bomb." + k.ext
		if err := p.file(name, d); err != nil {
			return err
		}
		set[name] = trial{args: analyze(name), code: 1, says: size}
	}
	p.row("headers of 100,000 × 100,000 pixels, or the most that a header can say", maxSmall, set)

	// A small file that unpacks to the largest picture that is read.
	var b bytes.Buffer
	if err := png.Encode(&b, stripes{color.GrayModel}); err != nil {
		return err
	}
	if err := p.file("flat.png", b.Bytes()); err != nil {
		return err
	}
	p.row(fmt.Sprintf("a PNG of %d kB that unpacks to 120 million pixels", b.Len()/1000), maxMemory, map[string]trial{"flat": {args: analyze("flat.png")}})
	return nil
}

// names are files whose names or kinds mislead.
func (p *program) names(scene []byte) error {
	err := errors.Join(p.file("scene.png", scene), p.file("scene", scene), p.file("scene.txt", scene))
	if err != nil {
		return err
	}
	p.row("wrong or no extension", 0, map[string]trial{
		"png": {args: analyze("scene.png")}, "none": {args: analyze("scene")}, "txt": {args: analyze("scene.txt")},
	})
	avif, err := os.ReadFile(filepath.Join(p.root, "analyze", "photo", "testdata", "refused.avif"))
	if err != nil {
		return err
	}
	kinds := map[string]string{
		"a.avif": string(avif), "raw.cr2": "II*\x00\x10\x00\x00\x00CR\x02\x00", "raw.cr3": "\x00\x00\x00\x18ftypcrx \x00\x00\x00\x01crx isom",
		"raw.raf": "FUJIFILMCCD-RAW 0201", "a.gif": "GIF89a\x01\x00\x01\x00\x00\x00\x00", "a.jxl": "\xff\x0a\xfa\x1f", "a.jp2": "\x00\x00\x00\x0cjP  \r\n\x87\n",
		"a.psd": "8BPS\x00\x01", "a.pdf": "%PDF-1.7\n", "a.mov": "\x00\x00\x00\x14ftypqt  \x00\x00\x00\x00qt  ", "notes.jpg": "sky 7, hills 5\n",
		"zeros.jpg": strings.Repeat("\x00", 4000), "a.zip": "PK\x03\x04\x14\x00",
	}
	set := map[string]trial{"empty.jpg": {args: analyze("empty.jpg"), code: 1, says: "empty.jpg: "}}
	for name, data := range kinds {
		if err := p.file(name, []byte(data)); err != nil {
			return err
		}
		set[name] = trial{args: analyze(name), code: 1, says: name + ": "}
	}
	p.row("AVIF, camera raw and eleven more kinds that are not read", maxSmall, set)
	return nil
}

// places are where a file is looked for.
func (p *program) places() error {
	err := errors.Join(
		syscall.Mkfifo(p.path("pipe.jpg"), 0o644),
		os.Symlink("scene.jpg", p.path("link.jpg")), os.Symlink("round.jpg", p.path("round.jpg")), os.Symlink("round.yaml", p.path("round.yaml")), os.Symlink("nowhere", p.path("loose.jpg")),
		os.Symlink("/dev/zero", p.path("zero.jpg")),
		os.Mkdir(p.path("folder.jpg"), 0o755),
	)
	if err != nil {
		return err
	}
	p.row("streams without end, devices, pipes", maxSmall, map[string]trial{
		"/dev/zero": {args: analyze("/dev/zero"), code: 1, says: "/dev/zero: "}, "link to it": {args: analyze("zero.jpg"), code: 1, says: "zero.jpg: "},
		"/dev/urandom": {args: analyze("/dev/urandom"), code: 1, says: "/dev/urandom: "}, "pipe": {args: analyze("pipe.jpg"), code: 1, says: "pipe.jpg: "},
		"box": {args: []string{"tubes", "list", "--tubes", "/dev/zero"}, code: 1, says: "/dev/zero"}, "readings": {args: []string{"tubes", "import", "/dev/zero", "--tubes", "new.yaml"}, code: 1, says: "/dev/zero"},
		"box from a pipe": {args: []string{"tubes", "list", "--tubes", "pipe.jpg"}, code: 1, says: "pipe.jpg"},
	})
	p.row("symbolic links", 0, map[string]trial{"sound": {args: analyze("link.jpg")}})
	p.row("links in a circle or to nothing, folders, missing files", maxSmall, map[string]trial{
		"circle": {args: analyze("round.jpg"), code: 1, says: "round.jpg: "}, "loose": {args: analyze("loose.jpg"), code: 1, says: "loose.jpg: "},
		"folder": {args: analyze("folder.jpg"), code: 1, says: "folder"}, "missing": {args: analyze("none.jpg"), code: 1, says: "none.jpg: "},
		"box": {args: []string{"tubes", "add", "PB29", "--tubes", "round.yaml"}, code: 1, says: "circle"},
	})
	return nil
}

// texts are boxes, tables and measurements built to overwhelm a reader.
func (p *program) texts() error {
	var laughs strings.Builder
	laughs.WriteString("a: &a [x, x, x, x, x, x, x, x, x]\n")
	for c := 'b'; c < 'k'; c++ {
		fmt.Fprintf(&laughs, "%c: &%c [%s*%c]\n", c, c, strings.Repeat(fmt.Sprintf("*%c, ", c-1), 8), c-1)
	}
	set := map[string]trial{}
	for name, text := range map[string]string{
		"laughs.yaml": laughs.String(), "deep.yaml": "tubes: " + strings.Repeat("[", 100_000), "steps.yaml": "tubes:\n" + strings.Repeat(" ", 100_000) + "- x\n",
		"long.csv": "tube,ci,paint_parts,white_parts,L,a,b\n" + strings.Repeat("a,PB29,1,0,20,1,1\n", 2_000_000), "wide.csv": strings.Repeat(",", 5_000_000),
		"deep.cxf": "<?xml version='1.0'?>" + strings.Repeat("<a>", 1_000_000), "entities.cxf": "<?xml version='1.0'?><!DOCTYPE a [<!ENTITY a 'aaaa'><!ENTITY b '&a;&a;&a;'>]><a>&b;</a>",
		"long.txt": "CGATS.17\nNUMBER_OF_FIELDS 1000000000\nBEGIN_DATA_FORMAT\n" + strings.Repeat("LAB_L ", 1_000_000),
	} {
		if err := p.file(name, []byte(text)); err != nil {
			return err
		}
		args := []string{"tubes", "import", name, "--tubes", "new.yaml"}
		if filepath.Ext(name) == ".yaml" {
			args = []string{"tubes", "list", "--tubes", name}
		}
		set[name] = trial{args: args, code: 1, says: name}
	}
	p.row("boxes, tables and measurements built to overwhelm", maxMemory, set)
	return nil
}

// refusing are files and folders that belong to somebody else.
func (p *program) refusing() error {
	if os.Getuid() != 0 {
		p.left = append(p.left, "files, folders and homes that may not be read or written (needs root, to become somebody else)")
		return nil
	}
	err := errors.Join(
		os.Mkdir(p.path("locked"), 0o700), p.file("locked/scene.jpg", nil), p.file("secret.jpg", []byte("x")), os.Chmod(p.path("secret.jpg"), 0),
		os.Mkdir(p.path("bare"), 0o555),
	)
	if err != nil {
		return err
	}
	home := []string{"HOME=" + p.path("bare")}
	p.row("files and folders that may not be read", 0, map[string]trial{
		"folder": {args: analyze("locked/scene.jpg"), as: nobody, env: home, code: 1, says: "permissions"},
		"file":   {args: analyze("secret.jpg"), as: nobody, env: home, code: 1, says: "permissions"},
		"box":    {args: []string{"tubes", "list", "--tubes", "locked/box.yaml"}, as: nobody, env: home, code: 1, says: "locked/box.yaml"},
	})
	p.row("a home and a folder that may not be written: what only reads", 0, map[string]trial{
		"analyze": {args: analyze("scene.jpg"), as: nobody, env: home},
		"recipe":  {args: []string{"recipe", "lab:52,-10,31"}, as: nobody, env: home},
		"no home": {args: []string{"recipe", "lab:52,-10,31"}, as: nobody, env: []string{"HOME="}},
	})
	p.row("a home and a folder that may not be written: what writes", 0, map[string]trial{
		"box":  {args: []string{"tubes", "add", "PB29"}, as: nobody, env: home, code: 1, says: "bare"},
		"plan": {args: []string{"plan", "scene.jpg", "--out", "bare/plan"}, as: nobody, env: home, code: 1, says: "bare/plan"},
	})
	return nil
}

// full fills a small disk before a plan and a box are written anew.
func (p *program) full() error {
	disk := p.path("disk")
	if err := os.Mkdir(disk, 0o755); err != nil {
		return err
	}
	if err := syscall.Mount("tmpfs", disk, "tmpfs", 0, "size=24m"); err != nil {
		p.left = append(p.left, fmt.Sprintf("a full disk (no small one can be made: %v)", err))
		return nil
	}
	defer syscall.Unmount(disk, syscall.MNT_DETACH)
	box := filepath.Join(disk, "box.yaml")
	plan := func(photo string) []string {
		return []string{"plan", photo, "--out", filepath.Join(disk, "plan"), "--tubes", box}
	}
	var before row // not a fault: what must not be lost
	p.do(&before, "box before", trial{args: []string{"tubes", "add", "ultramarine blue", "--pigment", "PB29", "--tubes", box}})
	p.do(&before, "box before", trial{args: []string{"tubes", "add", "yellow ochre", "--pigment", "PY43", "--tubes", box}})
	p.do(&before, "box before", trial{args: []string{"tubes", "add", "titanium white", "--pigment", "PW6", "--tubes", box}})
	p.do(&before, "plan before", trial{args: plan("scene.jpg")})
	was, err := contents(disk)
	if err != nil {
		return err
	}
	if err := fill(filepath.Join(disk, "filler")); err != nil {
		return err
	}
	p.row("a full disk", 0, map[string]trial{
		"plan":       {args: append(plan("scene.jpg"), "-k", "3"), code: 1, says: "no space left"},
		"box":        {args: []string{"tubes", "add", "light red", "--pigment", "PR101", "--tubes", box}, code: 1, says: "no space left"},
		"fresh plan": {args: []string{"plan", "scene.jpg", "--out", filepath.Join(disk, "other")}, code: 1, says: "other"},
	})
	if err := os.Remove(filepath.Join(disk, "filler")); err != nil {
		return err
	}
	is, err := contents(disk)
	if err != nil {
		return err
	}
	for name, data := range was {
		if is[name] == data {
			continue
		}
		if _, ok := is[name]; !ok || strings.Contains(name, "box") {
			p.failf("a full disk: %s was lost", name)
		}
	}
	for name := range maps.Keys(is) {
		if _, ok := was[name]; !ok && strings.HasPrefix(filepath.Base(name), ".") && strings.Trim(name[len(name)-6:], "0123456789") == "" {
			p.failf("a full disk: %s was left half-written", name)
		}
	}
	// With room again, the same runs go through.
	var after row
	p.do(&after, "plan after", trial{args: plan("scene.jpg")})
	p.do(&after, "box after", trial{args: []string{"tubes", "list", "--tubes", box}})
	return nil
}

// fill writes a file until the disk is full.
func fill(path string) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	zeros := make([]byte, 4096)
	for {
		if _, err := f.Write(zeros); errors.Is(err, syscall.ENOSPC) {
			return nil
		} else if err != nil {
			return err
		}
	}
}

// contents is every file below a folder.
func contents(dir string) (map[string]string, error) {
	all := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		data, err := os.ReadFile(path)
		all[path] = string(data)
		return err
	})
	return all, err
}

// largest are photos of 120 million pixels, the most that is read.
func (p *program) largest() error {
	write := func(name string, encode func(io.Writer) error) error {
		f, err := os.Create(p.path(name))
		if err != nil {
			return err
		}
		return errors.Join(encode(f), f.Close())
	}
	fast := png.Encoder{CompressionLevel: png.BestSpeed}
	err := errors.Join(
		write("large.jpg", func(f io.Writer) error { return jpeg.Encode(f, stripes{color.GrayModel}, nil) }),
		write("large.png", func(f io.Writer) error { return fast.Encode(f, stripes{color.NRGBA64Model}) }),
	)
	if err != nil {
		return err
	}
	p.row("a JPEG of 120 million pixels, the most that is read", maxMemory, map[string]trial{"jpeg": {args: analyze("large.jpg")}})
	p.row("a PNG of 120 million pixels of 16 bits and three colours", maxMemory, map[string]trial{"png": {args: analyze("large.png")}})
	return nil
}

// stripes is a picture of 120 million pixels that takes no memory.
type stripes struct{ color.Model }

func (s stripes) ColorModel() color.Model { return s.Model }
func (stripes) Bounds() image.Rectangle   { return image.Rect(0, 0, 12_000, 10_000) }
func (stripes) Opaque() bool              { return true }
func (s stripes) At(x, y int) color.Color {
	if s.Model == color.GrayModel {
		return color.Gray{uint8(x / 50)}
	}
	return color.NRGBA64{uint16(x / 50 * 256), uint16(y / 50 * 256), uint16((x + y) / 50 * 128), 0xffff}
}
