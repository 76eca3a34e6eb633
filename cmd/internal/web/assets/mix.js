// Mix: the piles one by one, light to dark.

import { ask, Task } from "./ask.js";
import { h, fill, one, percent, amount, swatch, tick, capital, say } from "./dom.js";

// recipeOf writes a mix in one line.
export const recipeOf = r => r.parts.length === 1 ? r.parts[0].tube + " alone" : r.parts.map(p => amount(p.parts) + " " + p.tube).join(" + ");

const isDone = (S, m) => S.view.choices.mixed.some(x => Math.hypot(x.lab[0] - m.aim[0], x.lab[1] - m.aim[1], x.lab[2] - m.aim[2]) <= 0.4);

const noteOf = (S, m) => {
  const n = S.view.choices.notes.find(x => Math.hypot(x.lab[0] - m.aim[0], x.lab[1] - m.aim[1], x.lab[2] - m.aim[2]) <= 0.4);
  return n ? n.text || "" : "";
};

// parts shows a mix's parts as a painter sets them out.
export function parts(r) {
  const all = r.parts.reduce((s, p) => s + p.parts, 0);
  return h("ul.parts", r.parts.map(p => h("li",
    h("span.how", h("b", amount(p.parts)), p.parts === 1 ? " part" : " parts"),
    h("span.of", p.tube, p.ci ? h("small", " " + p.ci) : null),
    h("span.bar", { "aria-hidden": "true" }, h("i", { style: { width: Math.max(1.5, 100 * p.parts / all) + "%", background: p.hex || "#000" } })))));
}

// stringOf shows a string of piles as a ladder.
const stringOf = v => [
  h("ol.string", v.piles.map(p => h("li", h("i", { style: { background: p.mix.hex } }), h("b", one(p.value)), h("span", recipeOf(p.mix), h("small", " off by " + one(p.mix.de00)))))),
  h("p.small", v.says)];

const grade = r => h("p.grade", h("b", capital(r.grade)), r.miss ? ", " + r.miss : "", ". ",
  h("span", "Off by " + one(r.de00) + " ΔE00 on paper, " + one(r.expected_de00) + " to be expected by knife, nine times in ten within " + one(r.p90_de00) + "."));

// reachOf puts an answer about reach into words.
export const reachOf = v => [
  h("ul.say", v.say.map(t => h("li", t))),
  v.add && v.add.length ? h("p.small", v.add.some(a => a.caution) ? h("span", v.add.filter(a => a.caution).map(a => capital(a.name) + ": " + a.caution).join(" ")) : null) : null,
];

export function mixLeaf(page) {
  const { S } = page;
  const here = h("div.here"), pile = h("ol.piles"), count = h("p.now", { role: "status" });
  const whyTask = new Task(), mendTask = new Task(), stringTask = new Task();
  const el = h("section.leaf", { "aria-labelledby": "leaf-h" },
    h("h1", { id: "leaf-h" }, "Mix"),
    h("p.lead", "Light to dark, accents last. Touch a pile to open it; tick it when it lies on the palette."), count, here, pile,
    h("p.on", h("a.go", { href: "#carry" }, "On: what to carry")));

  const order = () => [...S.view.look.masses.keys()].sort((a, b) => {
    const m = S.view.look.masses, p = m[a], q = m[b];
    return p.accent - q.accent || q.aim_value - p.aim_value || p.id - q.id;
  });

  function head(m, x, i, open) {
    const first = x && (x.recipes.find(r => r.suggested) || x.recipes[0]);
    return h("div.head",
      h("h2", h("button.open", { type: "button", "aria-expanded": String(open), "aria-controls": "body" + m.id, onclick: () => page.light(S.lit === i ? -1 : i) },
        h("span.duo", { "aria-hidden": "true" }, h("i", { style: { background: m.aim_hex } }), first ? h("i", { style: { background: first.hex } }) : null),
        h("span.num", m.id), h("span.name", capital(m.name), m.accent ? ", accent" : ""),
        h("span.short", first ? recipeOf(first) : x ? "no mix" : "…"))),
      tick(h("span", "Mixed", h("span.hid", ": pile " + m.id)), isDone(S, m), on => page.choose(on ? { mixed: m.aim } : { unmixed: m.aim }, here)));
  }

  function body(m, x) {
    const first = x && (x.recipes.find(r => r.suggested) || x.recipes[0]);
    const why = h("div.here"), string = h("div.here"), others = x ? x.recipes.filter(r => r !== first) : [];
    const note = h("textarea", { rows: 2, id: "note" + m.id, value: noteOf(S, m), onchange: e => page.choose({ note: { lab: m.aim, text: e.target.value } }, why) });
    return h("div.body", { id: "body" + m.id },
      h("div.three", swatch(m.hex, "in the photo", h("br"), h("b", "value " + one(m.value))), swatch(m.aim_hex, "to mix", h("br"), h("b", "value " + one(m.aim_value))),
        first ? swatch(first.hex, "foretold mix", h("br"), h("b", "off " + one(first.de00))) : null),
      h("p.facts", capital(m.temperature) + " · " + m.notation + " · " + percent(m.share) + " of the picture"),
      first ? [parts(first), grade(first), first.why ? h("p.note", first.why) : null,
        h("h3", "In this order"), h("ol.order", first.order.map(t => h("li", t))), first.notes.map(t => h("p.note", t))]
        : h("p.note", "These tubes give no mix for it."),
      x && x.why ? h("p.note", x.why) : null,
      x && x.box_de00 >= 0 && x.de00 > x.box_de00 + 0.5 ? h("p.note", "The whole box comes within " + one(x.box_de00) + ".") : null,
      h("p.buttons", first && first.parts.filter(p => !p.white).length > 1 ? h("button", { type: "button", onclick: () => whyTask.run(why, (signal, on) => ask("/why", { send: { parts: first.parts.map(p => ({ tube: p.tube, parts: p.parts })) }, signal, on })).then(v => v && fill(why, h("ul.say", v.say.map(t => h("li", t))))) }, "Why does it look so?") : null,
        m.accent ? null : h("button", { type: "button", onclick: () => stringTask.run(string, (signal, on) => ask(page.path("string"), { send: { aim: m.aim }, signal, on })).then(v => v && fill(string, stringOf(v))) }, "Premix it, light to dark")), why, string,
      others.length ? h("details.others", h("summary", others.length === 1 ? "Another way to mix it" : others.length + " other ways to mix it"),
        others.map(r => h("div.way", h("h3", capital(r.choice || "another")), h("div.pair", { "aria-hidden": "true" }, h("i", { style: { background: m.aim_hex } }), h("i", { style: { background: r.hex } })), parts(r), grade(r), r.notes.map(t => h("p.note", t))))) : null,
      mend(m, first),
      h("p.write", h("label", { for: "note" + m.id }, "Your notes on pile " + m.id), note));
  }

  // mend asks what to add to a pile that came out wrong; after each addition the
  // pile is read again, and every reading says more of the tubes.
  function mend(m, first) {
    const place = h("div.here"), said = { readings: [], added: [] };
    const id = "read" + m.id;
    const reading = h("input", { type: "text", id, size: 18, placeholder: "lab:52,-10,31", autocomplete: "off", onkeydown: e => { if (e.key === "Enter") go(); } });
    const mixed = first ? h("input", { type: "text", id: id + "m", size: 30, value: first.parts.map(p => p.tube + ":" + amount(p.parts)).join(", "), autocomplete: "off" }) : null;
    const asked = h("label", { for: id }, "The pile reads"), sofar = h("p.small");
    const go = async save => {
      const readings = reading.value.trim() ? [...said.readings, reading.value.trim()] : said.readings;
      const v = await mendTask.run(place, (signal, on) => ask("/mend", { send: { aim: m.aim, readings, mixed: mixed ? mixed.value : "", added: said.added, save: save === true }, signal, on }));
      if (!v) return;
      said.readings = readings;
      reading.value = "";
      sofar.textContent = said.added.length ? "Added so far: " + said.added.join("; then ") + "." : "";
      fill(place, mended(v));
    };
    const added = a => {
      said.added.push(a.add.map(p => p.tube + ":" + amount(p.parts)).join(", "));
      asked.textContent = "After that the pile reads";
      fill(place);
      sofar.textContent = "Added: " + said.added.join("; then ") + ".";
      reading.focus();
    };
    const mended = v => [
      h("div.pair", { "aria-hidden": "true" }, h("i", { style: { background: v.aim_hex } }), h("i", { style: { background: v.pile.hex } })),
      h("p", h("b", capital(v.verdict) + ". "), "To mix, at the left; the pile as it reads, at the right."),
      h("ul.say", v.say.map(t => h("li", t))),
      v.additions.length ? h("ul.ways", v.additions.map(a => h("li", h("i", { style: { background: a.hex } }),
        h("span", h("b", capital(a.words)), " " + capital(a.grade) + ", off by " + one(a.de00) + ", nine times in ten within " + one(a.p90_de00) + ". ",
          h("button.quiet", { type: "button", onclick: () => added(a) }, "I added this"))))) : null,
      v.strengths.length && !v.saved ? h("p.buttons", h("button", { type: "button", onclick: () => go(true) }, "Keep in my box what the readings say of the tubes")) : null,
      v.saved ? h("p.note", "Your box keeps it.") : null,
      v.warnings.length ? h("ul.mind", v.warnings.map(t => h("li", t))) : null];
    return h("details.others", h("summary", "It came out wrong: mend it"),
      h("p", "Read the pile as it lies there: by a colorimeter (lab:52,-10,31), against a swatch (notation:5GY 5/4) or as a hex colour."),
      mixed ? h("p.fields", h("label", { for: id + "m" }, "It was mixed from"), mixed) : null, sofar,
      h("p.fields", asked, reading),
      h("p.buttons", h("button", { type: "button", onclick: () => go(false) }, "What to add")), place);
  }

  return {
    el,
    enter() { this.built = ""; this.update(); },
    update() {
      if (!S.view.look) return;
      const m = S.view.look.masses;
      const done = m.filter(x => isDone(S, x)).length;
      const text = done + " of " + m.length + " mixed.";
      if (count.textContent !== text) count.textContent = text;
      // Rebuilding loses the place of the cursor: only where something changed.
      const key = JSON.stringify([S.view.choices.version, S.lit, S.mixedAs, S.mixes && S.mixes.masses.length]);
      if (key === this.built || S.leaf !== "mix") return;
      const typing = document.activeElement && document.activeElement.id;
      const open = this.built && S.lit !== this.lit;
      this.built = key;
      this.lit = S.lit;
      const lists = order().map(i => {
        const x = S.mixes && S.mixes.masses[i];
        return h("li.pile", { class: "pile" + (isDone(S, m[i]) ? " done" : ""), id: "pile" + m[i].id }, head(m[i], x, i, i === S.lit), i === S.lit ? body(m[i], x) : null);
      });
      const focus = pile.contains(document.activeElement) ? [document.activeElement.className, document.activeElement.closest("li") && document.activeElement.closest("li").id] : null;
      fill(pile, lists);
      if (typing && document.getElementById(typing)) document.getElementById(typing).focus({ preventScroll: true });
      else if (focus && focus[1]) {
        const again = document.getElementById(focus[1]);
        const b = again && (focus[0] === "open" ? again.querySelector(".open") : again.querySelector(".tick input"));
        if (b) b.focus({ preventScroll: true });
      }
      if (open && S.lit >= 0) document.getElementById("pile" + m[S.lit].id).scrollIntoView({ block: "nearest", behavior: "smooth" });
    },
    leave() {
      whyTask.stop();
      stringTask.stop();
      mendTask.stop();
    },
  };
}
