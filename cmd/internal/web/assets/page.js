// The page: which leaf lies open, and what the painter has chosen. All answers
// come from the server; what is chosen is kept there at once.

import { ask, upload, Task, runs, sentence, oops } from "./ask.js";
import { h, $, fill, one, say, list, away, capital } from "./dom.js";
import { Picture } from "./picture.js";
import { Palette } from "./piles.js";
import { lookLeaf } from "./look.js";
import { chooseLeaf } from "./choose.js";
import { mixLeaf, recipeOf, reachOf } from "./mix.js";
import { carryLeaf } from "./carry.js";
import { boxLeaf } from "./box.js";

const S = { id: null, view: null, mask: null, lit: -1, shown: "", mixes: null, spot: null, leaf: "", box: null };
const tasks = { open: new Task(), choose: new Task(), mask: new Task(), mixes: new Task(), spot: new Task(), reach: new Task(), values: new Task(), photos: new Task(), box: new Task() };
const picture = new Picture($("frame"), touch);
const palette = new Palette($("palette"), i => light(S.lit === i ? -1 : i),
  (by, here) => choose({ k: Math.min(24, Math.max(3, S.view.look.masses.length + by)) }, here));
const leaves = { look: lookLeaf, choose: chooseLeaf, mix: mixLeaf, carry: carryLeaf };
let open = {};

// What the leaves may do.
const page = {
  S, picture, choose, light, show, touchNeutral, readBox, tookBox, altOf,
  path: what => "/sittings/" + S.id + "/" + what,
};

// ---- The way through the page

function leafNow() {
  const want = location.hash.slice(1);
  if (want === "box") return "box";
  if (S.id && leaves[want]) return want;
  return S.id && !want ? "look" : "begin";
}

function turn(focus) {
  const leaf = leafNow();
  if (leaf !== S.leaf && open[S.leaf] && open[S.leaf].leave) open[S.leaf].leave();
  S.leaf = leaf;
  document.body.dataset.leaf = leaf;
  const book = leaf in leaves;
  $("book").hidden = !book;
  $("way").hidden = !S.id;
  $("photo-name").textContent = S.view ? S.view.name : "";
  for (const a of document.querySelectorAll("#way a")) {
    if (a.hash === "#" + leaf) a.setAttribute("aria-current", "step");
    else a.removeAttribute("aria-current");
  }
  $("single").hidden = book;
  if (book) {
    if (!open[leaf]) open[leaf] = leaves[leaf](page);
    fill($("recto"), open[leaf].el);
    if (open[leaf].enter) open[leaf].enter();
  } else if (leaf === "begin") begin();
  else {
    open.box = boxLeaf(page);
    fill($("single"), open.box.el);
  }
  document.title = (book ? capital(leaf) + ": " + S.view.name + " – " : leaf === "box" ? "Your box – " : "") + "paintout";
  if (focus) {
    const heading = document.querySelector(book ? "#recto h1" : "#single h1");
    if (heading) {
      heading.tabIndex = -1;
      heading.focus({ preventScroll: true });
    }
    if (!book || matchMedia("(min-width:64rem)").matches) scrollTo(0, 0);
    else heading.scrollIntoView();
  }
}

// On a narrow page the picture stays at the top: what is scrolled to stops below.
new ResizeObserver(() => {
  const stuck = getComputedStyle($("easel")).position === "sticky" ? $("easel").offsetHeight + 8 : 8;
  document.documentElement.style.setProperty("--stuck", stuck + "px");
}).observe($("easel"));

addEventListener("hashchange", () => turn(true));
addEventListener("visibilitychange", () => {
  if (!document.hidden && S.id && S.view) tasks.open.run($("touched"), async signal => ask("/sittings/" + S.id, { signal })).then(v => v && S.view && v.choices.version !== S.view.choices.version && take(v));
});

function update() {
  for (const l of Object.values(open)) if (l.update) l.update();
}

// ---- Beginning

function begin() {
  const drop = h("input", { type: "file", id: "photo", accept: "image/*,.heic,.heif,.tif,.tiff,.webp", onchange: e => e.target.files[0] && bring(e.target.files[0]) });
  const place = h("div.bring");
  const before = h("section.before", { "aria-labelledby": "before" });
  fill($("single"), h("div.begin",
    h("h1", "A photo, a box of tubes, an hour of light"),
    h("div.drop", h("label", { for: "photo" }, h("b", "Drop a photo here"), h("span", "or choose one. JPEG, PNG, TIFF, WebP or HEIC. It stays on this machine.")), drop, place),
    before));
  begin.place = place;
  tasks.photos.run(before, async signal => ask("/sittings", { signal })).then(v => {
    if (!v || !v.sittings.length) return;
    fill(before, h("h2", { id: "before" }, "Earlier"),
      h("ul.prints", v.sittings.map(x => h("li",
        h("a", { href: "/?s=" + x.id + "#look" }, h("img", { src: "/sittings/" + x.id + "/small.jpg", alt: "" }), h("span", x.name)),
        h("p", away(new Date(x.used)) + (x.mixed ? ", " + x.mixed + " mixed" : "")),
        h("button.quiet", { type: "button", "aria-label": "Put away " + x.name, onclick: e => putAway(x, e.target.closest("li")) }, "Put away")))),
      h("p.small", v.kept ? "The last " + v.most + " photos are kept on this machine with what you chose, until you put them away." : "Photos are kept until the program stops."));
  });
}

function putAway(x, li) {
  fill(li, h("p", "Put " + x.name + " away for good, with its notes?"),
    h("button", { type: "button", onclick: async () => {
      try {
        await ask("/sittings/" + x.id, { method: "DELETE" });
        li.remove();
        say(x.name + " is put away");
      } catch (e) { oops(li, e); }
    } }, "Put away"),
    h("button.quiet", { type: "button", onclick: begin }, "Keep it"));
  li.querySelector("button").focus();
}

async function bring(file) {
  const place = begin.place;
  const v = await tasks.open.run(place, (signal, on) => upload("/sittings?name=" + encodeURIComponent(file.name), file, on, signal));
  if (!v) return;
  history.pushState(null, "", "/?s=" + v.id + "#look");
  forget();
  await take(v);
  turn(true);
}

for (const kind of ["dragover", "drop"]) {
  addEventListener(kind, e => {
    e.preventDefault();
    if (kind === "drop" && e.dataTransfer.files[0]) {
      if (S.leaf !== "begin") {
        history.pushState(null, "", "#begin"); // which no hashchange follows
        turn(false);
      }
      bring(e.dataTransfer.files[0]);
    }
  });
}

// ---- The sitting

function forget() {
  for (const t of Object.values(tasks)) if (t !== tasks.open) t.stop();
  open = {};
  Object.assign(S, { view: null, mask: null, lit: -1, shown: "", mixes: null, spot: null, readAs: null });
  picture.unring();
  picture.plain();
}

async function load(id) {
  S.id = id;
  const v = await tasks.open.run($("single"), (signal, on) => ask("/sittings/" + id, { signal, on }));
  if (v) {
    await take(v);
    return true;
  }
  S.id = null;
  return false;
}

// take shows a new state of the sitting.
async function take(v) {
  S.id = v.id;
  if (v.box_says) {
    $("oops").hidden = false;
    fill($("oops"), sentence(v.box_says), " ", h("a", { href: "#box" }, "Your box"));
  } else $("oops").hidden = true;
  const readAs = JSON.stringify([v.id, v.choices.crop, v.choices.canvas, v.choices.grey]);
  const anew = readAs !== S.readAs, before = S.view && S.lit >= 0 ? S.view.look.masses[S.lit] : null;
  const cut = !S.view || anew || S.view.choices.k !== v.choices.k || S.view.choices.no_accents !== v.choices.no_accents || S.view.choices.no_fit !== v.choices.no_fit;
  S.view = v;
  S.readAs = readAs;
  if (anew) {
    S.spot = null;
    S.valueMasks = {};
    picture.unring();
    untouched();
    try {
      await picture.show(page.path("picture.jpg?as=" + v.choices.version), altOf(v));
    } catch (e) { oops($("touched"), e); }
  }
  if (!v.look) return;
  if (cut || JSON.stringify(v.rows) !== S.laid) {
    S.laid = JSON.stringify(v.rows);
    palette.lay(v);
    S.mask = null;
    S.lit = -1;
    const got = await tasks.mask.run($("touched"), signal => ask(page.path("masses"), { signal }));
    if (got) {
      S.mask = runs(got.bytes);
      if (before) { // the mass that lies where the lit one lay
        const [u, w] = before.anchor;
        S.lit = S.mask.index[Math.min(S.mask.h - 1, Math.floor(w * S.mask.h)) * S.mask.w + Math.min(S.mask.w - 1, Math.floor(u * S.mask.w))];
      }
    }
    light(S.lit);
  }
  palette.done(isDone);
  update();
  mixes();
}

// altOf describes the photo by its largest masses.
function altOf(v) {
  if (!v.look) return v.name;
  const large = [...v.look.masses].sort((a, b) => b.share - a.share).slice(0, 4).map(m => m.name + " (" + Math.round(100 * m.share) + " %)");
  return v.name + ", mostly " + list(large);
}

export const isDone = m => S.view.choices.mixed.some(x => Math.hypot(x.lab[0] - m.aim[0], x.lab[1] - m.aim[1], x.lab[2] - m.aim[2]) <= 0.4);

// choose makes a change and shows what becomes of it; place is where to say how
// far it is, or what went wrong.
async function choose(change, place) {
  const v = await tasks.choose.run(place, (signal, on) => ask(page.path("choose"), { send: change, signal, on }));
  if (v) await take(v);
  return v;
}

async function mixes() {
  const v = S.view.choices, key = JSON.stringify([S.readAs, v.k, v.no_accents, v.no_fit, v.out, S.boxStamp]);
  if (S.mixes && S.mixedAs === key) {
    palette.show(S.mixes.masses);
    return;
  }
  const got = await tasks.mixes.run(palette.here, (signal, on) => ask(page.path("mixes"), { signal, on }));
  if (!got || got.answer.masses.length !== S.view.look.masses.length) return;
  S.mixes = got.answer;
  S.mixedAs = key;
  palette.show(S.mixes.masses);
  update();
  if (S.spot) touch(S.spot.x, S.spot.y, S.spot.radius);
}

async function readBox(place) {
  const b = await tasks.box.run(place, signal => ask("/box", { signal }));
  if (b) tookBox(b);
  return b;
}

// tookBox keeps what the server says of the box; where it changed, everything
// that was mixed from it is asked for anew.
function tookBox(b) {
  b.box.tubes.forEach((t, i) => { t.path = b.paths[i]; });
  const stamp = JSON.stringify(b.box.tubes.map(t => [t.name, t.lab, t.tint_lab])), changed = S.boxStamp && S.boxStamp !== stamp;
  S.box = b;
  S.boxStamp = stamp;
  if (changed && S.id) load(S.id);
}

// light lights a mass up in the picture and among the piles; −1 puts it out.
function light(i) {
  S.lit = i;
  if (!S.view.look.masses[i]) S.lit = i = -1;
  palette.lit(i);
  show(i < 0 ? "" : "lit");
  const m = S.view.look.masses[i];
  if (m) {
    picture.number(m.id, ...m.anchor);
    say((m.accent ? "Accent " : "Pile ") + m.id + ", " + m.name + ", is lit in the picture");
  } else picture.number(null);
  update();
}

// show lays something over the photo: "lit", "masses", "v2", "painted", or "".
function show(what) {
  S.shown = what;
  if (what !== "lit") picture.number(null);
  if (what === "lit" && S.mask && S.lit >= 0) picture.light(S.mask, S.lit);
  else if (what === "masses" && S.mask) picture.flat(S.mask, S.view.look.masses.map(m => m.aim_hex));
  else if (what[0] === "v" && S.valueMasks[what]) picture.flat(S.valueMasks[what], S.view.greys[what.slice(1)]);
  else if (what === "painted" && S.painted) picture.painted(S.painted.image, S.painted.lost);
  else picture.plain();
  for (const l of Object.values(open)) if (l.shows) l.shows();
}

// ---- A touched spot

function untouched() {
  fill($("touched"), h("p.how", "Touch any place in the picture to read its colour."));
}

async function touch(x, y, r) {
  const got = await tasks.spot.run($("touched"), (signal, on) => ask(page.path("spot?x=" + x.toFixed(5) + "&y=" + y.toFixed(5) + "&r=" + r), { signal, on }));
  if (!got) return;
  S.spot = got.answer;
  const i = S.view.look.masses.findIndex(m => m.id === S.spot.mass);
  slip(S.spot, i);
  $("touched").scrollIntoView({ block: "nearest" });
  say("Spot: " + S.spot.name + ", value " + one(S.spot.value) + ", " + S.spot.temperature + (S.spot.recipes[0] ? ". Mix " + recipeOf(S.spot.recipes[0]) : ""));
}

function slip(s, mass) {
  tasks.reach.stop();
  const first = s.recipes.find(r => r.suggested) || s.recipes[0];
  const more = h("div.more"), others = s.recipes.filter(r => r !== first);
  const opened = slip.open;
  const ways = h("details", { open: opened, ontoggle: e => { slip.open = e.target.open; } }, h("summary", "More of this spot"),
    h("dl.facts",
      h("div", h("dt", "Notation"), h("dd", s.notation)),
      h("div", h("dt", "In the photo"), h("dd", "L* " + one(s.lab[0]) + " a* " + one(s.lab[1]) + " b* " + one(s.lab[2]) + ", " + s.hex)),
      h("div", h("dt", "To mix"), h("dd", "value " + one(s.aim_value) + ", L* " + one(s.aim[0]) + " a* " + one(s.aim[1]) + " b* " + one(s.aim[2]))),
      h("div", h("dt", "Evenness"), h("dd", "within the ring colours differ by " + one(s.uneven_de00) + " ΔE00 from their mean")),
      s.uneven_de00 > 1.8 ? h("div", h("dt", "In the middle of them"), h("dd", "L* " + one(s.median[0]) + " a* " + one(s.median[1]) + " b* " + one(s.median[2]) + ", " + s.median_hex)) : null),
    others.length ? h("ul.ways", others.map(r => h("li", h("i", { style: { background: r.hex } }), h("span", h("b", r.choice || "another"), ": " + recipeOf(r) + ". " + capital(r.grade) + ", off by " + one(r.de00) + ".")))) : null,
    h("p.buttons",
      h("button", { type: "button", onclick: () => tasks.reach.run(more, (signal, on) => ask(page.path("reach?x=" + s.x + "&y=" + s.y + "&r=" + s.radius), { signal, on })).then(v => v && fill(more, reachOf(v.answer))) }, "How far can these tubes go here?"),
      first && first.parts.filter(p => !p.white).length > 1 ? h("button", { type: "button", onclick: () => tasks.reach.run(more, (signal, on) => ask("/why", { send: { parts: first.parts.map(p => ({ tube: p.tube, parts: p.parts })) }, signal, on })).then(v => v && fill(more, h("ul.say", v.say.map(t => h("li", t))))) }, "Why does the mix look so?") : null,
      h("button", { type: "button", onclick: () => touchNeutral(s, more) }, "It was neutral grey: balance the photo")),
    more);
  fill($("touched"),
    h("div.slip",
      h("span.duo", { "aria-hidden": "true" }, h("i", { style: { background: s.hex } }), first ? h("i", { style: { background: first.hex } }) : null),
      h("div.reads",
        h("p", h("b", capital(s.name)), ", ", s.temperature),
        h("p", "value ", h("b", one(s.value)), " · ", s.notation)),
      h("div.size", { role: "group", "aria-label": "Size of the spot" },
        h("button", { type: "button", "aria-label": "Smaller spot", onclick: () => picture.resize(-1) }, "−"),
        h("button", { type: "button", "aria-label": "Larger spot", onclick: () => picture.resize(1) }, "+")),
      h("button.quiet.shut", { type: "button", "aria-label": "Put the spot away", onclick: () => { picture.unring(); S.spot = null; untouched(); picture.pad.focus({ preventScroll: true }); } }, "✕")),
    first ? h("p.first", h("b", recipeOf(first)), h("span", ". " + capital(first.grade) + ", off by " + one(first.de00) + "; nine times in ten within " + one(first.p90_de00) + ".")) : h("p.first", "These tubes give no mix."),
    s.note ? h("p.note", s.note) : null,
    s.why ? h("p.note", s.why) : null,
    mass >= 0 ? h("p.buttons.tight", h("button.quiet", { type: "button", onclick: () => light(mass) }, "Light up its mass, " + S.view.look.masses[mass].id)) : null,
    ways);
}

async function touchNeutral(s, place) {
  const v = await choose({ grey: [s.x, s.y] }, place);
  if (v) say("The photo is balanced by this place");
}

// ---- Begin

(async () => {
  untouched();
  const id = new URLSearchParams(location.search).get("s");
  if (id) {
    $("single").hidden = false;
    const ok = await load(id);
    turn(false);
    if (!ok && !$("single").querySelector(".oops")) oops($("single"), new Error("This sitting could not be opened. Begin with a photo."));
    return;
  }
  turn(false);
})();

addEventListener("popstate", async () => {
  const id = new URLSearchParams(location.search).get("s");
  if (id === S.id) return;
  forget();
  if (id) await load(id);
  else S.id = null;
  turn(true);
});
