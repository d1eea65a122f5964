// Keeps the pocket page of this address on the phone: what is kept is shown at once, and looked up anew behind it.
"use strict";
const SHELF = "pocket";

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", event => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", event => {
  if (event.request.mode !== "navigate") return;
  event.respondWith(caches.open(SHELF).then(async shelf => {
    const page = new URL("./", self.location).href;
    const kept = await shelf.match(page);
    const fresh = fetch(page).then(answer => {
      if (answer.ok) return shelf.put(page, answer.clone()).then(() => answer);
      return answer;
    });
    if (!kept) return fresh;
    event.waitUntil(fresh.catch(() => undefined));
    return kept;
  }));
});
self.addEventListener("message", event => event.waitUntil(
  caches.open(SHELF).then(shelf => shelf.add(new URL("./", self.location).href))));
