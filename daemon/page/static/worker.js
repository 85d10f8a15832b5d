// Where the wifi ends: shows each page as it was seen last, with its age, and keeps what is noted
// until the daemon is reached again. Notes are sent in order; each has a key, so that one sent
// twice counts once. Without this file the page is complete, but needs the daemon.
"use strict";

const SHELF = "underbench";
const AHEAD = ["/", "/do/handled", "/do/", "/static/page.css", "/static/doing.css"];
const MOST_PAGES = 120;
const SLOW_MS = 8000; // a phone at the edge of its wifi waits no longer
const GONE = [502, 504]; // a proxy's word for a daemon that is not there
const NOT_KEPT = /^\/(enter|come-in|a\/|export|leave|readings)/;
const UNSEEN = "The daemon cannot be reached from here, and this page was not looked at before.";
const NEEDS_IT = "The daemon cannot be reached from here, and this needs it: nothing was changed.";
const SAID = {
  handled: "done", watered: "watered", moved: "moved", seen: "seen", did: "work", outcome: "came through",
  reading: "a reading",
};

self.addEventListener("install", (event) => event.waitUntil(stock().then(() => self.skipWaiting())));
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("sync", (event) => event.waitUntil(send()));
self.addEventListener("message", (event) => event.waitUntil(send()));
self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (url.origin !== self.location.origin || NOT_KEPT.test(url.pathname)) return;
  if (event.request.method === "GET") event.respondWith(look(event));
  else if (url.pathname.startsWith("/do/") && SAID[url.pathname.slice(4)]) event.respondWith(note(event));
  else event.respondWith(fetch(event.request).catch(() => told(nothing(NEEDS_IT), "")));
});

async function stock() {
  const shelf = await caches.open(SHELF);
  await Promise.all(AHEAD.map(async (path) => {
    const found = await reach(path).catch(() => null);
    if (found && found.ok && !found.redirected) await shelf.put(path, found);
  }));
}

async function reach(request, how) {
  const slow = new Promise((done, failed) => { setTimeout(() => failed(new Error("slow")), SLOW_MS); });
  const answer = await Promise.race([fetch(request, how), slow]);
  if (GONE.includes(answer.status)) throw new Error("not reached");
  return answer;
}

async function look(event) {
  const { request } = event;
  const page = request.mode === "navigate";
  const path = pathOf(request.url);
  try {
    if (page) await send();
    const answer = await reach(request);
    if (answer.ok && !answer.redirected) {
      const copy = answer.clone();
      event.waitUntil(keep(path, copy).then(() => (page && path === "/" ? stock() : null)));
    }
    return page && answer.ok ? await told(answer, "") : answer;
  } catch (error) {
    const found = await kept(path) || (path.startsWith("/do/tree/") && await kept("/do/"));
    if (!page) return found || Response.error();
    return told(found || nothing(UNSEEN), found ? aged(found) : "");
  }
}

async function kept(path) {
  return (await caches.open(SHELF)).match(path, { ignoreVary: true });
}

function pathOf(address) {
  const url = new URL(address);
  return url.pathname + url.search;
}

async function keep(path, answer) {
  const shelf = await caches.open(SHELF);
  await shelf.put(path, answer);
  const every = await shelf.keys();
  await Promise.all(every.slice(0, Math.max(0, every.length - MOST_PAGES)).map((one) => shelf.delete(one)));
}

function nothing(why) {
  const words = "<!doctype html><html lang=en-GB><meta charset=utf-8>"
    + "<meta name=viewport content='width=device-width'><title>Not reached</title>"
    + "<link rel=stylesheet href=/static/page.css><main id=\"main\"><h1>Not reached</h1>"
    + `<p>${why}</p>`
    + "<p><a class=button href=/>To the garden</a></p></main>";
  return new Response(words, { headers: { "Content-Type": "text/html" } });
}

function aged(answer) {
  const at = new Date(answer.headers.get("Date"));
  const minutes = Math.max(0, Math.round((Date.now() - at) / 60000));
  const clock = at.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  const age = minutes < 90 ? `${minutes} min` : `${Math.round(minutes / 60)} h`;
  return `The daemon is not reached. This is how it stood at ${clock}, ${age} ago.`;
}

// A page with a line on how old it is, and on notes that wait or were refused.
async function told(answer, age) {
  const notes = await all();
  if (!age && !notes.length) return answer;
  const waits = notes.filter((one) => !one.refused);
  const lines = [age];
  if (waits.length) lines.push(`Kept on this phone till the daemon is reached: ${waits.map(words).join("; ")}.`);
  for (const one of notes.filter((note) => note.refused)) {
    lines.push(`Could not be noted: ${words(one)}. ${one.refused}`);
    await change("readwrite", (shelf) => shelf.delete(one.number));
  }
  const shown = lines.filter(Boolean).map((line) => `<p class="said away" role="status">${plain(line)}</p>`);
  const text = (await answer.text()).replace('<main id="main">', `<main id="main">${shown.join("")}`);
  return new Response(text, { status: answer.status, headers: answer.headers });
}

function plain(text) {
  return text.replace(/[&<>"]/g, (one) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[one]);
}

function words(one) {
  const form = new URLSearchParams(one.body);
  const trees = form.getAll("tree").join(", ");
  const what = ["spot", "stage", "work", "fate", "value"].map((name) => form.get(name)).filter(Boolean);
  const bench = form.get("bench") && `all of ${form.get("bench").split("|")[0]}`;
  const others = form.get("which") === "others" && (trees ? `all but ${trees}` : "all of one job");
  return [[SAID[one.path.slice(4)], ...what].join(" "), bench || others || trees].filter(Boolean).join(": ");
}

async function note(event) {
  const form = new URLSearchParams(await event.request.text());
  form.set("once", crypto.randomUUID());
  form.set("noted_at", String(Math.floor(Date.now() / 1000)));
  const one = { path: new URL(event.request.url).pathname, body: form.toString() };
  try {
    if (!(await send())) throw new Error("others wait");
    return await post(one, {}, "manual");
  } catch (error) {
    await change("readwrite", (shelf) => shelf.add(one));
    if (self.registration.sync) await self.registration.sync.register("notes").catch(() => null);
    return Response.redirect(one.path === "/do/handled" ? "/do/handled" : form.get("to") || "/", 303);
  }
}

function post(one, more, redirect) {
  const headers = { "Content-Type": "application/x-www-form-urlencoded", ...more };
  return reach(one.path, { method: "POST", body: one.body, headers, redirect, credentials: "same-origin" });
}

// Sends what waits, in order; says whether nothing waits any more. One run at a time.
let sending = null;
function send() {
  sending = sending || sendAll().finally(() => { sending = null; });
  return sending;
}

async function sendAll() {
  const waits = (await all()).filter((one) => !one.refused);
  if (!waits.length) return true;
  try {
    const form = await reach("/do/", { credentials: "same-origin" });
    const token = /name="csrf" value="([^"]+)"/.exec(await form.text());
    if (form.redirected || !token) return false; // the password is asked for first
    for (const one of waits) {
      const body = new URLSearchParams(one.body);
      body.set("csrf", token[1]);
      const answer = await post({ ...one, body: body.toString() }, { "Underbench-Kept": "1" }, "follow");
      if (answer.status !== 204 && answer.status !== 422) return false;
      const refused = answer.status === 422 && (await answer.text());
      await change("readwrite", (shelf) => (refused ? shelf.put({ ...one, refused }) : shelf.delete(one.number)));
    }
  } catch (error) {
    return false;
  }
  for (const client of await self.clients.matchAll()) client.postMessage("sent");
  return true;
}

function shelves() {
  return new Promise((done, failed) => {
    const opened = indexedDB.open("underbench", 1);
    opened.onupgradeneeded = () => opened.result.createObjectStore("notes", { keyPath: "number", autoIncrement: true });
    opened.onsuccess = () => done(opened.result);
    opened.onerror = () => failed(opened.error);
  });
}

async function change(mode, what) {
  const base = await shelves();
  try {
    return await new Promise((done, failed) => {
      const work = base.transaction("notes", mode);
      const asked = what(work.objectStore("notes"));
      work.oncomplete = () => done(asked.result);
      work.onerror = () => failed(work.error);
    });
  } finally {
    base.close();
  }
}

function all() {
  return change("readonly", (shelf) => shelf.getAll());
}
