// Entries at the hives. What is tapped is kept on this device first and sent when
// there is a connection. Every entry has an ID of its own from the start, so that
// sending it twice makes no second one.

const root = document.querySelector("[data-quick]");

// The entries on this device, in IndexedDB: an entry is safe once its transaction is
// done. States: waiting, kept, refused.
function database() {
  return new Promise((done, failed) => {
    const ask = indexedDB.open("hackle-notebook", 1);
    ask.onupgradeneeded = () => ask.result.createObjectStore("entries", { keyPath: "id" });
    ask.onsuccess = () => done(ask.result);
    ask.onerror = () => failed(ask.error);
  });
}
let opened;
async function entries(mode, work) {
  opened ??= database();
  const db = await opened;
  return new Promise((done, failed) => {
    const tx = db.transaction("entries", mode, { durability: "strict" });
    let result;
    const ask = work(tx.objectStore("entries"));
    if (ask) ask.onsuccess = () => { result = ask.result; };
    tx.oncomplete = () => done(result);
    tx.onerror = tx.onabort = () => failed(tx.error);
  });
}
const all = () => entries("readonly", (s) => s.getAll());
const put = (entry) => entries("readwrite", (s) => s.put(entry));
const drop = (id) => entries("readwrite", (s) => s.delete(id));

// An ID after RFC 9562, version 7. randomUUID is not there on plain http.
function newID() {
  const b = crypto.getRandomValues(new Uint8Array(16));
  let ms = Date.now();
  for (let i = 5; i >= 0; i--) { b[i] = ms % 256; ms = Math.floor(ms / 256); }
  b[6] = 0x70 | (b[6] & 0x0f);
  b[8] = 0x80 | (b[8] & 0x3f);
  const hex = Array.from(b, (x) => x.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

// The time here, with its offset from UTC.
function now() {
  const t = new Date(), two = (n) => String(Math.floor(Math.abs(n))).padStart(2, "0"), off = -t.getTimezoneOffset();
  return t.getFullYear() + "-" + two(t.getMonth() + 1) + "-" + two(t.getDate()) + "T" + two(t.getHours()) + ":" + two(t.getMinutes()) + ":" + two(t.getSeconds()) +
    (off < 0 ? "-" : "+") + two(off / 60) + ":" + two(off % 60);
}

let hive = "", sending = false, again = 0, locked = false, broken = "";

async function keep(entry) {
  Object.assign(entry, { id: newID(), at: now(), hive, hiveName: nameOf(hive), state: "waiting", tried: false });
  try {
    await put(entry);
    broken = "";
  } catch (e) {
    // The device keeps nothing: send it now, and say so when that fails too.
    broken = "This device cannot keep entries (" + (e?.name || "no storage") + "). An entry counts only when it says that it is in the yard file.";
    unsaved.set(entry.id, entry);
  }
  await show();
  send();
}
const unsaved = new Map();
const known = async () => {
  let stored = [];
  try { stored = await all(); } catch { /* told by keep */ }
  const ids = new Set(stored.map((e) => e.id));
  return stored.concat([...unsaved.values()].filter((e) => !ids.has(e.id)));
};
const update = async (entry) => {
  if (unsaved.has(entry.id)) { unsaved.set(entry.id, entry); return; }
  await put(entry);
};

// What goes to the server for an entry; one that was taken back after it may have
// arrived goes with its deletion.
function messages(e) {
  const r = { id: e.id, kind: e.kind, at: e.at, hive: e.hive, values: e.values || {}, text: e.text || {}, note: e.note || "" };
  return e.takenBack ? [r, { ...r, revision: 1, deleted: true }] : [r];
}

async function send() {
  if (sending) { again = 1; return; }
  sending = true;
  clearTimeout(send.timer);
  try {
    for (;;) {
      const waiting = (await known()).filter((e) => e.state === "waiting").slice(0, 50);
      if (!waiting.length) break;
      for (const e of waiting) if (!e.tried) { e.tried = true; await update(e); }
      const answer = await fetch("/api/v1/records", {
        method: "POST", headers: { "Content-Type": "application/json" }, redirect: "manual",
        body: JSON.stringify({ records: waiting.flatMap(messages) }), signal: AbortSignal.timeout?.(20000),
      });
      locked = answer.status === 401 || answer.type === "opaqueredirect";
      if (!answer.ok) throw new Error("status " + answer.status);
      const last = new Map((await answer.json()).results.map((r) => [r.id, r]));
      let later = false;
      for (const e of waiting) {
        const r = last.get(e.id), present = (await known()).find((x) => x.id === e.id);
        if (!present) continue;
        if (present.takenBack !== e.takenBack) continue; // taken back meanwhile: goes once more
        if (!r || r.state === "again") { later = true; continue; }
        Object.assign(present, { state: r.state === "kept" ? "kept" : "refused", problem: r.problem || "" });
        await update(present);
      }
      await show();
      if (later) throw new Error("the yard file was busy");
    }
    send.pause = 0;
    await tidy();
  } catch {
    send.pause = Math.min(60000, (send.pause || 1000) * 2);
    send.timer = setTimeout(send, send.pause);
  } finally {
    sending = false;
    await show();
    if (again) { again = 0; send(); }
  }
}

// Kept entries stay in sight for a while, to be taken back.
async function tidy() {
  const kept = (await all()).filter((e) => e.state === "kept").sort((a, b) => (a.id < b.id ? 1 : -1));
  for (const e of kept.filter((e, i) => i >= 20 || e.takenBack)) await drop(e.id);
}

async function takeBack(id) {
  const e = (await known()).find((x) => x.id === id);
  if (!e) return;
  if (!e.tried || e.state === "refused") { unsaved.delete(id); try { await drop(id); } catch { /* it was not stored */ } }
  else { Object.assign(e, { takenBack: true, state: "waiting" }); await update(e); send(); }
  await show();
}

const nameOf = (id) => root.querySelector(`[data-hive="${id}"] span`)?.textContent || "";

function element(name, text, of) {
  const e = document.createElement(name);
  if (text) e.textContent = text;
  if (of) e.className = of;
  return e;
}

async function show() {
  const list = (await known()).sort((a, b) => (a.id < b.id ? 1 : -1));
  const waiting = list.filter((e) => e.state === "waiting").length, wrong = list.filter((e) => e.state === "refused").length;
  const bar = root.querySelector("[data-sending]");
  const words = [];
  if (broken) words.push(broken);
  if (waiting) words.push((waiting === 1 ? "One entry waits" : waiting + " entries wait") + " on this device and will be sent when there is a connection.");
  if (wrong) words.push((wrong === 1 ? "One entry was" : wrong + " entries were") + " refused; see below.");
  if (bar.dataset.text !== words.join(" ") + locked) {
    bar.dataset.text = words.join(" ") + locked;
    bar.replaceChildren(words.join(" "));
    if (locked) {
      const a = element("a", "Log in to send.");
      a.href = "/login?to=" + encodeURIComponent("/notebook/quick");
      bar.append(" ", a);
    }
  }
  bar.hidden = !bar.textContent;
  const mine = list.filter((e) => !(e.takenBack && e.state === "kept"));
  const latest = mine.find((e) => e.hive === hive && !e.takenBack);
  root.querySelector("[data-lately]").hidden = bar.hidden && !latest;
  // Nothing is made anew that stays the same: a button that is being tapped stays.
  const text = JSON.stringify([hive, latest?.id, mine]);
  if (text === show.last) return;
  show.last = text;
  const held = document.activeElement?.dataset?.back;
  root.querySelector("[data-latest]").replaceChildren(...(latest ? [row(latest)] : []));
  const older = mine.filter((e) => e !== latest && (e.state !== "kept" || e.hive === hive)).slice(0, 30);
  root.querySelector("[data-log]").replaceChildren(...(older.length ? [element("h2", "Written on this device")] : []), ...older.map(row));
  if (held) root.querySelector(`[data-back="${held}"]`)?.focus();
}

// An entry with the button that takes it back.
function row(e) {
  const line = element("div", "", "said" + (e.state === "refused" ? " wrong" : "")), text = element("div");
  text.append(element("p", e.words + (e.hive !== hive ? " (" + e.hiveName + ")" : "")));
  const state = { waiting: e.takenBack ? "taken back; waits to be sent" : "kept on this device, waits to be sent", kept: "in the yard file", refused: "refused: " + (e.problem || "") }[e.state];
  text.append(element("p", e.at.slice(11, 16) + ", " + state, "state"));
  line.append(text);
  if (!e.takenBack) {
    const b = element("button", e.state === "refused" ? "Discard" : "Take back");
    b.type = "button";
    b.dataset.back = e.id;
    line.append(b);
  }
  return line;
}

function choose(id, jump) {
  hive = id;
  for (const a of root.querySelectorAll("[data-hive]")) {
    if (a.dataset.hive === id) a.setAttribute("aria-current", "true");
    else a.removeAttribute("aria-current");
  }
  const part = root.querySelector("[data-say]"), head = root.querySelector("[data-chosen]");
  part.hidden = !id;
  head.textContent = nameOf(id);
  root.querySelector("[data-notebook]").href = "/hive/" + id + "/notebook";
  for (const i of root.querySelectorAll("input[name=hive]")) i.value = id;
  try { sessionStorage.setItem("hackle-hive", id); } catch { /* only a convenience */ }
  if (jump) { head.focus({ preventScroll: true }); part.scrollIntoView(); }
  show();
}

function start() {
  root.querySelectorAll("[data-spare]").forEach((e) => { e.hidden = true; });
  root.addEventListener("click", (e) => {
    const a = e.target.closest("[data-hive]"), back = e.target.closest("[data-back]");
    if (a) { e.preventDefault(); choose(a.dataset.hive, true); }
    if (back) takeBack(back.dataset.back);
  });
  root.querySelector("[data-taps]").addEventListener("submit", (e) => {
    e.preventDefault();
    const said = JSON.parse(e.submitter.value), question = e.submitter.closest("fieldset").querySelector("legend").textContent;
    keep({ kind: said.kind, values: said.values, words: question + ": " + e.submitter.textContent.toLowerCase() });
  });
  for (const form of root.querySelectorAll("form[data-kind]")) {
    form.addEventListener("submit", (e) => {
      e.preventDefault();
      const text = {}, words = [];
      for (const i of form.querySelectorAll("[name^=f_]")) {
        const value = i.value.trim();
        if (!value) continue;
        const plain = /^[-+]?\d+([.,]\d+)?$/.test(value);
        text[i.name.slice(2)] = plain && i.dataset.unit ? value + " " + i.dataset.unit : value;
        words.push(form.querySelector(`label[for="${i.id}"]`).textContent.replace(/ \[.*/, "").toLowerCase() + " " + text[i.name.slice(2)]);
      }
      const note = form.querySelector("[name=note]").value.trim();
      if (!words.length && !note) { form.querySelector("input:not([type=hidden]), select, textarea").focus(); return; }
      if (note) words.push(note);
      keep({ kind: form.dataset.kind, text, note, words: form.closest("details").querySelector("summary").textContent + ": " + words.join(", ") });
      form.reset();
      form.closest("details").open = false;
      root.querySelector("[data-chosen]").scrollIntoView();
    });
  }
  addEventListener("online", send);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });
  let last = "";
  try { last = sessionStorage.getItem("hackle-hive") || ""; } catch { /* only a convenience */ }
  const asked = new URLSearchParams(location.search).get("hive") || last;
  if (asked && nameOf(asked)) choose(asked, false); else show();
  send();
  if ("serviceWorker" in navigator && window.isSecureContext) {
    navigator.serviceWorker.register(root.dataset.worker, { scope: "/notebook/" }).catch(() => { /* without it the page works while it is open */ });
    // The first visit is not yet through the worker: lay by what it needs.
    const needed = ["/notebook/quick", ...Array.from(document.querySelectorAll("link[href^='/assets/'], script[src^='/assets/']"), (e) => e.href || e.src)];
    caches.open("hackle-notebook").then((c) => Promise.all(needed.map((n) => c.add(n)))).then(() => { root.dataset.ready = "true"; }).catch(() => {});
    navigator.storage?.persist?.();
  }
}

if (root && root.querySelector("[data-say]")) start();
