// Talking with the server: one answer a question, word of how far it is on the
// way, and an end to it when the painter has moved on.

export class Gone extends Error {}

// ask gives the result of a request. on hears {stage, done, all}.
export async function ask(path, o = {}) {
  const init = { method: o.method || (o.send === undefined ? "GET" : "POST"), signal: o.signal, headers: {} };
  if (o.send !== undefined) {
    init.body = JSON.stringify(o.send);
    init.headers["Content-Type"] = "application/json";
  } else if (o.body) {
    init.method = "POST";
    init.body = o.body;
  }
  let r;
  try {
    r = await fetch(path, init);
  } catch (e) {
    if (e.name === "AbortError") throw e;
    throw new Gone("paintout does not answer. Is it still running? Start it again and reload this page: your work is kept.");
  }
  const kind = r.headers.get("Content-Type") || "";
  if (kind.startsWith("application/x-ndjson")) return lines(r, o.on);
  if (kind.startsWith("application/json")) {
    const v = await r.json();
    if (!r.ok) throw failed(v.error, r.status);
    return v;
  }
  if (!r.ok) throw failed(await r.text(), r.status);
  if (kind.startsWith("application/octet-stream")) return { version: +r.headers.get("Paintout-Version"), bytes: new Uint8Array(await r.arrayBuffer()) };
  return r.blob();
}

function failed(text, status) {
  const e = new Error(text || "This did not work (" + status + ").");
  e.status = status;
  return e;
}

async function lines(r, on) {
  const reader = r.body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "", last = null;
  for (;;) {
    const { done, value } = await reader.read();
    rest += value || "";
    const all = rest.split("\n");
    rest = done ? "" : all.pop();
    for (const text of all) {
      if (!text) continue;
      const l = JSON.parse(text);
      if (l.stage) {
        if (on) on(l);
      } else last = l;
    }
    if (done) break;
  }
  if (!last) throw new Gone("The answer broke off. Is paintout still running? Try again.");
  if (last.error) throw failed(last.error, r.status);
  return last.result;
}

// send carries a photo up and hears how far it is.
export function upload(path, file, on, signal) {
  return new Promise((yes, no) => {
    const x = new XMLHttpRequest();
    x.open("POST", path);
    let told = 0;
    const hear = end => {
      const text = x.responseText;
      for (;;) {
        const at = text.indexOf("\n", told);
        if (at < 0) break;
        const l = JSON.parse(text.slice(told, at));
        told = at + 1;
        if (l.stage) on(l);
        else if (l.error) no(failed(l.error, x.status));
        else yes(l.result);
      }
      if (end && told === 0) {
        let says = "";
        try { says = JSON.parse(text).error; } catch { /* no words came */ }
        no(failed(says, x.status));
      }
    };
    x.upload.onprogress = e => { if (e.lengthComputable) on({ stage: "sending the photo", done: e.loaded, all: e.total }); };
    x.onprogress = () => { if (x.status === 200) hear(false); };
    x.onload = () => hear(true);
    x.onerror = () => no(new Gone("The photo could not be sent. Is paintout still running? Try again."));
    x.onabort = () => no(new DOMException("", "AbortError"));
    signal.addEventListener("abort", () => x.abort());
    x.send(file);
  });
}

let busy = 0;
const count = by => { document.body.dataset.busy = String(busy += by); };

// Task is one kind of work: beginning it anew ends what went before.
export class Task {
  stop() {
    if (this.now) this.now.abort();
    this.now = null;
  }
  // run does the work, shows in place how far it is once that takes half a
  // second, and an error in words beside it. It gives undefined where it ended
  // early.
  async run(place, work) {
    this.stop();
    const me = this.now = new AbortController();
    const wait = new Wait(place);
    count(1);
    try {
      const v = await work(me.signal, l => wait.hear(l));
      return me.signal.aborted ? undefined : v;
    } catch (e) {
      if (e.name === "AbortError" || me.signal.aborted) return undefined;
      wait.end();
      oops(place, e);
      return undefined;
    } finally {
      count(-1);
      wait.end();
      if (this.now === me) this.now = null;
    }
  }
}

class Wait {
  constructor(place) {
    this.place = place;
    clear(place, ".oops");
    this.timer = setTimeout(() => this.show(), 500);
  }
  show() {
    if (this.el || this.over) return;
    this.el = document.createElement("p");
    this.el.className = "wait";
    this.el.setAttribute("role", "status");
    this.text = this.el.appendChild(document.createElement("span"));
    this.bar = this.el.appendChild(document.createElement("progress"));
    this.bar.max = 1;
    this.bar.setAttribute("aria-label", "How far it is");
    this.say(this.line || { stage: "Working" });
    this.place.prepend(this.el);
  }
  say(l) {
    const text = l.stage[0].toUpperCase() + l.stage.slice(1) + "…";
    if (this.text.textContent !== text) this.text.textContent = text;
    if (l.all > 1 && l.done) this.bar.value = l.done / l.all;
    else this.bar.removeAttribute("value");
  }
  hear(l) {
    this.line = l;
    if (this.el) this.say(l);
  }
  end() {
    this.over = true;
    clearTimeout(this.timer);
    if (this.el) this.el.remove();
  }
}

function clear(place, what) {
  for (const el of [...place.children]) if (el.matches(what)) el.remove();
}

// sentence makes one of words that may begin small and lack a stop; a file's name
// stays as it is.
export const sentence = t => t.replace(/^[a-z](?=[a-z]* )/, c => c.toUpperCase()) + (/[.!?)]$/.test(t) ? "" : ".");

// oops says an error in words beside what failed.
export function oops(place, e) {
  clear(place, ".oops");
  const p = document.createElement("p");
  p.className = "oops";
  p.setAttribute("role", "alert");
  p.textContent = sentence(e.message);
  place.prepend(p);
}

// runs unpacks an index map: width, height, then pairs of index and length.
export function runs(b) {
  let at = 0;
  const varint = () => {
    let v = 0, shift = 1;
    for (;;) {
      const c = b[at++];
      v += (c & 127) * shift;
      if (c < 128) return v;
      shift *= 128;
    }
  };
  const w = varint(), h = varint(), index = new Uint8Array(w * h);
  for (let i = 0; i < index.length;) {
    const v = b[at++], n = varint();
    index.fill(v, i, i + n);
    i += n;
  }
  return { w, h, index };
}

export const bytes = text => Uint8Array.from(atob(text), c => c.charCodeAt(0));
