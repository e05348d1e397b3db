// Shows a page of the job that was open again while there is no line, also after the browser was closed. Pages are
// asked of the workshop first, always; what is kept is what a person opened, of one job, and for a working day at most.

const PAGES = "pages";
const SHELL = "shell";
const OFFLINE = "/kept";
const KEPT = /^\/jobs\/(\d+)(\/evidence|\/steps(\/\w+\/\w+)?|\/measure(\/\w+)?)?$/;
const LOOKS = /^\/(\w+\.css|\w+\.js|mark\.svg)$/;
const MOST = 12;
const LONGEST_MS = 12 * 3600 * 1000;
const PATIENCE_MS = 8000; // before a page that is kept is shown instead

addEventListener("install", (event) => event.waitUntil(begin()));
addEventListener("activate", (event) => event.waitUntil(clients.claim()));

async function begin() {
  await keepShell(await fetch(OFFLINE, { cache: "no-store" }));
  await skipWaiting();
}

/** The page for when there is no other, and all that it and the kept ones are made of. */
async function keepShell(answer) {
  // asked to sign in, or not let in: that page is nobody's
  if (answer.status !== 200 || answer.redirected) return;
  const shell = await caches.open(SHELL);
  const page = await answer.clone().text();
  await shell.put(OFFLINE, answer);
  const parts = [...page.matchAll(/(?:href|src)="(\/[\w.]+(?:\?\w+)?)"/g)].map((found) => found[1]);
  const wanted = [...parts.filter((part) => LOOKS.test(part.split("?")[0])), "/together.js", "/waiting.js", "/keep.js"];
  await Promise.all(wanted.map(async (part) => shell.put(part.split("?")[0], await fetch(part))));
}

addEventListener("message", (event) => {
  const url = event.data?.keep && new URL(event.data.keep, location).href;
  if (url) event.waitUntil(fetch(url, { cache: "no-store" }).then((answer) => note(url, answer)));
});

addEventListener("fetch", (event) => {
  const { request } = event;
  const { pathname, origin } = new URL(request.url);
  if (request.method !== "GET" || origin !== location.origin) return;
  if (request.mode === "navigate") event.respondWith(page(event));
  else if (LOOKS.test(pathname)) event.respondWith(look(event, pathname));
});

async function look(event, path) {
  try {
    const answer = await fetch(event.request);
    // before its body is read by the page
    const copy = answer.clone();
    if (answer.status === 200) event.waitUntil(caches.open(SHELL).then((shell) => shell.put(path, copy)));
    return answer;
  } catch {
    return (await caches.match(path, { cacheName: SHELL })) ?? Response.error();
  }
}

async function page(event) {
  const { url } = event.request;
  const old = await kept(url);
  const asked = fetch(event.request).then((answer) => {
    event.waitUntil(note(url, answer.clone()));
    return answer;
  });
  const instead = () => old ?? caches.match(OFFLINE, { cacheName: SHELL }).then((shell) => shell ?? Response.error());
  if (!old) return asked.catch(instead);
  const late = new Promise((done) => setTimeout(() => done(old), PATIENCE_MS));
  return Promise.race([asked, late]).catch(instead);
}

/** A page as it is kept, marked as that; nothing where there is none, or it is too old. */
async function kept(url) {
  if (!(await caches.has(PAGES))) return undefined;
  const pages = await caches.open(PAGES);
  const answer = await pages.match(url);
  if (!answer) return undefined;
  const at = answer.headers.get("x-kept-at");
  if (Date.now() - Date.parse(at) > LONGEST_MS) {
    await caches.delete(PAGES);
    return undefined;
  }
  const text = await answer.text();
  return new Response(text.replace("<html ", `<html data-kept="${at}" `), { headers: answer.headers });
}

/** Keep a page of a job that was shown; forget all of them where nobody is signed in any more. */
async function note(url, answer) {
  const path = new URL(url).pathname;
  const job = KEPT.exec(path)?.[1];
  // a page of a job leads nowhere else but to the sign-in
  if (answer.status === 401 || path === "/sign-in" || (job && answer.type === "opaqueredirect")) {
    await caches.delete(PAGES);
    return;
  }
  if (path === OFFLINE) await keepShell(answer);
  if (!job || answer.status !== 200 || answer.redirected) return;
  const pages = await caches.open(PAGES);
  const before = await pages.keys();
  const others = before.filter((one) => KEPT.exec(new URL(one.url).pathname)?.[1] !== job);
  const own = before.filter((one) => !others.includes(one) && one.url !== url);
  const gone = [...others, ...own.slice(0, Math.max(0, own.length - MOST + 1))];
  await Promise.all(gone.map((one) => pages.delete(one)));
  const headers = new Headers(answer.headers);
  headers.set("x-kept-at", new Date().toISOString());
  headers.delete("content-length");
  await pages.put(url, new Response(await answer.text(), { headers }));
}
