// Pages seen once can be read and followed without the server: what it answers is kept, and used
// where it does not answer. The files of the pages never change under one address.
"use strict";
const KEPT = "oddments-1";
const MOST = 200;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) if (name !== KEPT) await caches.delete(name);
  await self.clients.claim();
})()));

const wanted = (url, request) => request.mode === "navigate"
  || url.pathname.startsWith("/assets/")
  || url.pathname === "/machine/walk"
  || url.pathname === "/api/v1/walk"
  || url.pathname === "/grade/result"
  || (url.pathname === "/api/v1/pattern" && url.searchParams.get("format") === "svg");

const keep = async (request, answer) => {
  const cache = await caches.open(KEPT);
  await cache.put(request, answer);
  const all = await cache.keys();
  for (const old of all.slice(0, Math.max(0, all.length - MOST))) await cache.delete(old);
};

// Whoever logs out leaves no page behind. What was on its way when the server was asked may have been
// kept meanwhile: so once before and once after.
const leave = async (request) => {
  await caches.delete(KEPT);
  try { return await fetch(request); } finally { await caches.delete(KEPT); }
};

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method === "POST" && url.origin === location.origin && url.pathname === "/logout") {
    event.respondWith(leave(request));
    return;
  }
  // What watches a plan is never older than it is, and what holds the token is kept nowhere; nor is each place kept
  // that a slider went through.
  if (request.cache === "no-store" || url.pathname === "/phone" || request.method !== "GET" || url.origin !== location.origin
    || !wanted(url, request)
    || url.pathname.startsWith("/gifts/plan") || url.pathname.startsWith("/gifts/shop")) return;
  event.respondWith((async () => {
    const cache = await caches.open(KEPT);
    if (url.pathname.startsWith("/assets/")) {
      const known = await cache.match(request);
      if (known) return known;
    }
    try {
      const answer = await fetch(request);
      if (answer.ok && !answer.redirected) event.waitUntil(keep(request, answer.clone()));
      return answer;
    } catch (error) {
      const known = await cache.match(request);
      if (known) return known;
      // The same piece at another step: the page finds its place itself.
      if (url.pathname === "/machine") {
        for (const key of ["at", "from", "counter"]) url.searchParams.delete(key);
        const piece = await cache.match(url.href);
        if (piece) return piece;
      }
      throw error;
    }
  })());
});
