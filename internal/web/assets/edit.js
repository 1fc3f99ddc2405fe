// The form of a hive answers while somebody drags; without this script the form is
// sent by its buttons and the page comes back.

async function begin(box) {
  if (!box || box.dataset.begun) return;
  box.dataset.begun = "yes";
  const form = box.querySelector("[data-form]"), drawing = box.querySelector("[data-drawing]");
  const told = box.querySelector("[data-quick]"), basis = box.querySelector("[data-quick-basis]"), full = box.querySelector("[data-full]");
  let asked = 0, answered = 0, busy = false, again = null, stream = null, rested = 0;

  box.querySelector("[data-spare]")?.setAttribute("hidden", "");

  // One question at a time: while one is open the newest waits and the rest are
  // forgotten.
  const ask = async (keep) => {
    if (busy) { again = { keep: keep || again?.keep }; return; }
    busy = true;
    const mine = ++asked, body = new URLSearchParams(new FormData(form));
    if (keep) body.set("keep", "1");
    try {
      const answer = await fetch(box.dataset.try, { method: "POST", body, headers: { Accept: "application/json" } });
      if (answer.status === 409) { location.reload(); return; }
      if (!answer.ok) throw new Error(String(answer.status));
      const t = await answer.json();
      if (mine >= answered) { answered = mine; take(t, keep); }
    } catch {
      told.textContent = "The drawing could not be made anew. What you typed is still here; send it once more.";
    }
    busy = false;
    if (again) { const next = again; again = null; ask(next.keep); }
  };
  const take = (t, keep) => {
    for (const p of form.querySelectorAll("[data-fault]")) {
      const text = t.faults[p.dataset.fault] || "";
      p.textContent = text; p.hidden = !text;
      const field = form.elements[p.dataset.fault];
      if (text) field?.setAttribute("aria-invalid", "true"); else field?.removeAttribute("aria-invalid");
    }
    box.querySelector("[data-loose]").replaceChildren(...t.loose.map((text) => Object.assign(document.createElement("p"), { className: "fault", textContent: text })));
    if (t.drawing) {
      const fresh = new DOMParser().parseFromString(t.drawing, "image/svg+xml").documentElement;
      drawing.replaceChildren(document.importNode(fresh, true));
      told.textContent = t.quick.sentence || t.quick.problem || "";
      basis.textContent = t.quick.basis;
      box.dataset.drawn = Number(box.dataset.drawn || 0) + 1;
    }
    if (t.kept) {
      if (Number(form.elements.steps.value) !== t.steps) {
        form.elements.steps.value = t.steps;
        for (const b of box.querySelectorAll("[data-steps-form] button, [data-build-form] button")) b.disabled = b.value === "redo";
      }
      refine();
    } else if (!keep && t.drawing) full.textContent = "";
  };
  // The whole year follows when the hand rests.
  const refine = async () => {
    clearTimeout(rested);
    stream?.close();
    const f = await fetch(box.dataset.edit + "/full").then((a) => a.json()).catch(() => null);
    if (!f) return;
    if (f.state === "running" && f.events) {
      full.textContent = "The whole year is being run.";
      stream = new EventSource(f.events);
      stream.addEventListener("progress", (e) => { full.textContent = "The whole year is being run: " + JSON.parse(e.data).text + "."; });
      stream.addEventListener("over", () => { stream.close(); refine(); });
    } else full.textContent = f.sentence;
    box.dataset.full = f.state;
  };

  for (const range of form.querySelectorAll("[data-slide]")) {
    const field = form.elements[range.dataset.slide];
    range.hidden = false;
    range.addEventListener("input", () => { field.value = range.value + " " + range.dataset.unit; ask(false); });
    range.addEventListener("change", () => ask(true));
    field.addEventListener("input", () => {
      const number = parseFloat(field.value);
      if (field.value.trim() === number + " " + range.dataset.unit) range.value = number;
    });
  }
  form.addEventListener("change", (e) => { if (e.target.name && e.target.name !== "type") ask(true); });
  form.addEventListener("submit", (e) => {
    if (e.submitter?.value !== "keep") return;
    e.preventDefault();
    ask(true);
  });
  if (box.dataset.changed === "true") refine();
}

document.addEventListener("fresh", (e) => begin(e.detail.querySelector("[data-edit]")));
begin(document.querySelector("[data-edit]"));
