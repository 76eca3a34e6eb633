// The palette: the piles on a ladder of values, cool to warm across.

import { h, fill, one, percent, inkOn } from "./dom.js";

let many = 0;

export class Palette {
  // press hears which pile was touched, step that one more or fewer is wanted.
  constructor(place, press, step) {
    this.press = press;
    this.pats = [];
    this.field = h("div.field");
    this.count = h("b");
    this.here = h("div.here");
    const button = (sign, by, label) => h("button.step", { type: "button", "aria-label": label, onclick: () => step(by, this.here) }, sign);
    fill(place, h("p.ends", h("span", "cooler"), h("span.what", button("−", -1, "One mass fewer"), this.count, h("span", " piles"), button("+", 1, "One mass more")), h("span", "warmer")), this.here, this.field);
  }

  // lay puts the piles where they belong.
  lay(view) {
    this.masses = view.look.masses;
    this.pats = [];
    const row = (r, accent) => h("div.row", { class: "row" + (r.piles.length ? "" : " empty") + (accent ? " accents" : "") },
      accent ? h("span.rung.none") : h("span.rung", { style: { background: r.hex, color: inkOn(r.hex) } }, r.again ? "" : r.value),
      h("div.cells", r.piles.map(p => this.pat(p))));
    this.count.textContent = view.look.masses.length;
    fill(this.field,
      view.rows.map(r => row(r, false)),
      view.accents.length ? [h("p.apart", "Accents, last and small"), view.accents.map(r => row(r, true))] : null);
    this.mixes = null;
  }

  pat(p) {
    const m = this.masses[p.mass], id = "pat" + many++;
    const mixed = h("path.mixed", { d: p.path, fill: m.aim_hex, "clip-path": "url(#" + id + ")" });
    const svg = h("svg", { viewBox: "0 0 " + p.wide + " 100", preserveAspectRatio: "none", "aria-hidden": "true", focusable: "false" },
      h("defs", h("clipPath", { id }, h("rect", { x: p.wide * 0.62, y: 0, width: p.wide * 0.38, height: 100 }))),
      h("path", { d: p.path, fill: m.aim_hex }), mixed);
    const off = h("span.off"), last = h("span.hid");
    const el = h("button.pat", {
      type: "button", "aria-pressed": "false", style: { "grid-column": (p.start + 1) + " / span " + p.len, color: inkOn(m.aim_hex) },
      onclick: () => this.press(p.mass),
    }, svg, h("span.on",
      h("span.hid", m.accent ? "Accent " : "Pile "), h("b", m.id), h("span.hid", ", " + m.name + ", value to mix "), h("span", one(m.aim_value)),
      h("span.hid", ", " + m.temperature + ", " + percent(m.share) + " of the picture"), off, last));
    this.pats.push({ el, off, mixed, last, mass: p.mass });
    return el;
  }

  name(q) {
    const x = this.mixes && this.mixes[q.mass];
    q.last.textContent = (x && x.de00 > 3 ? ", out of reach" : x && x.de00 >= 0 ? ", off by " + one(x.de00) : "") + (q.el.classList.contains("done") ? ", mixed" : "");
  }

  // mixed shows beside each colour to mix what the carried tubes make of it.
  show(mixes) {
    this.mixes = mixes;
    for (const q of this.pats) {
      const x = mixes && mixes[q.mass], first = x && x.recipes[0];
      q.mixed.setAttribute("fill", first ? first.hex : this.masses[q.mass].aim_hex);
      const far = x && (x.de00 < 0 || x.de00 > 3);
      q.el.classList.toggle("far", !!far);
      q.off.textContent = far ? (x.de00 < 0 ? "no mix" : "off " + one(x.de00)) : "";
      this.name(q);
    }
  }

  lit(mass) {
    for (const q of this.pats) q.el.setAttribute("aria-pressed", String(q.mass === mass));
  }

  done(is) {
    for (const q of this.pats) {
      q.el.classList.toggle("done", is(this.masses[q.mass]));
      this.name(q);
    }
  }
}
