// Small helpers to build the page with.

const svgNames = new Set(["svg", "path", "rect", "line", "circle", "defs", "clipPath", "linearGradient", "stop", "g", "text", "polyline"]);

// h makes an element: h("p.lead", {title: "…"}, "words", child, …).
export function h(what, ...rest) {
  const [tag, ...classes] = what.split(".");
  const el = svgNames.has(tag) ? document.createElementNS("http://www.w3.org/2000/svg", tag) : document.createElement(tag);
  if (classes.length) el.setAttribute("class", classes.join(" "));
  for (const r of rest.flat(3)) {
    if (r === null || r === undefined || r === false) continue;
    if (typeof r === "string" || typeof r === "number") el.append(String(r));
    else if (r instanceof Node) el.append(r);
    else for (const [k, v] of Object.entries(r)) {
      if (v === null || v === undefined || v === false) continue;
      if (k.startsWith("on")) el.addEventListener(k.slice(2), v);
      else if (k === "style") for (const [n, s] of Object.entries(v)) el.style.setProperty(n, s);
      else if (k === "checked" || k === "value" || k === "disabled" || k === "open") el[k] = v;
      else el.setAttribute(k, v === true ? "" : v);
    }
  }
  return el;
}

export const $ = id => document.getElementById(id);

export const fill = (el, ...what) => el.replaceChildren(...what.flat(3).filter(x => x !== null && x !== undefined && x !== false));

export const one = v => (Math.round(v * 10) / 10).toFixed(1);

export const percent = share => {
  const p = 100 * share;
  return p <= 0 ? "0 %" : p < 1 ? "under 1 %" : Math.round(p) + " %";
};

export const amount = v => String(Math.round(v * 100) / 100);

export const words = n => ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"][n] || String(n);

export const list = names => names.length < 2 ? names.join("") : names.slice(0, -1).join(", ") + " and " + names[names.length - 1];

export const capital = s => s ? s[0].toUpperCase() + s.slice(1) : s;

// inkOn is black or white, whichever reads better on a colour (WCAG 2.2).
export function inkOn(hex) {
  const lin = i => {
    const v = parseInt(hex.slice(i, i + 2), 16) / 255;
    return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
  };
  const y = 0.2126 * lin(1) + 0.7152 * lin(3) + 0.0722 * lin(5);
  return (y + 0.05) / 0.05 >= 1.05 / (y + 0.05) ? "#000" : "#fff";
}

// swatch is a large field of one colour with words under it.
export const swatch = (hex, ...under) => h("figure.swatch", h("span.field-of-colour", { style: { background: hex } }), h("figcaption", under));

// say tells a screen reader.
let told = 0;
export function say(text) {
  clearTimeout(told);
  told = setTimeout(() => { $("said").textContent = text; }, 60);
}

// switchable is a labelled check box.
export const tick = (label, checked, change, more) => h("label.tick", h("input", { type: "checkbox", checked, onchange: e => change(e.target.checked) }, more || {}), h("span.box", { "aria-hidden": "true" }), h("span.said", label));

export const away = d => {
  const days = Math.floor((Date.now() - d) / 864e5);
  return days < 1 ? "today" : days === 1 ? "yesterday" : d.toLocaleDateString("en-GB", { day: "numeric", month: "long", year: "numeric" });
};
