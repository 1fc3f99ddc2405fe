// Moves the drawing of a hive through its year. The server sends the hours and the
// rules once; the rules are those of docs/cutaway.md, and the server itself draws by
// them. Without this script the same page works by its links.

const tenth = (x) => String(Math.floor(x * 10 + 0.5) / 10 || 0);
const fine = (x) => String(Math.floor(x * 1000 + 0.5) / 1000 || 0);
const arrowMost = 0.9, arrowOne = 0.6, arrowFlow = 1e-3;

// The hours of a run, as docs/cutaway.md describes them.
export class Year {
  constructor(data) {
    Object.assign(this, { hours: data.hours, start: data.start, slabs: data.slabs_m, columns: data.columns, moves: data.moves, low: data.scale_low_C, high: data.scale_high_C });
    this.channels = new Map();
    for (const c of data.channels) {
      const text = c.bytes ? atob(c.values) : "";
      this.channels.set(c.name, { per: c.per, first: c.first, bytes: c.bytes, text });
    }
  }
  has(name) { return this.channels.has(name); }
  value(name, hour) {
    const c = this.channels.get(name);
    if (!c) return 0;
    let q = 0;
    if (c.bytes === 1) q = c.text.charCodeAt(hour);
    else if (c.bytes === 2) q = c.text.charCodeAt(2 * hour) | (c.text.charCodeAt(2 * hour + 1) << 8);
    return (c.first + q) / c.per;
  }
  tone(t) { return "t" + Math.floor(Math.min(Math.max(t, this.low), this.high) - this.low + 0.5); }
  // The temperature of a stop of a field, of the air or of the combs.
  fieldAt(f, stop, hour) {
    const k = f.slabs[stop] + 1;
    if (f.column) return this.value(f.of + "." + f.column + "." + k, hour);
    const core = f.of + ".core." + k, flank = f.of + ".flank." + k;
    if (!this.has(flank)) return this.value(core, hour);
    const b = this.value(flank, hour);
    return this.has(core) ? b + f.core * (this.value(core, hour) - b) : b;
  }
}

// What an hour makes of the drawing: identifiers, attributes and their values.
export function changes(year, section, hour) {
  const moves = year.moves[section], out = [];
  const value = (name) => year.value(name, hour);
  const set = (id, name, v) => out.push([id, name, v]);
  for (const f of moves.fields) {
    for (let k = 0; k < year.slabs.length; k++) set(f.id + "-" + k, "class", year.tone(year.fieldAt(f, k, hour)));
  }
  for (const p of moves.tones) set(p.id, "class", year.tone(value(p.of)));
  const b = moves.ball;
  if (b) {
    const mass = value("bees.mass"), z = 1000 * value("bees.height");
    const r = mass > 0 ? 1000 * value("bees.radius") : 0;
    const n = r > 0 ? Math.min(Math.floor(mass * (1 - value("bees.outside")) / b.kg_per_bee + 0.5), b.points.length) : 0;
    let d = "";
    for (let i = 0; i < n; i++) {
      const p = b.points[i];
      let x = b.x + p[0] * r;
      const y = -z + p[1] * r;
      if (b.pitch > 0) {
        const seam = Math.floor((x - b.from) / b.pitch + 0.5);
        const side = x - b.from < seam * b.pitch ? -b.lane : b.lane;
        x = b.from + seam * b.pitch + side;
      }
      d += "M" + tenth(x) + " " + tenth(y) + b.bees[p[2]];
    }
    const warm = year.tone(value("bees.core")), rim = year.tone(value("bees.mantle"));
    set("ball", "cx", tenth(b.x)); set("ball", "cy", tenth(-z)); set("ball", "r", tenth(r));
    set("glow-0", "class", warm); set("glow-1", "class", warm); set("glow-2", "class", rim); set("glow-3", "class", rim + " none");
    set("bees", "d", d);
  }
  for (const c of moves.combs) {
    let d = "";
    for (const [x, w, k, y, h] of c.bars) {
      const f = value("fill." + c.column + "." + (k + 1));
      if (f > 0) d += "M" + tenth(x) + " " + tenth(y) + "h" + tenth(w) + "v" + tenth(h * f) + "h" + tenth(-w) + "z";
    }
    set(c.id, "d", d); set(c.id + "-lines", "d", d);
  }
  for (const w of moves.marks) {
    const amount = value(w.plus) - (w.minus ? value(w.minus) : 0), frost = value(w.cold) < 0;
    let d = "";
    for (let i = 0; i < w.places.length && !(amount + 0.00005 < w.steps[i]); i++) d += "M" + tenth(w.places[i][0]) + " " + tenth(w.places[i][1]) + (frost ? w.frost : w.water);
    set(w.id, "d", d); set(w.id, "class", frost ? "frost" : "water");
  }
  for (const c of moves.crowds) {
    let d = "";
    const n = Math.min(Math.floor(value(c.of) / c.per + 0.5), c.places.length);
    for (let i = 0; i < n; i++) d += "M" + tenth(c.places[i][0]) + " " + tenth(c.places[i][1]) + c.marks[i % c.marks.length];
    set(c.id, "d", d);
  }
  for (const f of moves.flows) {
    const s = Math.min(arrowOne * Math.sqrt(Math.sqrt(Math.max(value(f.of), 0) / arrowFlow)), arrowMost);
    set(f.id, "transform", "translate(" + tenth(f.x) + " " + tenth(f.y) + ") scale(" + fine(s * f.flip) + " " + fine(s) + ")");
  }
  for (const g of moves.gates) set(g.id, "visibility", value(g.of) === g.when ? "visible" : "hidden");
  for (const w of moves.widths) {
    const open = w.w * value(w.of);
    set(w.id, "x", tenth(w.x + (w.w - open) / 2)); set(w.id, "width", tenth(open));
  }
  const t = Math.min(Math.max(value("outdoor.temp"), year.low), year.high), n = moves.needle;
  set(n.id, "transform", "translate(" + tenth(n.x + (t - year.low + 0.5) * n.per) + " " + tenth(n.y) + ")");
  return out;
}

// Sets a drawing to an hour. Parts that come and go are found by class, since a
// part may be drawn in several pieces.
export function show(svg, year, section, hour, prefix = "cut") {
  for (const [id, name, v] of changes(year, section, hour)) {
    if (name === "visibility") {
      for (const part of svg.querySelectorAll(".gate-" + id)) part.setAttribute(name, v);
      continue;
    }
    const part = svg.getElementById(prefix + "-" + id);
    if (part && part.getAttribute(name) !== v) part.setAttribute(name, v);
  }
}

async function fetched(address) {
  const answer = await fetch(address, { headers: { Accept: "application/json" } });
  if (!answer.ok) throw new Error(address + ": " + answer.status);
  return answer.json();
}

const clock = (year, hour) => {
  // The run counts in its own standard time: its offset stands in the start.
  const start = new Date(year.start.slice(0, 19) + "Z");
  return new Date(start.getTime() + hour * 3600e3).toLocaleString("en-GB", { timeZone: "UTC", day: "numeric", month: "long", year: "numeric", hour: "2-digit", minute: "2-digit" }).replace(" at ", ", ");
};

async function begin(box) {
  if (!box || box.dataset.begun) return;
  box.dataset.begun = "yes";
  const svg = box.querySelector("[data-figure] svg"), range = box.querySelector("input[type=range]");
  const at = box.querySelector("[data-at]"), play = box.querySelector("[data-play]");
  let section = box.dataset.section, hour = Number(box.dataset.hour), year = null, timer = 0, playing = 0, shown = -1, point = null, tellPlace = () => {};
  const last = Number(range.max);
  const mark = () => { if (at) at.style.insetInlineStart = 100 * (hour + 0.5) / (last + 1) + "%"; };
  mark();
  try {
    year = new Year(await fetched(box.dataset.cutaway));
  } catch {
    delete box.dataset.begun;
    return; // the links still work
  }
  box.querySelector("[data-spare]")?.setAttribute("hidden", "");

  const words = async () => {
    const want = hour;
    const w = await fetched(`${box.dataset.words}?hour=${want}&section=${section}`).catch(() => null);
    if (!w || want !== hour) return;
    box.querySelector("[data-sentence]").textContent = w.sentence;
    box.querySelector("[data-when]").textContent = w.when;
    box.querySelector("[data-text]").textContent = w.text;
    svg.querySelector("desc").textContent = w.text;
    const list = box.querySelector("[data-readings]");
    list.replaceChildren(...w.readings.map((r) => {
      const row = document.createElement("div"), name = document.createElement("dt"), value = document.createElement("dd");
      name.textContent = r.name; value.textContent = r.value; row.append(name, value);
      return row;
    }));
    tellPlace();
    box.dataset.told = want;
    const here = new URL(location.href);
    here.searchParams.set("hour", want);
    history.replaceState(history.state, "", here);
    for (const a of box.querySelectorAll("[data-keeps-hour]")) {
      const to = new URL(a.href);
      to.searchParams.set("hour", want);
      a.href = to.pathname + to.search;
    }
  };
  const go = (to, rest = true) => {
    hour = Math.max(0, Math.min(last, to));
    range.value = hour;
    range.setAttribute("aria-valuetext", clock(year, hour));
    mark();
    if (hour !== shown) {
      requestAnimationFrame(() => { if (shown !== hour) { shown = hour; show(svg, year, section, hour); box.dataset.drawn = hour; } });
      if (!playing) box.querySelector("[data-when]").textContent = clock(year, hour);
    }
    clearTimeout(timer);
    if (rest) timer = setTimeout(words, 160);
  };
  range.addEventListener("input", () => go(Number(range.value)));
  range.addEventListener("keydown", (e) => {
    const by = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 24, PageDown: -24 }[e.key];
    if (!by) return;
    e.preventDefault();
    go(hour + by);
  });
  // The strip itself can be dragged.
  const strip = box.querySelector(".stripwrap");
  const drag = (e) => {
    const r = strip.getBoundingClientRect();
    go(Math.floor((e.clientX - r.left) / r.width * (last + 1)));
  };
  strip.addEventListener("pointerdown", (e) => { strip.setPointerCapture(e.pointerId); drag(e); });
  strip.addEventListener("pointermove", (e) => { if (strip.hasPointerCapture(e.pointerId)) drag(e); });
  box.querySelectorAll("[data-step]").forEach((a, i) => a.addEventListener("click", (e) => { e.preventDefault(); go(hour + [-24, -1, 1, 24][i]); }));
  box.querySelectorAll("[data-moment]").forEach((a) => a.addEventListener("click", (e) => {
    e.preventDefault();
    go(Number(a.dataset.moment));
    svg.scrollIntoView({ block: "nearest" });
  }));
  if (play) {
    play.hidden = false;
    const halt = () => { cancelAnimationFrame(playing); playing = 0; play.textContent = "Play"; play.setAttribute("aria-pressed", "false"); words(); };
    let before = 0, owed = 0;
    const step = (now) => {
      owed += (now - before) / 1000 * 24; // a day a second
      before = now;
      const whole = Math.floor(owed);
      owed -= whole;
      if (whole) {
        go(hour + whole, false);
        box.querySelector("[data-when]").textContent = clock(year, hour);
      }
      if (hour >= last) { halt(); return; }
      playing = requestAnimationFrame(step);
    };
    play.addEventListener("click", () => {
      if (playing) { halt(); return; }
      if (hour >= last) go(0, false);
      before = performance.now(); owed = 0;
      play.textContent = "Pause"; play.setAttribute("aria-pressed", "true");
      playing = requestAnimationFrame(step);
    });
  }
  // Point at any place for its values: by mouse, by touch, or with the arrow keys.
  // The place stays marked, and tells anew as the hours pass.
  const place = box.querySelector("[data-place]"), figure = box.querySelector("[data-figure]"), spot = figure.querySelector("[data-spot]");
  place.textContent = "Point at any place for its values, or tab to the drawing and use the arrow keys.";
  let asking = 0;
  tellPlace = async () => {
    if (!point) return;
    const w = await fetched(`${box.dataset.words}?hour=${hour}&section=${section}&x=${(point.x / 1000).toFixed(4)}&z=${(-point.y / 1000).toFixed(4)}`).catch(() => null);
    if (w) place.textContent = w.said;
  };
  const pointAt = (x, y) => {
    point = { x, y };
    const p = new DOMPoint(x, y).matrixTransform(svg.getScreenCTM()), r = figure.getBoundingClientRect();
    spot.hidden = false;
    spot.style.left = p.x - r.left + "px";
    spot.style.top = p.y - r.top + "px";
    clearTimeout(asking);
    asking = setTimeout(tellPlace, 60);
  };
  const pointed = (e) => {
    const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(svg.getScreenCTM().inverse());
    pointAt(p.x, p.y);
  };
  svg.addEventListener("pointermove", pointed);
  svg.addEventListener("pointerdown", pointed);
  addEventListener("resize", () => { if (point) pointAt(point.x, point.y); });
  const keys = figure.querySelector("[data-pointer]");
  keys?.addEventListener("keydown", (e) => {
    const by = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
    if (!by) return;
    e.preventDefault();
    const v = svg.viewBox.baseVal, far = e.shiftKey ? 50 : 10; // [mm]
    const from = point ?? { x: 0, y: v.y + v.height / 2 };
    pointAt(Math.max(v.x, Math.min(v.x + v.width, from.x + by[0] * far)), Math.max(v.y, Math.min(v.y + v.height, from.y + by[1] * far)));
  });
}

document.addEventListener("fresh", (e) => begin(e.detail.querySelector("[data-cutaway]")));
begin(document.querySelector("[data-cutaway]"));
