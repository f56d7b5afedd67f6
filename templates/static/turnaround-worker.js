// Opens the phone's pages without a line: the bows seen on this phone and the site's list.
// The book is asked first, always; a kept page is marked, and its stylesheet hides what the book said of a bow.
"use strict";

const KEPT = "bracebook-turnaround";
const PATIENCE_MS = 5000;
const PAGES = /^\/turnaround\/([^/]+\/)?$/;
const NO_LINE = "/no-line/";

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (event.request.method !== "GET" || address.origin !== self.location.origin) return;
  if (event.request.mode === "navigate") event.respondWith(page(event, address));
  else if (address.pathname.startsWith("/static/")) event.respondWith(asset(event));
});

async function page(event, address) {
  const cache = await caches.open(KEPT);
  const kept = await cache.match(address.pathname);
  try {
    const fresh = await asked(event.request, Boolean(kept));
    if (fresh.type === "opaqueredirect") await caches.delete(KEPT); // signed out: nothing of that person stays
    else if (fresh.ok && !address.search && PAGES.test(address.pathname)) {
      const copy = fresh.clone();
      event.waitUntil(cache.put(address.pathname, copy));
    }
    return fresh;
  } catch (noLine) {
    const instead = kept || (await cache.match(NO_LINE));
    return instead ? marked(instead) : Response.error();
  }
}

async function asset(event) {
  const cache = await caches.open(KEPT);
  const kept = await cache.match(event.request);
  try {
    const fresh = await asked(event.request, Boolean(kept));
    if (fresh.ok) {
      const copy = fresh.clone();
      event.waitUntil(cache.put(event.request, copy));
    }
    return fresh;
  } catch (noLine) {
    return kept || Response.error();
  }
}

// With something kept, a line too weak to answer in time counts as none.
function asked(request, hasKept) {
  if (!hasKept) return fetch(request);
  return new Promise((resolve, reject) => {
    setTimeout(() => reject(new Error("no answer in time")), PATIENCE_MS);
    fetch(request).then(resolve, reject);
  });
}

async function marked(kept) {
  const headers = new Headers(kept.headers);
  headers.delete("Content-Encoding");
  headers.delete("Content-Length");
  const html = await kept.text();
  return new Response(html.replace("<body", "<body data-kept"), { status: 200, headers });
}
