// Your box: the tubes themselves.

import { ask, Task, oops } from "./ask.js";
import { h, fill, one, list, say, capital } from "./dom.js";
import { streak } from "./choose.js";

export function boxLeaf(page) {
  const here = h("div.here"), tubes = h("div"), about = h("p.lead");
  const el = h("section.leaf.wide-leaf", { "aria-labelledby": "leaf-h" },
    h("h1", { id: "leaf-h" }, "Your box"), about, here, tubes);
  const task = new Task();

  async function show() {
    const b = await page.readBox(here);
    if (!b) return;
    about.textContent = (b.box.name ? capital(b.box.name) + ". " : "") + b.box.tubes.length + " tubes, from " + b.box.from + ".";
    fill(tubes, h("ul.streaks.plain", b.box.tubes.map((t, i) => h("li", streak(t, i), h("span.name", h("b", t.name), h("small", [t.ci, t.white ? "white" : t.lean].filter(Boolean).join(" · ")), h("small", capital(t.provenance) + ": " + t.source))))));
  }
  show();
  return { el, leave() { task.stop(); } };
}
