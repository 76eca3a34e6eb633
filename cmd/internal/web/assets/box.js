// Your box: the tubes themselves, and what was measured of them.

import { ask, bytes, Task, oops } from "./ask.js";
import { h, fill, one, list, say, capital } from "./dom.js";
import { streak } from "./choose.js";

const labels = {
  name: "Name", pigment: "Pigment code", medium: "Medium", size: "Size, ml", left: "Left in it, ml", strength: "Strength beside others of its code",
  opacity: "Opacity", tinting: "Tinting strength", lightfast: "Lightfastness", note: "Note",
};
const hints = { pigment: "as on the label, PB29; several with a plus, PG7+PY110", strength: "1 is usual, 0.8 weaker", medium: "oil, acrylic, gouache, watercolour" };

export function boxLeaf(page) {
  const here = h("div.here", { tabindex: "-1" }), tubes = h("ul.streaks.tended"), about = h("p.lead"), mind = h("ul.mind"), undoing = h("p.buttons"), measured = h("div");
  const codes = h("datalist", { id: "codes" });
  const task = new Task();
  const adding = h("details.block", h("summary", h("h2", "Add a tube")), h("div.form-place"));
  const back = page.S.id ? h("p.on", h("a.go", { href: "#choose" }, "Back to the picture")) : h("p.on", h("a.go", { href: "#begin" }, "On: a photo"));
  const file = h("input", { type: "file", id: "readings-file", accept: ".csv,.txt,.cgats,.cxf,.xml", onchange: e => e.target.files[0] && readings(e.target.files[0]) });
  const card = h("input", { type: "file", id: "card-file", accept: "image/*,.heic,.heif,.tif,.tiff", onchange: e => e.target.files[0] && swatches(e.target.files[0], []) });
  const grey = h("input", { type: "text", id: "card-grey", size: 10, placeholder: "12%,15%", autocomplete: "off" });
  const cardHere = h("div");
  const light = h("select", { id: "illuminant" }, ["", "D65", "D50", "A"].map(v => h("option", { value: v }, v || "as the file says")));
  const shine = h("select", { id: "finish" }, [["", "as the file says"], ["included", "included (matte, or a sphere)"], ["excluded", "excluded (gloss tilted out of glare)"]].map(([v, t]) => h("option", { value: v }, t)));
  const el = h("section.leaf.wide-leaf", { "aria-labelledby": "leaf-h" },
    h("h1", { id: "leaf-h" }, "Your box"), about, here, undoing,
    h("section.block", { "aria-label": "The tubes" }, tubes), adding,
    h("details.block", h("summary", h("h2", "Enter readings")),
      h("p.lead", "A table of what you measured makes a tube your own: the columns tube, ci, paint_parts, white_parts, then L, a, b or one column for each wavelength. CGATS text and CxF do too. A table of tubes (tube, ci, size…) fills the box."),
      h("p.fields", h("label", { for: "illuminant" }, "Light of the readings"), light, h("label", { for: "finish" }, "Surface shine"), shine),
      h("p.fields", h("label", { for: "readings-file" }, "The file"), file), measured),
    h("details.block", h("summary", h("h2", "Measure by a photo")),
      h("p.lead", "Lay your swatches on white paper, each tube alone and with white (1 to 4, 1 to 9), with a 24-patch colour chart or a grey card beside them, out of the sun’s glare, and photograph them straight from above."),
      h("p.fields", h("label", { for: "card-file" }, "The photo"), card, h("label", { for: "card-grey" }, "Without a chart: the grey card lies at"), grey), cardHere),
    h("section.block", h("h2", "Mind"), mind), back, codes);

  async function change(what, place, words) {
    const b = await task.run(place, (signal, on) => ask("/box", { send: what, signal, on }));
    if (!b) return null;
    page.tookBox(b);
    show(b);
    if (words) say(words);
    const c = b.changed;
    fill(here, c && c.worth ? h("p.note", c.worth) : null, c && c.warnings ? c.warnings.map(t => h("p.note", t)) : null);
    return b;
  }

  function show(b) {
    about.textContent = (b.box.name ? capital(b.box.name) + ". " : "") + b.box.tubes.length + (b.box.tubes.length === 1 ? " tube" : " tubes") + ", from " + b.box.from + "."
      + (b.own ? "" : " It becomes a box of your own with the first change.");
    fill(undoing, h("button.quiet", { type: "button", disabled: !b.own, onclick: () => change({ undo: true }, here, "The last change of the box is undone") }, "Undo the last change of the box"));
    fill(mind, b.warnings.map(t => h("li", t)), h("li", b.labels));
    fill(tubes, b.box.tubes.map((t, i) => h("li", entry(t, i))));
    fill(adding.querySelector(".form-place"), form({}, ["name", "pigment", "medium", "size", "strength", "note"], "Add it", async (f, place) => {
      if (await change({ add: f }, place, f.name + " is in the box")) adding.open = false;
    }));
  }

  function entry(t, i) {
    const place = h("div.form-place");
    return [streak(t, i),
      h("span.name", h("b", t.name), h("small", [t.ci, t.white ? "white" : t.lean].filter(Boolean).join(" · ")),
        h("small", [t.size_ml ? (t.left_ml !== undefined ? t.left_ml + " of " : "") + t.size_ml + " ml" : "", t.readings ? t.readings + " readings" : capital(t.provenance)].filter(Boolean).join(" · ")),
        t.caution ? h("small", "Caution: " + t.caution) : null),
      h("span.buttons",
        h("button.quiet", { type: "button", "aria-label": "Edit " + t.name, onclick: () => {
          const was = { name: t.name, pigment: t.ci, medium: t.medium || "", size: t.size_ml ? String(t.size_ml) : "", left: t.left_ml !== undefined ? String(t.left_ml) : "", strength: t.strength_factor ? String(t.strength_factor) : "", note: t.note || "" };
          fill(place, form(was, ["name", "pigment", "medium", "size", "left", "strength", "note"], "Keep", async (f, here) => {
            const to = {};
            for (const [k, v] of Object.entries(f)) if (v !== (was[k] || "")) to[k] = v;
            if (!Object.keys(to).length) return fill(place);
            await change({ edit: t.name, to }, here, t.name + " is changed");
          }, () => fill(place)));
          place.querySelector("input").focus();
        } }, "Edit"),
        h("button.quiet", { type: "button", "aria-label": "Remove " + t.name, onclick: () => change({ remove: [t.name] }, place, t.name + " is out of the box; undo brings it back") }, "Remove")),
      place];
  }

  let forms = 0;
  function form(was, keys, verb, done, cancel) {
    const here = h("div.here"), n = forms++;
    const inputs = keys.map(k => [k, h("input", { type: "text", id: "f" + n + k, value: was[k] || "", autocomplete: "off", list: k === "pigment" ? "codes" : null, "aria-describedby": hints[k] ? "h" + n + k : null, required: k === "name" })]);
    return h("form.tube-form", { onsubmit: e => {
      e.preventDefault();
      done(Object.fromEntries(inputs.map(([k, i]) => [k, i.value.trim()]).filter(([k, v]) => v !== "" || was[k])), here);
    } },
    inputs.map(([k, i]) => h("p", h("label", { for: i.id }, labels[k]), i, hints[k] ? h("small", { id: "h" + n + k }, hints[k]) : null)),
    h("p.buttons", h("button", { type: "submit" }, verb), cancel ? h("button.quiet", { type: "button", onclick: cancel }, "Leave it") : null), here);
  }

  async function readings(f) {
    const q = new URLSearchParams({ name: f.name, illuminant: light.value, finish: shine.value });
    const b = await task.run(measured, (signal, on) => ask("/box/readings?" + q, { body: f, signal, on }));
    file.value = "";
    if (!b) return;
    page.tookBox(b);
    show(b);
    const c = b.changed;
    fill(measured,
      c.fitted.length ? h("ul.say", c.fitted.map(t => h("li", h("b", capital(t.tube)), ": fitted to " + t.rows.length + " readings, " + one(t.mean_de00) + " ΔE00 from them on average" + (t.strength ? "; strength " + Math.round(100 * t.strength) + " % of the library’s" : "") + "."
        , t.rows.filter(r => r.suspicious).map(r => h("span", " " + capital(r.drawdown) + (r.line ? " (line " + r.line + ")" : "") + ": " + r.suspicious))))) : null,
      c.added && c.added.length ? h("p", "In: " + list(c.added) + ".") : null, c.changed && c.changed.length ? h("p", "Changed: " + list(c.changed) + ".") : null,
      c.unstated && c.unstated.length ? h("p.note", "Taken for granted: " + list(c.unstated) + ".") : null,
      c.warnings.map(t => h("p.note", t)));
    say("The readings are taken in");
  }

  // swatches reads a photo of them: first it finds the places, then the painter
  // says which tube is which, and the tubes are fitted.
  async function swatches(file, named) {
    const q = new URLSearchParams({ name: file.name });
    if (grey.value.trim()) q.set("grey", grey.value.trim());
    for (const n of named) q.append("swatch", n);
    const holder = named.length ? cardHere.querySelector(".named") : cardHere;
    const m = await task.run(holder, (signal, on) => ask("/box/swatches?" + q, { body: file, signal, on }));
    if (!m) return;
    const url = URL.createObjectURL(new Blob([bytes(m.overview)], { type: "image/png" }));
    const picture = h("img.overview", { src: url, alt: "The photo with its " + m.places.length + " places numbered", onload: () => URL.revokeObjectURL(url) });
    const notes = [m.method.map(t => h("p.small", t)), m.warnings.map(t => h("p.note", t))];
    if (named.length) {
      page.tookBox(m.box_now);
      show(m.box_now);
      fill(cardHere, h("p.done", { role: "status" }, "Your box has them: " + list(m.import.fitted.map(t => t.tube + " from " + t.rows.length + (t.rows.length === 1 ? " reading" : " readings"))) + "."),
        m.import.warnings.map(t => h("p.note", t)), picture, notes);
      card.value = "";
      return;
    }
    const inputs = m.places.map(p => [p, h("input", { type: "text", id: "place" + p.number, autocomplete: "off", "aria-label": "Place " + p.number + ", " + p.name })]);
    const others = h("textarea", { id: "other-places", rows: 2 });
    fill(cardHere, picture, notes,
      h("p", "Say what each place is: the tube as your box has it or with its code, then its parts of paint and white, as in ", h("b", "ultramarine blue PB29 1:4"), "; the tube alone is ", h("b", "1:0"), ", the white alone ", h("b", "0:1"), ". Leave the others empty."),
      h("ul.places", inputs.map(([p, i]) => h("li", h("i", { style: { background: p.hex } }), h("b", p.number), i))),
      h("p.write", h("label", { for: "other-places" }, "Places without a number, such as white on white paper: one a line, as in titanium white PW6 0:1@12%,40% (from the left, from the top)"), others),
      h("p.buttons", h("button", { type: "button", onclick: () => {
        const said = inputs.filter(([, i]) => i.value.trim()).map(([p, i]) => i.value.trim() + "@" + p.number).concat(others.value.split("\n").map(l => l.trim()).filter(Boolean));
        if (said.length) swatches(file, said);
        else oops(cardHere.querySelector(".named"), new Error("No place is named yet: say what at least one of them is."));
      } }, "Fit the tubes")), h("div.named"));
  }

  (async () => {
    const b = await page.readBox(here);
    if (!b) return;
    show(b);
    const p = await task.run(here, signal => ask("/pigments", { signal }));
    if (p) fill(codes, p.map(x => h("option", { value: x.ci }, x.name)));
  })();
  return { el, leave() { task.stop(); } };
}
