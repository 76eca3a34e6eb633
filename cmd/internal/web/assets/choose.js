// Choose: how few tubes will do, which stay at home, and what that loses.

import { ask, runs, bytes, Task } from "./ask.js";
import { h, fill, one, percent, list, say, capital, words } from "./dom.js";
import { hatch, print } from "./picture.js";

// The misses at which the words change; every word has the same width, and the
// last runs by ratio.
const cuts = [0, 0.8, 1.8, 4];
const grades = ["can’t tell apart", "close", "shows side by side", "adjust by eye"];

function place(v, most) {
  let i = 0;
  while (i < 3 && v > cuts[i + 1]) i++;
  const upper = i < 3 ? cuts[i + 1] : Math.max(most, 8);
  const share = i < 3 ? (v - cuts[i]) / (upper - cuts[i]) : Math.log(v / cuts[i]) / Math.log(upper / cuts[i]);
  return 25 * (i + Math.min(1, share));
}

export function chooseLeaf(page) {
  const { S } = page;
  const kitTask = new Task(), paintTask = new Task();
  const now = h("p.now", { role: "status" }), undo = h("p.buttons"), curve = h("div.curve"), pins = h("div.pins"), tubes = h("div.tubes-place"), hereCurve = h("div.here"), hereTubes = h("div.here");
  const canvas = h("canvas", { "aria-hidden": "true" });
  const paintedButton = h("button.print.wide-print", { type: "button", "data-shows": "painted", "aria-pressed": "false", hidden: true, onclick: () => page.show(S.shown === "painted" ? "" : "painted") }, canvas, h("span", h("b", "As these tubes can paint it"), h("small")));
  const paintedPlace = h("div.here");

  const el = h("section.leaf", { "aria-labelledby": "leaf-h" },
    h("h1", { id: "leaf-h" }, "Choose"),
    now, undo,
    h("section.block", h("h2", "How few will do"),
      h("p.lead", "Fewer tubes miss by more. Choose a line, and those tubes are carried."), hereCurve, curve,
      h("details.others", h("summary", "Tubes that always come, or never"), h("p", "The curve is drawn again with what you settle here."), pins)),
    h("section.block", h("h2", "What is lost"), paintedPlace, paintedButton),
    h("section.block", h("h2", "The tubes"),
      h("p.lead", "Take a tube out, and the piles show at once what the others make of them. ", h("a", { href: "#box" }, "Edit your box")), hereTubes, tubes),
    h("p.on", h("a.go", { href: "#mix" }, "On: mix the piles")));

  const names = () => S.box ? S.box.box.tubes.map(t => t.name) : [];
  const carried = () => names().filter(n => !S.view.choices.out.includes(n));
  const carry = (some, here) => page.choose({ out: names().filter(n => !some.includes(n)) }, here);

  function drawNow() {
    if (!S.mixes || !S.box) return;
    const n = carried().length, x = S.mixes, lost = x.lost.length;
    const far = x.masses.filter(m => m.de00 < 0 || m.de00 > 3).length;
    let text = capital(words(n)) + (n === 1 ? " tube" : " tubes") + " carried. ";
    text += far === 0 ? "Every mass has a mix within 3 ΔE00." : "Within reach: " + percent(x.area_within_3) + " of the picture, " + (x.masses.length - far) + " of " + x.masses.length + " masses.";
    if (lost) text += " Lost against the whole box: " + (lost === 1 ? "pile " : "piles ") + list(x.lost.map(String)) + ".";
    if (now.textContent !== text) now.textContent = text;
    const c = S.view.choices, was = c.was && c.was[0];
    if (!was) {
      fill(undo);
      return;
    }
    const out = c.out.filter(t => !was.includes(t)), back = was.filter(t => !c.out.includes(t));
    const said = [out.length ? (out.length > 2 ? out.length + " tubes" : list(out)) + " out" : "", back.length ? (back.length > 2 ? back.length + " tubes" : list(back)) + " in" : ""].filter(Boolean).join(", ");
    fill(undo, h("button", { type: "button", onclick: () => page.choose({ undo: true }, hereTubes) }, "Undo: " + (said || "the last change")),
      c.out.length ? h("button.quiet", { type: "button", onclick: () => carry(names(), hereTubes) }, "Carry the whole box") : null);
  }

  async function kit() {
    const c = S.view.choices, key = JSON.stringify([S.readAs, c.k, c.no_accents, c.no_fit, c.keep, c.leave, S.boxStamp]);
    if (S.kit && S.kitAs === key) return drawCurve();
    fill(curve);
    const got = await kitTask.run(hereCurve, (signal, on) => ask(page.path("kit"), { signal, on }));
    if (!got) return;
    S.kit = got.answer;
    S.kitAs = key;
    drawCurve();
    drawTubes();
  }

  function drawCurve() {
    const k = S.kit, most = Math.max(...k.curve.map(s => s.worst_de00)), mine = carried();
    const same = s => s.tubes.length === mine.length && s.tubes.every(t => mine.includes(t));
    const rows = k.curve.length, line = what => k.curve.map((s, i) => place(s[what], most).toFixed(2) + "," + (100 * (i + 0.5) / rows).toFixed(2)).join(" ");
    fill(curve,
      h("div.words", { "aria-hidden": "true" }, grades.map(g => h("span", g))),
      h("div.plot",
        h("svg.lines", { viewBox: "0 0 100 100", preserveAspectRatio: "none", "aria-hidden": "true" },
          h("polyline.worst", { points: line("worst_de00") }), h("polyline.mean", { points: line("mean_de00") })),
        k.curve.map(s => {
          const chosen = same(s), kit = s.count === k.tubes.length;
          return h("button.point", {
            type: "button", "aria-pressed": String(chosen),
            onclick: () => carry(s.tubes, hereCurve),
          }, h("span.count", s.count), h("span.hid", s.count === 1 ? " tube, worst " : " tubes, worst "), h("span.field",
            h("i.diamond", { style: { left: place(s.mean_de00, most) + "%" } }),
            h("i.dot", { style: { left: place(s.worst_de00, most) + "%" } }),
            h("span.figure", { class: "figure" + (place(s.worst_de00, most) > 80 ? " before" : ""), style: { left: place(place(s.worst_de00, most) > 80 ? s.mean_de00 : s.worst_de00, most) + "%" } }, one(s.worst_de00))),
            h("span.hid", ", mean " + one(s.mean_de00) + " ΔE00 "), kit ? h("span.tag", "enough") : null, h("span.hid", ": " + list(s.tubes)));
        })),
      h("p.key", h("span", h("i.dot"), " the worst mass"), h("span", h("i.diamond"), " the mean by area"), h("span", "in ΔE00"), h("span", h("i", "enough"), ": the fewest with which every mass that can come within 3 does")),
      h("p.small", k.cost + (k.proven ? " Proven: no smaller set does, over the ratios that were tried." : " Not proven: a smaller set may yet be found.")),
      k.blocked.length ? [h("h3", "Beyond the whole box"), h("ul.say", k.blocked.slice(0, 5).map(b => h("li", "Pile " + b.mass + ", " + (b.name || "") + ": off by " + one(b.de00) + " at best." + (b.add ? " " + capital(b.add) + " would help most." : ""))), k.blocked.length > 5 ? h("li", "And " + words(k.blocked.length - 5) + " more.") : null)] : null);
  }

  // drawPins lets single tubes be settled before the kits are chosen.
  function drawPins() {
    if (!S.box) return;
    const c = S.view.choices, as = n => c.keep.includes(n) ? "keep" : c.leave.includes(n) ? "leave" : "";
    const stamp = JSON.stringify(names());
    if (pins.dataset.of !== stamp) {
      pins.dataset.of = stamp;
      fill(pins, S.box.box.tubes.map((t, i) => h("p", h("i", { "aria-hidden": "true", style: { background: t.tint_hex } }), h("label", { for: "pin" + i }, t.name),
        h("select", { id: "pin" + i, "data-tube": t.name, onchange: e => page.choose({ settle: { tube: t.name, as: e.target.value } }, hereCurve).then(v => v || drawPins()) },
          [["", "may come"], ["keep", "always"], ["leave", "never"]].map(([v, text]) => h("option", { value: v }, text))))));
    }
    for (const s of pins.querySelectorAll("select")) s.value = as(s.dataset.tube);
  }

  function drawTubes() {
    if (!S.box) return;
    const uses = {};
    if (S.mixes) for (const m of S.mixes.masses) {
      const r = m.recipes.find(r => r.suggested) || m.recipes[0];
      if (r) for (const p of r.parts) (uses[p.tube] = uses[p.tube] || []).push(m.id);
    }
    const active = document.activeElement && document.activeElement.dataset ? document.activeElement.dataset.tube : null;
    fill(tubes, h("ul.streaks", S.box.box.tubes.map((t, i) => {
      const out = S.view.choices.out.includes(t.name);
      return h("li", { class: out ? "out" : "" }, h("label",
        h("input", { type: "checkbox", checked: !out, "data-tube": t.name, onchange: e => {
          const o = S.view.choices.out;
          page.choose({ out: e.target.checked ? o.filter(n => n !== t.name) : [...o, t.name] }, hereTubes).then(v => {
            if (v) say(t.name + (e.target.checked ? " is in" : " is out"));
            else e.target.checked = !e.target.checked;
          });
        } }), h("span.box", { "aria-hidden": "true" }),
        streak(t, i),
        h("span.name", h("b", t.name), h("small", (t.ci && t.ci !== t.name ? t.ci + " · " : "") + (t.white ? "white" : t.lean)),
          h("small", out ? "stays at home" : uses[t.name] ? "in the mix of " + (uses[t.name].length === 1 ? "pile " : "piles ") + uses[t.name].join(", ") : "no pile needs it"))));
    })));
    if (active) {
      const again = [...tubes.querySelectorAll("input")].find(x => x.dataset.tube === active);
      if (again) again.focus({ preventScroll: true });
    }
  }

  async function painted() {
    const c = S.view.choices, key = JSON.stringify([S.readAs, c.no_fit, c.out, S.boxStamp]);
    if (S.painted && S.painted.key === key) return drawPainted();
    const got = await paintTask.run(paintedPlace, (signal, on) => ask(page.path("painted"), { signal, on }));
    if (!got) return;
    const a = got.answer;
    S.painted = { key, lost: runs(bytes(a.lost)), image: await createImageBitmap(new Blob([bytes(a.image)], { type: "image/jpeg" })), kept: a.kept, far: a.far };
    drawPainted();
    if (S.shown === "painted") page.show("painted");
  }

  function drawPainted() {
    const p = S.painted, c = document.createElement("canvas");
    c.width = p.lost.w;
    c.height = p.lost.h;
    c.getContext("2d").drawImage(p.image, 0, 0, c.width, c.height);
    const d = c.getContext("2d").getImageData(0, 0, c.width, c.height);
    hatch(d, p.lost.index, 40);
    print(canvas, d);
    paintedButton.hidden = false;
    paintedButton.querySelector("small").textContent = percent(p.kept) + " of it within 3 ΔE00." + (p.kept < 0.9995 ? " Strokes mark what is lost" + (p.far >= 0.005 ? ", crossed strokes what is lost by far (" + percent(p.far) + ")." : ".") : "");
  }

  return {
    el,
    async enter() {
      this.update();
      if (!S.box) await page.readBox(hereTubes);
      this.update();
    },
    update() {
      drawNow();
      drawTubes();
      drawPins();
      if (S.leaf !== "choose" || !S.view.look) return;
      kit();
      painted();
    },
    shows() { paintedButton.setAttribute("aria-pressed", String(S.shown === "painted")); },
    leave() {
      kitTask.stop();
      paintTask.stop();
      if (S.shown === "painted") page.show("");
    },
  };
}

let streaks = 0;

// streak is a tube pulled out with a knife, from the paint as it comes to one
// part in ten.
export function streak(t, i) {
  const id = "streak" + streaks++;
  return h("svg.streak", { viewBox: "0 0 600 100", preserveAspectRatio: "none", "aria-hidden": "true", focusable: "false" },
    h("defs", h("linearGradient", { id }, h("stop", { offset: 0.05, "stop-color": t.hex }), h("stop", { offset: 0.4, "stop-color": t.hex }), h("stop", { offset: 0.95, "stop-color": t.tint_hex }))),
    h("path", { d: t.path || "M4 6L590 4L596 40L588 60L594 96L6 95Z", fill: "url(#" + id + ")" }));
}
