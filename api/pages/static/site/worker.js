// Keeps pages of the slab edge, and what they are made of, for when there is no network. Newest first: a kept page is
// shown only where the network gives none.
"use strict";

const CACHE = "slab-edge-1";
const PATIENCE = 5000; // ms that a page may take before the kept one is shown

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("message", (event) => {
  if (!event.data.keep) return;
  event.waitUntil(
    keep(event.data.keep).then((kept) => event.source.postMessage({ kept, of: event.data.keep.length })),
  );
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  if (url.pathname.startsWith("/static/")) event.respondWith(keptFirst(event.request));
  else if (event.request.mode === "navigate") event.respondWith(newestFirst(event.request, url));
});

async function keep(addresses) {
  const cache = await caches.open(CACHE);
  const kept = await Promise.all(
    addresses.map(async (address) => {
      const lasting = address.startsWith("/static/");
      if (lasting && (await cache.match(address))) return true;
      try {
        const answer = await fetch(address, { redirect: "manual" });
        if (!answer.ok) return Boolean(await cache.match(address));
        await cache.put(address, answer);
        return true;
      } catch {
        return Boolean(await cache.match(address));
      }
    }),
  );
  return kept.filter(Boolean).length;
}

async function keptFirst(request) {
  return (await caches.match(request)) ?? fetch(request);
}

async function newestFirst(request, url) {
  const cache = await caches.open(CACHE);
  const kept = (await cache.match(url.pathname)) ?? (await keptLabel(cache, url));
  const fresh = fetch(request).then(async (answer) => {
    if (answer.ok && (await cache.match(url.pathname))) await cache.put(url.pathname, answer.clone());
    return answer;
  });
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE, null));
  try {
    const answer = await (kept ? Promise.race([fresh, late]) : fresh);
    if (answer === null || (answer.status >= 500 && kept)) return kept;
    return answer;
  } catch {
    return kept ?? notKept();
  } finally {
    fresh.catch(() => null);
  }
}

// A label's address leads to its card: /site/BUILDING/labels/NAME, by the kept list of labels.
async function keptLabel(cache, url) {
  const parts = /^(\/site\/[^/]+\/)labels\/([^/]+)$/.exec(url.pathname);
  const list = parts && (await cache.match(`${parts[1]}labels.json`));
  const found = list && (await list.json())[decodeURIComponent(parts[2])];
  return found ? Response.redirect(new URL(parts[1] + found, self.location.origin), 302) : undefined;
}

function notKept() {
  const words =
    "<!doctype html><html lang=en><meta charset=utf-8><meta name=viewport content='width=device-width'><title>No network</title>" +
    "<main><h1>No network</h1><p>This page is not kept on this phone. Go back to one that is; what you ticked is kept and will be sent.</p></main>";
  return new Response(words, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8" } });
}
