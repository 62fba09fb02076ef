// @ts-check
/**
 * Keeps the program's own files, so that a page opens without network. Never an answer of the API: what people typed
 * is kept by the page itself, in its author's own store.
 */

const STORE = "coilbook-files-1";
const PATIENCE_MS = 3_000;

const here = /** @type {any} */ (self);

/** @param {string} address */
function isFile(address) {
  const url = new URL(address);
  return url.origin === location.origin && /^\/(static\/|pack\/|words\/|$)/.test(url.pathname);
}

/**
 * The newest file where the network gives one soon, else the one kept.
 *
 * @param {Request} request
 */
async function freshOrKept(request) {
  const store = await caches.open(STORE);
  const fresh = fetch(request).then((response) => {
    if (response.ok) void store.put(request, response.clone());
    return response;
  });
  const kept = await store.match(request, { ignoreVary: true });
  if (!kept) return fresh;
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE_MS, kept));
  return Promise.race([fresh.catch(() => kept), late]);
}

here.addEventListener("install", () => here.skipWaiting());
here.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil(here.clients.claim()));

here.addEventListener("fetch", (/** @type {any} */ event) => {
  if (event.request.method === "GET" && isFile(event.request.url)) event.respondWith(freshOrKept(event.request));
});

/** @param {string} address as the store knows it: what stands behind # is the page's own affair */
const bare = (address) => address.split("#")[0];

/**
 * The page tells all that it was loaded from: what this worker was not yet there to see is fetched, and once all is
 * kept, what an earlier version was loaded from is dropped.
 *
 * @param {string[]} files
 */
async function keepOnly(files) {
  const store = await caches.open(STORE);
  const kept = await Promise.allSettled(files.map(async (file) => (await store.match(file, { ignoreVary: true })) ?? store.add(file)));
  if (kept.some((each) => each.status === "rejected")) return;
  for (const old of await store.keys()) if (!files.includes(bare(old.url))) await store.delete(old);
}

here.addEventListener("message", (/** @type {any} */ event) => event.waitUntil(keepOnly(event.data.filter(isFile).map(bare))));
