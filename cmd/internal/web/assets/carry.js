// Carry: what goes along to the easel.

import { ask, Task } from "./ask.js";
import { h, fill, one, list, words, capital } from "./dom.js";
import { streak } from "./choose.js";

export function carryLeaf(page) {
  const { S } = page;
  const here = h("div.here"), planHere = h("div.here"), bag = h("div"), care = h("div.care"), now = h("p.now", { role: "status" }), accents = h("div");
  const fewer = h("p", { hidden: true }, "The whole box is carried. ", h("a", { href: "#choose" }, "Fewer tubes may do"), ".");
  const takeTask = new Task(), planTask = new Task();
  const canvas = h("input", { type: "text", id: "carry-canvas", list: "canvases-too", size: 10, placeholder: "30x40cm", autocomplete: "off", onkeydown: e => { if (e.key === "Enter") measure(); } });
  const film = h("select", { id: "film", onchange: () => page.choose({ film: film.value }, measureHere) }, [["brush", "by brush"], ["knife", "by knife, thick"]].map(([v, t]) => h("option", { value: v }, t)));
  const measureHere = h("div.here"), measured = h("p.small");
  const measure = () => page.choose({ canvas: canvas.value }, measureHere);
  const el = h("section.leaf", { "aria-labelledby": "leaf-h" },
    h("h1", { id: "leaf-h" }, "Carry"),
    now, fewer, planHere,
    h("section.block", h("h2", "Take it along"),
      h("p.buttons.strong",
        h("button", { type: "button", onclick: () => take("sheet") }, "The sheet to print, A4"),
        h("button", { type: "button", onclick: () => take("sheet?paper=letter") }, "The sheet, US Letter"),
        h("button", { type: "button", onclick: () => take("easel") }, "The page for a phone"),
        h("button", { type: "button", onclick: () => take("folder") }, "All of it, in a folder")), here,
      h("p.small", "The sheet is for the easel. The page opens on a phone without a network. The folder (zip) also holds pictures of masses, values, wheel, chart and reach, and tables for other programs.")),
    h("section.block", h("h2", "How much to squeeze out"),
      h("p.fields", h("label", { for: "carry-canvas" }, "Canvas, width by height"), canvas, h("datalist", { id: "canvases-too" }, ["30x40cm", "40x30cm", "30x30cm", "40x50cm", "50x40cm", "12x16in", "16x12in"].map(v => h("option", { value: v }))),
        h("label", { for: "film" }, "Laid"), film, h("button", { type: "button", onclick: measure }, "Measure out")), measureHere, measured),
    h("section.block", h("h2", "Into the bag"), bag),
    h("section.block", h("h2", "The accents"), accents),
    h("section.block", h("h2", "Care"), care));

  async function take(what) {
    const got = await takeTask.run(here, (signal, on) => ask(page.path(what), { signal, on }));
    if (!got) return;
    const url = URL.createObjectURL(new Blob([Uint8Array.from(atob(got.data), c => c.charCodeAt(0))], { type: got.kind }));
    const a = h("a", { href: url, download: got.name, class: "hid" });
    document.body.append(a);
    a.click();
    a.remove();
    setTimeout(() => URL.revokeObjectURL(url), 60000);
    fill(here, h("p.done", { role: "status" }, got.name + " is in your downloads."));
  }

  async function draw() {
    const got = await planTask.run(planHere, (signal, on) => ask(page.path("plan"), { signal, on }));
    if (!got) return;
    const p = got.answer, uses = {}, says = {};
    for (const m of p.masses) {
      const r = (m.recipes || []).find(r => r.suggested) || (m.recipes || [])[0];
      if (r) for (const q of r.parts) (uses[q.tube] = uses[q.tube] || []).push(m.id);
    }
    if (p.kit) for (const u of p.kit.uses) says[u.tube] = u.says;
    const paths = S.box ? Object.fromEntries(S.box.box.tubes.map(t => [t.name, t.path])) : {};
    const out = S.view.choices.out, all = p.box.tubes.filter(t => !out.includes(t.name)), need = all.filter(t => uses[t.name]), spare = all.filter(t => !uses[t.name]);
    const text = capital(words(need.length)) + (need.length === 1 ? " tube" : " tubes") + " for the first mix of every pile." + (p.kit ? " " + p.kit.cost : "");
    if (now.textContent !== text) fill(now, text);
    fewer.hidden = out.length > 0;
    fill(bag, h("ul.streaks.plain", need.map((t, i) => h("li", streak({ ...t, path: paths[t.name] }, i), h("span.name", h("b", t.name), h("small", [t.ci, t.white ? "white" : t.lean].filter(Boolean).join(" · ")),
      p.squeeze_says[t.name] ? h("small", h("strong", p.squeeze_says[t.name])) : null,
      h("small", "for " + (uses[t.name].length === 1 ? "pile " : "piles ") + uses[t.name].join(", ") + (says[t.name] ? "; " + says[t.name] : "")))))),
      spare.length ? h("p.spare", "Carried, but in no first mix: " + list(spare.map(t => t.name)) + ".") : null,
      out.length ? h("p.spare", "Stays at home: " + list(out) + ".") : null);
    measured.textContent = p.quantities ? p.quantities.words : "Give the canvas you paint on, and the amounts stand beside each tube below. The photo is cut to its proportions.";
    fill(accents, p.accents.length ? h("ul.say", p.accents.map(a => h("li", "Pile " + a.mass + ": " + a.says))) : null);
    accents.parentElement.hidden = !p.accents.length;
    const cautions = need.filter(t => t.caution);
    fill(care, cautions.length ? h("ul.say", cautions.map(t => h("li", h("b", capital(t.name) + ": "), t.caution))) : null,
      S.box ? h("ul.say", S.box.care.map(t => h("li", t))) : null, S.box ? h("p", S.box.scope) : null);
  }

  return {
    el,
    async enter() {
      this.update();
      if (!S.box) await page.readBox(here);
      this.update();
    },
    update() {
      if (!S.view.look || S.leaf !== "carry") return;
      if (document.activeElement !== canvas) canvas.value = S.view.choices.canvas;
      film.value = S.view.choices.film === "knife" ? "knife" : "brush";
      draw();
    },
    leave() {
      takeTask.stop();
      planTask.stop();
    },
  };
}
