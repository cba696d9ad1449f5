// Opens the page again without signal, where the browser allows it (over TLS, or on this machine).
// It keeps the page and its scripts only: plots and records are never among them.

const KEPT = "tallybed-page";
const FILES = [
  "/plots", "/plots/page.css", "/plots/page.js", "/plots/parts.js", "/plots/day.js",
  "/plots/waiting.js", "/plots/photo.js",
];
const WITHIN_MS = 4_000;

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(KEPT).then((kept) => kept.addAll(FILES)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

async function answered(request, path) {
  const kept = await caches.open(KEPT);
  try {
    const answer = await fetch(request, { signal: AbortSignal.timeout(WITHIN_MS) });
    if (answer.ok && !answer.redirected && answer.type === "basic") await kept.put(path, answer.clone());
    return answer;
  } catch (problem) {
    const found = await kept.match(path);
    if (found === undefined) throw problem;
    return found;
  }
}

self.addEventListener("fetch", (event) => {
  const { origin, pathname } = new URL(event.request.url);
  if (event.request.method !== "GET" || origin !== self.location.origin) return;
  if (FILES.includes(pathname)) event.respondWith(answered(event.request, pathname));
});
