// Who else is at this job and what they put down, asked every second or so while the page is looked at. What is being
// typed is never thrown away: a page that is in use only says what is new.

import { clock, line, list, notice, renewKey, sendAll, words } from "/waiting.js";

const ASK_MS = 1200;
const ASK_AGAIN_MS = 3000; // where there was no answer
const PATIENCE_MS = 4000;
const REST_MS = 10000;

const at = (id) => document.getElementById(id);
const region = at("together");
const { job, last } = region.dataset;
const kept = document.documentElement.dataset.kept;
const opened = document.querySelectorAll("details[open]").length;
let mark = "";
let touched = performance.now();

// --- is the page in use? ---

for (const kind of ["pointerdown", "keydown", "scroll", "input"]) {
  addEventListener(kind, () => (touched = performance.now()), { passive: true, capture: true });
}

function changed(one) {
  if (one.type === "checkbox" || one.type === "radio") return one.checked !== one.defaultChecked;
  if (one.type === "file") return one.files.length > 0;
  if (one.tagName === "SELECT") return [...one.options].some((option) => option.selected !== option.defaultSelected);
  return one.type !== "hidden" && one.tagName !== "BUTTON" && one.value !== one.defaultValue;
}

function typed() {
  return [...document.querySelectorAll("main input, main select, main textarea")].some(changed);
}

/** Something is typed, or was opened to be read: with both hands in the machine nobody touches the phone. */
function inUse() {
  return typed() || document.querySelectorAll("details[open]").length > opened;
}

function atRest() {
  return !inUse() && performance.now() - touched > REST_MS;
}

// Only a page that was asked for can be asked for again; an answer to a form cannot.
const address = at("fresh").querySelector("a").getAttribute("href");

function refresh() {
  if (address === location.pathname) location.reload();
}

// --- what others do ---

function show(html) {
  const page = new DOMParser().parseFromString(html, "text/html");
  region.replaceChildren(...page.body.childNodes);
  at("fresh").hidden = !region.querySelector(".news");
}

async function ask() {
  const headers = mark ? { "if-none-match": mark } : {};
  const signal = AbortSignal.timeout(PATIENCE_MS);
  let answer;
  try {
    answer = await fetch(`/jobs/${job}/now?since=${last}`, { headers, signal, redirect: "manual", cache: "no-store" });
    const html = answer.status === 200 ? await answer.text() : "";
    if (html) show(html);
  } catch {
    return line.is(false);
  }
  line.is(true);
  mark = answer.headers.get("etag") ?? mark;
  if ((!at("fresh").hidden || kept) && atRest()) refresh();
}

async function watch() {
  let leaving = false;
  addEventListener("pagehide", () => (leaving = true));
  addEventListener("pageshow", () => (leaving = false));
  for (;;) {
    if (document.visibilityState === "visible" && !leaving) await ask();
    await new Promise((done) => setTimeout(done, line.gone ? ASK_AGAIN_MS : ASK_MS));
  }
}

// --- no line ---

line.changed = () => {
  const old = kept ? `${words("asof", clock(kept))} ` : "";
  notice(line.gone ? old + words("gone") : "");
  if (!line.gone) return;
  // nobody knows who is here now
  region.replaceChildren();
  at("fresh").hidden = true;
  mark = "";
};

// what was sent by itself is part of the job now; what is being typed stays
addEventListener("arrived", () => {
  if (inUse()) at("fresh").hidden = false;
  else refresh();
});

// --- what a phone keeps of the pages ---

async function keepPages() {
  // at a desk the line is a cable, and a browser there may be anybody's
  if (!navigator.serviceWorker || !navigator.maxTouchPoints) return;
  const first = !navigator.serviceWorker.controller;
  try {
    await navigator.serviceWorker.register("/worker.js");
    const { active } = await navigator.serviceWorker.ready;
    // it came before there was anybody to keep it
    if (first) active.postMessage({ keep: location.pathname + location.search });
  } catch {
    // no protected line, or a private window: the pages work without
  }
}

async function keptPages() {
  const store = globalThis.caches && (await caches.has("pages")) ? await caches.open("pages") : null;
  const pages = store ? await store.keys() : [];
  const rows = await Promise.all(
    pages.map(async (page) => {
      const answer = await store.match(page);
      const link = document.createElement("a");
      const title = document.createElement("b");
      const when = document.createElement("span");
      title.textContent = /<title>(.*?)<\/title>/s.exec(await answer.text())?.[1] ?? page.url;
      when.textContent = clock(answer.headers.get("x-kept-at"));
      Object.assign(link, { href: page.url }).append(title, when);
      const row = document.createElement("li");
      row.append(link);
      return row;
    }),
  );
  at("pages").replaceChildren(...rows);
  at("nopages").hidden = rows.length > 0;
  at("forget").hidden = !rows.length;
}

if (kept) document.querySelectorAll("form").forEach(renewKey);
if (at("forget")) {
  at("forget").addEventListener("click", async () => {
    await caches.delete("pages");
    await keptPages();
  });
  await keptPages();
}
await list();
await sendAll();
keepPages();
if (job) watch();
document.documentElement.dataset.together = "yes";
