// Spares waiting and typing; every page works without it.

// Takes the fresh main part of this page and puts it in place of the old one.
export async function refresh(address = location.href, options = {}) {
  const answer = await fetch(address, { headers: { Accept: "text/html" }, ...options });
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const fresh = page.querySelector("main"), old = document.querySelector("main");
  if (!fresh || !old) { location.reload(); return; }
  for (const part of page.head.querySelectorAll("link[rel=stylesheet], script[type=module]")) { // what the new page needs and the old one lacked
    const name = part.localName === "link" ? "href" : "src", address = part.getAttribute(name);
    if ([...document.head.querySelectorAll(part.localName)].some((p) => p.getAttribute(name) === address)) continue;
    const own = document.createElement(part.localName);
    for (const a of part.attributes) own.setAttribute(a.name, a.value);
    document.head.append(own);
  }
  const held = document.activeElement?.id;
  old.replaceWith(fresh);
  document.title = page.title;
  if (held) document.getElementById(held)?.focus();
  begin(fresh);
  document.dispatchEvent(new CustomEvent("fresh", { detail: fresh }));
}

// Long work: the server tells how far it is; when it is over the page is made anew.
function follow(box) {
  const bar = box.querySelector("progress"), told = box.querySelector("[data-told]");
  const stream = new EventSource(box.dataset.progress);
  const end = () => { stream.close(); refresh(); };
  stream.addEventListener("progress", (e) => {
    const now = JSON.parse(e.data);
    if (bar) bar.value = now.share;
    if (told) told.textContent = now.text;
  });
  stream.addEventListener("over", end);
  stream.onerror = () => { if (stream.readyState === EventSource.CLOSED) setTimeout(end, 2000); };
}

// Charts: the values at the pointer, or at the arrow keys, in words below.
function readout(figure) {
  const svg = figure.querySelector("svg[role=img]"), out = figure.querySelector(".readout");
  const data = JSON.parse(figure.querySelector("template")?.content.textContent || "null");
  if (!svg || !out || !data) return;
  const rule = svg.querySelector(".hover");
  let at = -1;
  const show = (i) => {
    at = Math.max(0, Math.min(data.labels.length - 1, i));
    const x = 100 * (data.gutter + (1 - data.gutter) * (at + 0.5) / data.labels.length) + "%";
    rule.setAttribute("x1", x); rule.setAttribute("x2", x); rule.removeAttribute("visibility");
    out.textContent = data.labels[at] + ": " + data.series.map((s) => s.name + " " + s.values[at]).join(", ");
  };
  svg.addEventListener("pointermove", (e) => {
    const box = svg.getBoundingClientRect();
    show(Math.floor(((e.clientX - box.left) / box.width - data.gutter) / (1 - data.gutter) * data.labels.length));
  });
  figure.addEventListener("keydown", (e) => {
    const step = { ArrowRight: 1, ArrowLeft: -1, PageDown: 7, PageUp: -7 }[e.key];
    if (e.key === "Home") show(0); else if (e.key === "End") show(data.labels.length - 1);
    else if (step) show(at < 0 ? Math.floor(data.labels.length / 2) : at + step); else return;
    e.preventDefault();
  });
}

// The tab that is shown is in sight.
function tabs(part) {
  const current = part.querySelector(".tabs [aria-current]");
  if (current) current.parentElement.scrollLeft = current.offsetLeft - 24;
}

// A choice that goes on by itself has no need of its button.
function choices(part) {
  for (const form of part.querySelectorAll("form[data-at-once]")) {
    form.addEventListener("change", () => form.requestSubmit());
    form.querySelector("[data-spare]")?.setAttribute("hidden", "");
  }
}

function begin(part) {
  part.querySelectorAll("[data-progress]").forEach(follow);
  part.querySelectorAll("figure[data-chart]").forEach(readout);
  choices(part);
}

tabs(document);
begin(document);
