// The picture: the photo, what is laid over it, and the spot that is touched.

import { h, fill } from "./dom.js";

const RING = [0.002, 0.004, 0.008, 0.016, 0.03, 0.05];

export class Picture {
  // touch hears (x, y, radius) as shares; say hears words for a screen reader.
  constructor(frame, touch) {
    this.frame = frame;
    this.touch = touch;
    this.size = 2;
    this.at = null;
    this.img = h("img", { alt: "" });
    this.canvas = h("canvas", { "aria-hidden": "true", hidden: true });
    this.ring = h("span.ring", { "aria-hidden": "true", hidden: true });
    this.mark = h("span.number", { "aria-hidden": "true", hidden: true });
    this.drag = h("span.crop", { "aria-hidden": "true", hidden: true });
    this.pad = h("div.pad", {
      tabindex: "0", role: "application", "aria-label": "The picture",
      "aria-roledescription": "picture to touch", "aria-describedby": "touch-how",
      onclick: e => this.tap(e), onkeydown: e => this.key(e),
      onpointerdown: e => this.down(e), onpointermove: e => this.move(e), onpointerup: e => this.up(e), onpointercancel: e => this.up(e),
    });
    fill(frame, this.img, this.canvas, this.mark, this.ring, this.drag, this.pad,
      h("span.hid", { id: "touch-how" }, "Arrow keys move the spot, with Shift by less; Enter reads it; plus and minus change its size."));
  }

  get radius() { return RING[this.size]; }

  show(url, alt) {
    return new Promise((yes, no) => {
      this.img.onload = () => { this.base = null; yes(); };
      this.img.onerror = () => no(new Error("The picture did not arrive. Reload the page."));
      this.img.alt = alt;
      this.img.src = url;
      this.pad.setAttribute("aria-label", alt);
    });
  }

  // pixels of the photo at a size, for what is laid over.
  pixels(w, hh) {
    if (!this.base || this.base.width !== w || this.base.height !== hh) {
      const c = document.createElement("canvas");
      c.width = w;
      c.height = hh;
      const x = c.getContext("2d", { willReadFrequently: true });
      x.drawImage(this.img, 0, 0, w, hh);
      this.base = x.getImageData(0, 0, w, hh);
    }
    return this.base;
  }

  lay(data) {
    if (!data) {
      this.canvas.hidden = true;
      return;
    }
    this.canvas.width = data.width;
    this.canvas.height = data.height;
    this.canvas.getContext("2d").putImageData(data, 0, 0);
    this.canvas.hidden = false;
  }

  plain() { this.lay(null); }

  // light leaves one mass its colour; the others go grey and pale, and a line runs
  // round it, so that the light does not hang on colour.
  light(mask, i) {
    const { w, h: hh, index } = mask, from = this.pixels(w, hh), to = new ImageData(w, hh), a = from.data, b = to.data;
    for (let p = 0; p < index.length; p++) {
      const q = 4 * p;
      if (index[p] === i) {
        b[q] = a[q]; b[q + 1] = a[q + 1]; b[q + 2] = a[q + 2];
      } else {
        const g = 0.2126 * a[q] + 0.7152 * a[q + 1] + 0.0722 * a[q + 2];
        b[q] = b[q + 1] = b[q + 2] = 171 + (g - 171) * 0.35;
      }
      b[q + 3] = 255;
    }
    const inside = shape(mask, i, Math.max(1, Math.round(Math.max(w, hh) / 160)));
    for (let y = 1; y < hh - 1; y++) {
      for (let x = 1; x < w - 1; x++) {
        const p = y * w + x;
        if (!inside[p]) {
          if (inside[p - 1] || inside[p + 1] || inside[p - w] || inside[p + w]) b.fill(0, 4 * p, 4 * p + 3);
        } else if (!inside[p - 1] || !inside[p + 1] || !inside[p - w] || !inside[p + w]) b.fill(255, 4 * p, 4 * p + 3);
      }
    }
    this.lay(to);
  }

  // flat fills an index map with colours, #rrggbb.
  flat(mask, colours) { this.lay(flat(mask, colours)); }

  // lost lays the painted picture with a hatch over what is lost.
  painted(image, lost) {
    const { w, h: hh, index } = lost;
    const c = document.createElement("canvas");
    c.width = w;
    c.height = hh;
    const x = c.getContext("2d");
    x.drawImage(image, 0, 0, w, hh);
    const d = x.getImageData(0, 0, w, hh);
    hatch(d, index, 24);
    this.lay(d);
    return d;
  }

  number(text, u, v) {
    this.mark.hidden = text === null;
    if (text === null) return;
    this.mark.textContent = text;
    this.mark.style.left = Math.min(97, Math.max(3, 100 * u)) + "%";
    this.mark.style.top = Math.min(94, Math.max(6, 100 * v)) + "%";
  }

  put(x, y) {
    this.at = [x, y];
    this.ring.hidden = false;
    this.ring.style.left = 100 * x + "%";
    this.ring.style.top = 100 * y + "%";
    const long = Math.max(this.pad.clientWidth, this.pad.clientHeight);
    this.ring.style.width = this.ring.style.height = Math.max(10, 2 * this.radius * long) + "px";
  }

  unring() {
    this.at = null;
    this.ring.hidden = true;
  }

  resize(step) {
    this.size = Math.min(RING.length - 1, Math.max(0, this.size + step));
    if (this.at) {
      this.put(...this.at);
      this.touch(...this.at, this.radius);
    }
  }

  where(e) {
    const r = this.pad.getBoundingClientRect();
    return [Math.min(1, Math.max(0, (e.clientX - r.left) / r.width)), Math.min(1, Math.max(0, (e.clientY - r.top) / r.height))];
  }

  tap(e) {
    if (this.cropping) return;
    const [x, y] = this.where(e);
    this.put(x, y);
    this.touch(x, y, this.radius);
  }

  key(e) {
    if (this.cropping) return;
    const step = e.shiftKey ? 0.004 : 0.02;
    const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[e.key];
    if (by) {
      const [x, y] = this.at || [0.5, 0.5];
      this.put(Math.min(1, Math.max(0, x + by[0])), Math.min(1, Math.max(0, y + by[1])));
    } else if (e.key === "Enter" || e.key === " ") {
      const [x, y] = this.at || [0.5, 0.5];
      this.put(x, y);
      this.touch(x, y, this.radius);
    } else if (e.key === "+" || e.key === "-") this.resize(e.key === "+" ? 1 : -1);
    else return;
    e.preventDefault();
  }

  // crop lets a part be drawn with the pointer; done hears it as shares.
  crop(done) {
    this.cropping = done;
    this.unring();
    this.drag.hidden = true;
    this.frame.classList.toggle("cropping", !!done);
  }

  cropBox(b) {
    this.drag.hidden = false;
    for (const [k, v] of Object.entries({ left: b[0], top: b[1], width: b[2], height: b[3] })) this.drag.style[k] = 100 * v + "%";
  }

  down(e) {
    if (!this.cropping) return;
    this.from = this.where(e);
    this.pad.setPointerCapture(e.pointerId);
    e.preventDefault();
  }

  move(e) {
    if (!this.from) return;
    const to = this.where(e), f = this.from;
    this.box = [Math.min(f[0], to[0]), Math.min(f[1], to[1]), Math.abs(f[0] - to[0]), Math.abs(f[1] - to[1])];
    this.cropBox(this.box);
  }

  up() {
    if (!this.from) return;
    this.from = null;
    if (this.box && this.box[2] > 0.03 && this.box[3] > 0.03) this.cropping(this.box);
  }
}

// shape is where a mass prevails within r about a place: its shape without specks.
function shape(mask, i, r) {
  const { w, h: hh, index } = mask, sums = new Int32Array((w + 1) * (hh + 1)), out = new Uint8Array(w * hh);
  for (let y = 0; y < hh; y++) {
    let line = 0;
    for (let x = 0; x < w; x++) {
      if (index[y * w + x] === i) line++;
      sums[(y + 1) * (w + 1) + x + 1] = sums[y * (w + 1) + x + 1] + line;
    }
  }
  for (let y = 0; y < hh; y++) {
    const y0 = Math.max(0, y - r), y1 = Math.min(hh, y + r + 1);
    for (let x = 0; x < w; x++) {
      const x0 = Math.max(0, x - r), x1 = Math.min(w, x + r + 1);
      const n = sums[y1 * (w + 1) + x1] - sums[y0 * (w + 1) + x1] - sums[y1 * (w + 1) + x0] + sums[y0 * (w + 1) + x0];
      if (2 * n > (x1 - x0) * (y1 - y0)) out[y * w + x] = 1;
    }
  }
  return out;
}

export function flat(mask, colours) {
  const { w, h: hh, index } = mask, to = new ImageData(w, hh), b = new Uint32Array(to.data.buffer);
  const rgb = colours.map(c => 0xff000000 | parseInt(c.slice(5, 7), 16) << 16 | parseInt(c.slice(3, 5), 16) << 8 | parseInt(c.slice(1, 3), 16));
  for (let p = 0; p < index.length; p++) b[p] = rgb[index[p]];
  return to;
}

// hatch draws fine slanting strokes over what is lost, crossed where it is lost
// by far; every is their distance in pixels. The picture stays to be seen.
export function hatch(d, index, every) {
  const w = d.width, a = d.data, wide = every / 12;
  for (let p = 0; p < index.length; p++) {
    const v = index[p];
    if (!v) continue;
    const x = p % w, y = (p / w) | 0, one = (x + y) % every, two = ((x - y) % every + every) % every;
    const dark = one < wide || v === 2 && two < wide, pale = one < 2 * wide || v === 2 && two < 2 * wide;
    if (!dark && !pale) continue;
    const q = 4 * p, to = dark ? 0 : 255;
    for (let c = q; c < q + 3; c++) a[c] = (a[c] + 3 * to) >> 2;
  }
}

// print draws an index map or a picture small.
export function print(canvas, data) {
  const side = 360, k = Math.min(1, side / Math.max(data.width, data.height));
  const from = document.createElement("canvas");
  from.width = data.width;
  from.height = data.height;
  from.getContext("2d").putImageData(data, 0, 0);
  canvas.width = Math.round(data.width * k);
  canvas.height = Math.round(data.height * k);
  const x = canvas.getContext("2d");
  x.imageSmoothingQuality = "high";
  x.drawImage(from, 0, 0, canvas.width, canvas.height);
}
