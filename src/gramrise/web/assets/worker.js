"use strict";
// Keeps the log and the help screen of this phone for when there is no network. Everything else needs the network.
const KEPT = "gramrise-2";
const FILES = ["/style.css", "/page.js", "/icon.svg"];
self.addEventListener("install", event => event.waitUntil(
  caches.open(KEPT).then(kept => kept.addAll(FILES)).then(() => self.skipWaiting())));
self.addEventListener("activate", event => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", event => {
  const path = new URL(event.request.url).pathname;
  const ours = FILES.includes(path) || /^\/\d+\/(help|food)?$/.test(path) || path === "/";
  if (event.request.method === "GET" && ours) event.respondWith(fresh(event.request, path));
});
async function fresh(request, path) {
  const kept = await caches.open(KEPT);
  try {
    const answer = await fetch(request);
    if (answer.status === 401 || answer.status === 403) await caches.delete(KEPT);  // shut out: nothing stays here
    else if (answer.ok && !answer.redirected && path !== "/") await kept.put(path, answer.clone());
    return answer;
  } catch (gone) {
    const found = await kept.match(path === "/" ? "/0/" : path);
    if (found) return found;
    throw gone;
  }
}
