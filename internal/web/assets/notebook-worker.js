// Keeps the page of quick entries where there is no connection. Only that page and
// what it needs are kept; everything else goes to the server as ever.
const shelf = "hackle-notebook", page = "/notebook/quick", patience = 4000;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (e) => e.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (e) => {
  const asked = new URL(e.request.url);
  if (e.request.method !== "GET" || asked.origin !== location.origin) return;
  if (asked.pathname === page) e.respondWith(fresh(e.request));
  else if (asked.pathname.startsWith("/assets/")) e.respondWith(kept(e.request));
});

// The page as the server has it; the kept one when the server does not answer.
async function fresh(request) {
  const store = await caches.open(shelf);
  const answer = fetch(request).then(async (got) => {
    if (got.type === "opaqueredirect" || got.redirected || got.status === 401) await store.delete(page); // logged out
    else if (got.ok) await store.put(page, got.clone());
    return got;
  });
  const old = await store.match(page);
  if (!old) return answer;
  const late = new Promise((done) => setTimeout(() => done(old), patience));
  return Promise.race([answer.catch(() => old), late]);
}

// Assets never change under their address.
async function kept(request) {
  const store = await caches.open(shelf);
  const old = await store.match(request);
  if (old) return old;
  const got = await fetch(request);
  if (got.ok) await store.put(request, got.clone());
  return got;
}
