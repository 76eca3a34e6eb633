// Look: few masses, few values, and the photo put right.

import { ask, runs, Task } from "./ask.js";
import { h, $, fill, one, percent, tick, words, capital } from "./dom.js";
import { flat, print } from "./picture.js";

export function lookLeaf(page) {
  const { S } = page;
  const number = h("output.big", { id: "how-many" }), kinds = h("p.kinds");
  const range = h("input", { type: "range", min: 3, max: 24, step: 1, id: "masses", "aria-describedby": "masses-say", oninput: e => cut(+e.target.value) });
  const masses = h("div.here");
  const cut = k => page.choose({ k: Math.min(24, Math.max(3, k)) }, masses);
  const decide = h("button.quiet", { type: "button", onclick: () => page.choose({ k: 0 }, masses) }, "Let the picture decide");
  const accents = tick("Keep small accents apart", true, on => page.choose({ no_accents: !on }, masses));
  const prints = h("div.prints-row");
  const valuesTask = new Task();
  const right = h("div.right-place"), mind = h("ul.mind");
  const fit = tick("Fit the photo’s range to paint’s", true, on => page.choose({ no_fit: !on }, right));
  const fitSays = h("p.small"), balance = h("div.balance");
  const canvas = h("input", { type: "text", id: "canvas", list: "canvases", size: 10, placeholder: "30x40cm", autocomplete: "off", onkeydown: e => { if (e.key === "Enter") page.choose({ canvas: e.target.value }, frameHere); } });
  const frameHere = h("div.here"), frameSays = h("p.small"), cropping = h("div.cropping-tools");

  const el = h("section.leaf", { "aria-labelledby": "leaf-h" },
    h("h1", { id: "leaf-h" }, "Look"),
    h("p.lead", "Half close your eyes. What are the few big shapes, and which of them is light, which dark? Touch a pile to see where in the picture it lies."),
    h("section.block", h("h2", h("label", { for: "masses" }, "How many masses")),
      h("div.stepper", number, range),
      kinds, h("p.buttons", accents, decide), masses),
    h("section.block", h("h2", "With half-closed eyes"), h("p.lead", "Press one to lay it over the picture; press again to lift it."), prints),
    h("details.block", h("summary", h("h2", "Put the photo right")),
      h("div.right",
        h("h3", "Its light"), balance,
        h("h3", "Its frame"), h("p", h("label", { for: "canvas" }, "Canvas, width by height"), " ", canvas,
          h("datalist", { id: "canvases" }, ["30x40cm", "40x30cm", "30x30cm", "40x50cm", "50x40cm", "12x16in", "16x12in", "8x10in", "10x8in"].map(v => h("option", { value: v }))), " ",
          h("button", { type: "button", onclick: () => page.choose({ canvas: canvas.value }, frameHere) }, "Cut to it")), frameHere, cropping, frameSays,
        h("h3", "Its range"), fit, fitSays, right)),
    h("section.block", h("h2", "Mind"), mind),
    h("p.on", h("a.go", { href: "#choose" }, "On: choose the tubes")));

  function framing() {
    const c = S.view.choices;
    const cut = c.crop || c.canvas;
    fill(cropping, h("p.buttons",
      h("button", { type: "button", onclick: draw }, "Draw the part to keep"),
      cut ? h("button.quiet", { type: "button", onclick: () => page.choose({ crop: [], canvas: "" }, frameHere) }, "The whole photo again") : null));
    frameSays.textContent = cut ? "Now " + S.view.look.photo.width + " × " + S.view.look.photo.height + " pixels of the photo." : "";
  }

  // draw shows the whole photo, on which a part is drawn, or typed in.
  async function draw() {
    const b = S.view.choices.crop || [0.1, 0.1, 0.8, 0.8];
    const field = (i, label) => h("label", label, " ", h("input", { type: "number", min: 0, max: 100, step: 0.5, value: String(Math.round(1000 * b[i]) / 10), oninput: e => { box[i] = e.target.value / 100; page.picture.cropBox(box); } }), " %");
    let box = [...b];
    const inputs = ["from the left", "from the top", "wide", "high"].map((l, i) => field(i, l));
    await page.picture.show(page.path("whole.jpg?as=" + S.view.choices.version), "The whole photo, to draw the part to keep on");
    page.picture.plain();
    page.picture.number(null);
    page.picture.crop(part => {
      box = part;
      inputs.forEach((l, i) => { l.querySelector("input").value = Math.round(1000 * part[i]) / 10; });
    });
    page.picture.cropBox(box);
    const end = async () => {
      page.picture.crop(null);
      page.picture.drag.hidden = true;
      await page.picture.show(page.path("picture.jpg?as=" + S.view.choices.version), page.altOf(S.view));
      page.show(S.shown);
      framing();
    };
    fill(cropping, h("p", "Draw over the picture the part to keep, or give it here."), h("p.fields", inputs),
      h("p.buttons",
        h("button", { type: "button", onclick: async () => {
          page.picture.crop(null);
          page.picture.drag.hidden = true;
          const v = await page.choose({ crop: box }, frameHere);
          if (!v) await end();
        } }, "Keep this part"),
        h("button.quiet", { type: "button", onclick: end }, "Leave it")));
    cropping.querySelector("button").scrollIntoView({ block: "nearest" });
  }

  function prints_() {
    const some = [["v2", "2 values"], ["v3", "3 values"], ["v5", "5 values"], ["masses", "Its masses, flat"]];
    fill(prints, some.map(([what, title]) => {
      const c = h("canvas", { "aria-hidden": "true" });
      const steps = what[0] === "v" ? S.view.values[what.slice(1)] : null;
      const text = steps ? steps.map(s => one(s.value)).join(" · ") : S.view.look.masses.length + " colours to mix";
      const data = what === "masses" ? S.mask && flat(S.mask, S.view.look.masses.map(m => m.aim_hex)) : S.valueMasks[what] && flat(S.valueMasks[what], S.view.greys[what.slice(1)]);
      if (data) print(c, data);
      return h("button.print", { type: "button", "data-shows": what, "aria-pressed": String(S.shown === what), onclick: () => page.show(S.shown === what ? "" : what) },
        c, h("span", h("b", title), h("small", text)));
    }));
  }

  async function values() {
    if (S.valueMasks.v2) return;
    S.valueMasks.v2 = null;
    await valuesTask.run(prints, async signal => {
      for (const n of [2, 3, 5]) S.valueMasks["v" + n] = runs((await ask(page.path("values/" + n), { signal })).bytes);
    });
    prints_();
  }

  return {
    el,
    enter() { this.update(); },
    update() {
      if (!S.view.look) return;
      const m = S.view.look.masses, n = m.filter(x => x.accent).length;
      number.textContent = m.length;
      if (document.activeElement !== range) range.value = m.length;
      range.setAttribute("aria-valuetext", m.length + " masses");
      fill(kinds, h("span", { id: "masses-say" }, (n ? capital(words(n)) + (n === 1 ? " of them is a small accent. " : " of them are small accents. ") : "") +
        "The picture lies " + one(S.view.look.fit.mean_de00) + " ΔE00 from them on average."));
      decide.disabled = S.view.choices.k === 0;
      accents.querySelector("input").checked = !S.view.choices.no_accents;
      fit.querySelector("input").checked = !S.view.choices.no_fit;
      fitSays.textContent = S.view.look.range.note;
      if (document.activeElement !== canvas) canvas.value = S.view.choices.canvas;
      fill(balance, S.view.choices.grey
        ? [h("p", "Balanced by a place you touched, which was neutral."), h("p", h("button", { type: "button", onclick: () => page.choose({ grey: [] }, balance) }, "As the camera had it"))]
        : h("p", "Was something in the photo neutral: a road, a rock, white paper in the main light? Touch it, open “More of this spot” and say so."));
      if (!page.picture.cropping) framing();
      fill(mind, S.view.look.warnings.map(t => h("li", t)));
      mind.parentElement.hidden = !S.view.look.warnings.length;
      prints_();
      values();
    },
    shows() {
      for (const b of prints.querySelectorAll(".print")) b.setAttribute("aria-pressed", String(b.dataset.shows === S.shown));
    },
    leave() {
      valuesTask.stop();
      if (page.picture.cropping) {
        page.picture.crop(null);
        page.picture.drag.hidden = true;
        page.picture.show(page.path("picture.jpg?as=" + S.view.choices.version), page.altOf(S.view));
      }
    },
  };
}
