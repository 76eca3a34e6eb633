// Carry: what goes along to the easel.

import { ask, Task } from "./ask.js";
import { h, fill, one, list, words, capital, percent } from "./dom.js";
import { streak } from "./choose.js";

export function carryLeaf(page) {
  const { S } = page;
  const here = h("div.here"), tubes = h("ul.streaks.plain"), care = h("div.care"), now = h("p.now");
  const takeTask = new Task();
  const el = h("section.leaf", { "aria-labelledby": "leaf-h" },
    h("h1", { id: "leaf-h" }, "Carry"),
    now,
    h("section.block", h("h2", "Take it along"), h("p.lead", "Everything on one page that opens on a phone without a network, with pictures to print."), here,
      h("p.buttons.strong", h("button", { type: "button", onclick: () => take("folder.zip") }, "Download the plan"))),
    h("section.block", h("h2", "Into the bag"), tubes),
    h("section.block", h("h2", "Care"), care));

  async function take(what) {
    const got = await takeTask.run(here, (signal, on) => ask(page.path(what), { signal, on }));
    if (!got) return;
    const url = URL.createObjectURL(got instanceof Blob ? got : new Blob([Uint8Array.from(atob(got.data), c => c.charCodeAt(0))], { type: got.kind }));
    const a = h("a", { href: url, download: got.name });
    document.body.append(a);
    a.click();
    a.remove();
    setTimeout(() => URL.revokeObjectURL(url), 60000);
    fill(here, h("p.done", { role: "status" }, got.name + " is in your downloads."));
  }

  return {
    el,
    async enter() {
      this.update();
      if (!S.box) await page.readBox(here);
      this.update();
    },
    update() {
      if (!S.box || !S.view.look) return;
      const uses = {};
      if (S.mixes) for (const m of S.mixes.masses) {
        const r = m.recipes.find(r => r.suggested) || m.recipes[0];
        if (r) for (const p of r.parts) (uses[p.tube] = uses[p.tube] || []).push(m.id);
      }
      const all = S.box.box.tubes.filter(t => !S.view.choices.out.includes(t.name)), need = all.filter(t => uses[t.name]), spare = all.filter(t => !uses[t.name]);
      now.textContent = S.mixes ? capital(words(need.length)) + (need.length === 1 ? " tube" : " tubes") + " for the first mix of every pile." : "";
      fill(tubes, need.map((t, i) => h("li", streak(t, i), h("span.name", h("b", t.name), h("small", [t.ci, t.lean].filter(Boolean).join(" · ")), h("small", "for " + (uses[t.name].length === 1 ? "pile " : "piles ") + uses[t.name].join(", "))))));
      tubes.parentElement.querySelectorAll(".spare").forEach(x => x.remove());
      if (spare.length && S.mixes) tubes.after(h("p.spare", "Carried, but in no first mix: " + list(spare.map(t => t.name)) + "."));
      const cautions = need.filter(t => t.caution);
      fill(care, cautions.length ? h("ul.say", cautions.map(t => h("li", h("b", capital(t.name) + ": "), t.caution))) : null,
        h("ul.say", (S.box.care || []).map(t => h("li", t))), h("p", S.box.scope || ""));
    },
    leave() { takeTask.stop(); },
  };
}
