(function () {
"use strict";
var root = document.documentElement;
root.className = "js";
function $(id) { return document.getElementById(id); }
function all(sel, in_) { return Array.prototype.slice.call((in_ || document).querySelectorAll(sel)); }

// Ticks and notes. Each is kept by itself, under the photo's name, with the
// pile, the colour and the mix it was made on: so a later plan finds it again,
// and two windows don't write over each other. A page opened from a phone's
// files may be refused storage.
var prefix = "paintout/" + root.getAttribute("data-key") + "/", size = root.getAttribute("data-size");
var kept = {}, keeps = true;
try {
  localStorage.setItem(prefix, "");
  localStorage.removeItem(prefix);
} catch (e) { keeps = false; }
function read() {
  if (!keeps) { return; }
  kept = {};
  for (var n = 0; n < localStorage.length; n++) {
    var name = localStorage.key(n);
    if (name.indexOf(prefix) !== 0) { continue; }
    try {
      var k = JSON.parse(localStorage.getItem(name));
      if (k && Array.isArray(k.lab) && (k.tick || typeof k.note === "string")) { k.key = name; kept[name] = k; }
    } catch (e) { /* not this page's */ }
  }
}
function saysKept(text) {
  $("kept").textContent = text || (keeps ? "" :
    "This browser keeps nothing for a page opened in this way: copy or save your ticks and notes before you close it.");
}
function put(k) {
  kept[k.key] = k;
  if (keeps) { try { localStorage.setItem(k.key, JSON.stringify(k)); } catch (e) { keeps = false; } }
  saysKept();
}
function drop(k) {
  delete kept[k.key];
  if (keeps) { try { localStorage.removeItem(k.key); } catch (e) { keeps = false; } }
  saysKept();
}
function fresh(p) {
  return {
    key: prefix + Date.now().toString(36) + Math.random().toString(36).slice(2, 8), at: new Date().toISOString(), size: size,
    pile: p.id, name: p.name, aim: p.aim, lab: p.lab, mix: p.short
  };
}

var piles = all(".pile").map(function (li) {
  var i = +li.getAttribute("data-pile");
  return {
    li: li, i: i, id: li.getAttribute("data-id"), name: li.getAttribute("data-name"), short: li.getAttribute("data-short") || "",
    aim: li.getAttribute("data-aim"), lab: li.getAttribute("data-lab").split(" ").map(Number), mix: li.getAttribute("data-mix"),
    pat: document.querySelector('[data-lights="' + i + '"]'), mark: document.querySelector('[data-mark="' + i + '"]'),
    open: li.querySelector(".open"), body: li.querySelector(".body"),
    tick: li.querySelector("[data-tick]"), note: li.querySelector("[data-note]"), from: li.querySelector(".from"),
    ticks: [], wrote: null
  };
});
var byIndex = [];
piles.forEach(function (p) { byIndex[p.i] = p; });

function make(tag, text, cls) {
  var e = document.createElement(tag);
  if (text) { e.textContent = text; }
  if (cls) { e.className = cls; }
  return e;
}
function count() {
  var n = piles.filter(function (p) { return p.tick.checked; }).length;
  $("count").textContent = n + " of " + piles.length + " mixed.";
}
function day(k) {
  var d = new Date(k.at);
  return isNaN(d) ? "" : d.toLocaleDateString("en-GB", { day: "numeric", month: "long", year: "numeric" });
}
function apart(a, b) { return Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]); }

// What was kept goes to the pile nearest in colour, and only within 1.2 units of
// CIELAB: nowhere in sRGB is that more than the 1.8 ΔE00 called close. A photo of
// another size is another photo. What finds no pile is shown by itself.
var NEAR = 1.2, earlier = [];
function nearest(k) {
  var best = null, least = NEAR;
  if (k.size !== size) { return null; }
  piles.forEach(function (p) {
    var d = apart(k.lab, p.lab);
    if (d <= least && (!best || d < least)) { best = p; least = d; }
  });
  return best;
}
function sort() {
  earlier = [];
  piles.forEach(function (p) { p.ticks = []; p.wrote = null; });
  Object.keys(kept).map(function (key) { return kept[key]; }).sort(function (a, b) {
    return a.at < b.at ? 1 : a.at > b.at ? -1 : a.key < b.key ? -1 : 1; // the latest first
  }).forEach(function (k) {
    var p = nearest(k);
    if (!p) {
      earlier.push(k);
    } else if (k.tick) {
      p.ticks.push(k);
    } else if (!p.wrote) {
      p.wrote = k;
    } else if (apart(k.lab, p.lab) < apart(p.wrote.lab, p.lab)) {
      earlier.push(p.wrote);
      p.wrote = k;
    } else {
      earlier.push(k);
    }
  });
  piles.forEach(function (p) {
    var text = p.wrote ? p.wrote.note : "";
    p.tick.checked = p.ticks.length > 0;
    p.pat.classList.toggle("done", p.tick.checked);
    if (p.note.value !== text) { p.note.value = text; }
    origin(p);
  });
  count();
  list();
}
// origin says of what comes from an earlier plan how its pile stood there.
function origin(p) {
  var says = [];
  [["Ticked", p.ticks[0]], ["Written", p.wrote]].forEach(function (was) {
    var k = was[1];
    if (k && (k.pile !== p.id || k.name !== p.name || k.mix !== p.short)) {
      says.push(was[0] + " on an earlier plan, " + day(k) + ", as pile " + k.pile + ", " + k.name + (k.mix ? ": " + k.mix : "") + ".");
    }
  });
  p.from.textContent = says.join(" ");
  p.from.hidden = !says.length;
}
// A tick and a note of one old pile are shown together.
function groups() {
  var out = [];
  earlier.forEach(function (k) {
    var g = out.filter(function (g) {
      var o = g[0];
      return o.pile === k.pile && o.name === k.name && o.aim === k.aim && o.mix === k.mix && o.size === k.size && !o.away === !k.away;
    })[0];
    if (g) { g.push(k); } else { out.push([k]); }
  });
  return out;
}
function heading(k) { return "Pile " + k.pile + ", " + k.name + (k.size === size ? "" : ", in a picture of this name and " + k.size); }
function list() {
  var here = $("earlier"), away = $("away"), shown = 0, gone = 0;
  var lists = [here.querySelector(".was"), away.querySelector(".was")];
  lists.forEach(function (ul) { ul.textContent = ""; });
  groups().forEach(function (g) {
    var k = g[0], li = make("li"), says = make("div"), b;
    var chip = make("i", "", "chip");
    if (/^#[0-9a-f]{6}$/.test(k.aim)) { chip.style.background = k.aim; }
    li.appendChild(chip);
    says.appendChild(make("h4", heading(k)));
    says.appendChild(make("p", [g.some(function (k) { return k.tick; }) ? "✓ Mixed" : "", k.mix, day(k)].filter(Boolean).join(" · ")));
    g.forEach(function (k) { if (k.note) { says.appendChild(make("p", k.note, "wrote")); } });
    li.appendChild(says);
    b = make("button", k.away ? "Bring back" : "Put away");
    b.type = "button";
    b.appendChild(make("span", ": pile " + k.pile + ", " + k.name, "hid"));
    b.addEventListener("click", function () {
      g.forEach(function (k) {
        k.away = !k.away;
        put(k);
      });
      sort();
      ($("earlier").hidden ? $("open-all") : away.hidden ? $("earlier-h") : away.querySelector("summary")).focus();
    });
    li.appendChild(b);
    lists[k.away ? 1 : 0].appendChild(li);
    if (k.away) { gone++; } else { shown++; }
  });
  here.hidden = !shown && !gone;
  away.hidden = !gone;
  away.querySelector("summary").textContent = gone + " put away";
  $("to-earlier").hidden = !shown;
  $("to-earlier").textContent = shown === 1 ? "An earlier note stands below the piles." : shown + " earlier notes stand below the piles.";
}
piles.forEach(function (p) {
  p.tick.addEventListener("change", function () {
    if (p.tick.checked) {
      var k = fresh(p);
      k.tick = true;
      p.ticks = [k];
      put(k);
    } else {
      p.ticks.forEach(drop);
      p.ticks = [];
    }
    p.pat.classList.toggle("done", p.tick.checked);
    origin(p);
    count();
  });
  p.note.addEventListener("input", function () {
    var k = fresh(p);
    if (p.wrote) { k.key = p.wrote.key; }
    k.note = p.note.value;
    p.wrote = k;
    if (k.note) { put(k); } else { drop(k); }
    origin(p);
  });
  p.open.addEventListener("click", function () {
    var opens = p.body.hidden;
    show(p, opens);
    if (opens) { light(p.i); }
  });
});
function show(p, yes) {
  p.body.hidden = !yes;
  p.open.setAttribute("aria-expanded", String(yes));
}
piles.forEach(function (p) { show(p, false); });
$("open-all").addEventListener("click", function () { piles.forEach(function (p) { show(p, true); }); });
$("close-all").addEventListener("click", function () { piles.forEach(function (p) { show(p, false); }); });
function again() {
  if (keeps) { read(); sort(); }
}
window.addEventListener("storage", function (e) {
  if (e.key === null || e.key.indexOf(prefix) === 0) { again(); }
});
window.addEventListener("pageshow", function (e) { if (e.persisted) { again(); } });
read();
sort();
saysKept();

function asText() {
  var lines = [document.title, ""];
  function indented(text) { lines.push("    " + text.replace(/\n/g, "\n    ")); }
  piles.forEach(function (p) {
    lines.push((p.tick.checked ? "[x] " : "[ ] ") + p.id + " " + p.name + (p.short ? ": " + p.short : ""));
    if (p.note.value) { indented(p.note.value); }
  });
  var old = groups().filter(function (g) { return !g[0].away; });
  if (old.length) { lines.push("", "Earlier notes", ""); }
  old.forEach(function (g) {
    var k = g[0];
    lines.push((g.some(function (k) { return k.tick; }) ? "[x] " : "[ ] ") + [heading(k) + " (" + k.aim + ")", k.mix, day(k)].filter(Boolean).join("; "));
    g.forEach(function (k) { if (k.note) { indented(k.note); } });
  });
  return lines.join("\n") + "\n";
}
$("copy").addEventListener("click", function () {
  var text = asText();
  function byHand() {
    var box = $("copied-by-hand");
    box.hidden = false;
    box.querySelector("textarea").value = text;
    box.querySelector("textarea").select();
  }
  if (!navigator.clipboard || !navigator.clipboard.writeText) { byHand(); return; }
  navigator.clipboard.writeText(text).then(function () { saysKept("Copied."); }, byHand);
});
$("save").addEventListener("click", function () {
  var a = $("save");
  if (a.href.indexOf("blob:") === 0) { URL.revokeObjectURL(a.href); }
  a.href = URL.createObjectURL(new Blob([asText()], { type: "text/plain" }));
});

// The picture.
var photo = $("photo"), canvas = $("canvas"), frame = $("frame");
var W = +frame.getAttribute("data-w"), H = +frame.getAttribute("data-h"), N = W * H;
var mass = null, values = {}, src = null, ctx = null, lit = -1, view = "photo";
var views = all("[data-view]");
var steps = views.filter(function (b) { return b.hasAttribute("data-greys"); }).map(function (b) {
  return { view: b.getAttribute("data-view"), greys: b.getAttribute("data-greys").split(" ").map(Number) };
});

function pixels(img) {
  var c = document.createElement("canvas");
  c.width = W; c.height = H;
  var g = c.getContext("2d", { willReadFrequently: true });
  g.drawImage(img, 0, 0, W, H);
  return g.getImageData(0, 0, W, H).data;
}
function ready(img) {
  return new Promise(function (ok, no) {
    if (img.complete && img.naturalWidth) { ok(); return; }
    img.addEventListener("load", ok);
    img.addEventListener("error", no);
  });
}
Promise.all([ready(photo), ready($("mass-map")), ready($("value-map"))]).then(function () {
  src = pixels(photo);
  var m = pixels($("mass-map")), v = pixels($("value-map")), k, odd = 0;
  mass = new Uint8Array(N);
  steps.forEach(function (s) { values[s.view] = new Uint8Array(N); });
  for (k = 0; k < N; k++) {
    mass[k] = Math.round(m[4 * k] / 10);
    if (!byIndex[mass[k]] || Math.abs(m[4 * k] - 10 * mass[k]) > 3) { odd++; mass[k] = 0; }
    var mixed = Math.round(v[4 * k] / 8);
    for (var s = 0; s < steps.length; s++) {
      var n = steps[s].greys.length;
      values[steps[s].view][k] = mixed % n;
      mixed = (mixed - mixed % n) / n;
    }
  }
  if (odd > N / 100) {
    mass = null;
    $("lit").textContent = "This browser guards what a page may read of a picture, so masses cannot light up here; the piles below still work.";
    return;
  }
  canvas.hidden = false;
  ctx = canvas.getContext("2d", { willReadFrequently: true });
  paint();
}).catch(function () {
  $("lit").textContent = "The picture could not be read; the piles below still work.";
});

function rgb(hex) { var n = parseInt(hex.slice(1), 16); return [n >> 16, n >> 8 & 255, n & 255]; }
function ground() {
  if (view === "photo") { return new Uint8ClampedArray(src); }
  var out = new Uint8ClampedArray(4 * N), map = mass, colours;
  if (view === "masses" || view === "mixes") {
    colours = byIndex.map(function (p) { return rgb(view === "mixes" && p.mix || p.aim); });
  } else {
    map = values[view];
    steps.forEach(function (s) { if (s.view === view) { colours = s.greys.map(function (g) { return [g, g, g]; }); } });
  }
  for (var k = 0, q = 0; k < N; k++, q += 4) {
    var c = colours[map[k]];
    out[q] = c[0]; out[q + 1] = c[1]; out[q + 2] = c[2]; out[q + 3] = 255;
  }
  return out;
}
// A mass is often scattered, as grass is through shadow. The line is drawn round
// where it gathers: where it takes up more than a share of a small window, less
// for a mass that is nowhere dense, so that every mass has one.
function gathered(i) {
  var R = Math.max(2, Math.round(W / 110)), sums = new Int32Array((W + 1) * (H + 1)), x, y, k = 0, most = 0;
  for (y = 1; y <= H; y++) {
    var line = 0;
    for (x = 1; x <= W; x++, k++) {
      if (mass[k] === i) { line++; }
      sums[y * (W + 1) + x] = sums[(y - 1) * (W + 1) + x] + line;
    }
  }
  var dense = new Float32Array(N);
  for (y = 0, k = 0; y < H; y++) {
    var y0 = Math.max(0, y - R) * (W + 1), y1 = Math.min(H, y + R + 1) * (W + 1);
    for (x = 0; x < W; x++, k++) {
      var x0 = Math.max(0, x - R), x1 = Math.min(W, x + R + 1);
      dense[k] = (sums[y1 + x1] - sums[y1 + x0] - sums[y0 + x1] + sums[y0 + x0]) * (W + 1) / ((y1 - y0) * (x1 - x0));
      if (dense[k] > most) { most = dense[k]; }
    }
  }
  var cut = Math.min(0.4, most / 2), out = new Uint8Array(N);
  for (k = 0; k < N; k++) { out[k] = dense[k] > cut ? 1 : 0; }
  return out;
}
function paint() {
  if (!ctx) { return; }
  var d = ground();
  if (lit >= 0) {
    var near = gathered(lit), r = Math.max(1, Math.round(W / 600)), k, q, x, y, g;
    for (y = 0, k = 0; y < H; y++) {
      for (x = 0; x < W; x++, k++) {
        q = 4 * k;
        var own = near[k];
        if (near[x >= r ? k - r : k] !== own || near[x < W - r ? k + r : k] !== own ||
          near[y >= r ? k - r * W : k] !== own || near[y < H - r ? k + r * W : k] !== own) {
          d[q] = d[q + 1] = d[q + 2] = own ? 255 : 0;
        } else if (mass[k] !== lit) {
          g = 0.299 * d[q] + 0.587 * d[q + 1] + 0.114 * d[q + 2];
          d[q] = d[q + 1] = d[q + 2] = 104 + 0.3 * (g - 128);
        }
      }
    }
  }
  ctx.putImageData(new ImageData(d, W, H), 0, 0);
}
function marks() {
  piles.forEach(function (p) {
    p.mark.classList.toggle("shown", p.i === lit || lit < 0 && (view === "masses" || view === "mixes"));
  });
}
// On a wide screen the lit mass's colours and mix stand under the picture.
function facts(p) {
  var box = $("lit-facts");
  box.textContent = "";
  box.hidden = !p;
  if (!p) { return; }
  [".three", ".off"].forEach(function (sel, n) {
    var from = p.body.querySelector(sel);
    if (from) { box.appendChild(from.cloneNode(true)); }
    if (!n && p.short) { box.appendChild(make("p", p.short, "short")); }
  });
}
function light(i) {
  lit = i;
  piles.forEach(function (p) { p.pat.setAttribute("aria-pressed", String(p.i === lit)); });
  var p = byIndex[lit];
  $("lit").textContent = p ? "Lit: " + p.id + " " + p.name + "." : "Tap a mass, or a pile, to light it up.";
  $("out").hidden = $("to-mix").hidden = !p;
  if (p) { $("to-mix").href = "#pile-" + p.id; }
  root.setAttribute("data-lit", p ? p.id : "");
  facts(p);
  marks();
  paint();
  clear();
}
function look(name) {
  view = name;
  views.forEach(function (b) { b.setAttribute("aria-pressed", String(b.getAttribute("data-view") === name)); });
  all(".steps").forEach(function (u) { u.classList.toggle("shown", u.getAttribute("data-for") === name); });
  marks();
  paint();
}
views.forEach(function (b) { b.addEventListener("click", function () { look(b.getAttribute("data-view")); }); });
piles.forEach(function (p) { p.pat.addEventListener("click", function () { light(p.i === lit ? -1 : p.i); }); });
canvas.addEventListener("click", function (e) {
  if (!mass) { return; }
  var b = canvas.getBoundingClientRect();
  var x = Math.min(W - 1, Math.max(0, Math.floor((e.clientX - b.left) / b.width * W)));
  var y = Math.min(H - 1, Math.max(0, Math.floor((e.clientY - b.top) / b.height * H)));
  var i = mass[y * W + x];
  light(i === lit ? -1 : i);
});
$("out").addEventListener("click", function () { light(-1); });
$("to-mix").addEventListener("click", function (e) {
  var p = byIndex[lit];
  if (!p) { return; }
  e.preventDefault();
  show(p, true);
  p.li.scrollIntoView();
  p.open.focus({ preventScroll: true });
});
all(".for a, .blocked a").forEach(function (a) {
  a.addEventListener("click", function () {
    piles.forEach(function (p) { if ("#pile-" + p.id === a.getAttribute("href")) { show(p, true); light(p.i); } });
  });
});
look("photo");

// What sticks to the top must not cover what a link or a tab leads to.
function clear() {
  var s = $("stage"), sticks = getComputedStyle(s).position === "sticky";
  root.style.setProperty("--stuck", (sticks ? s.offsetHeight + 8 : 8) + "px");
}
window.addEventListener("resize", clear);
photo.addEventListener("load", clear);
clear();
})();
