// What is put down on a job's page goes to the phone's own database first, then to the workshop, and is forgotten once
// it is there. Each carries the key of its form, so that a repeated one is written once.

import { openKeep } from "/keep.js";

// A decision or a closing hangs on what is known and agreed at that moment: it is not kept for later.
const LASTING = /^\/jobs\/(\d+)\/(findings|repairs|proofs|notes|machine|measure\/\w+\/findings)$/;
const PATIENCE_MS = 20000;
const AT_ONCE_MS = 8000; // a person waits no longer for the answer
const FIRST_WAIT_MS = 1000;
const LONGEST_WAIT_MS = 15000;

const keep = await openKeep();
const at = (id) => document.getElementById(id);
const passed = new WeakSet();
let wait = FIRST_WAIT_MS;
let timer = 0;

/** A text of the page's own, in the reader's language; "#" stands for a value. */
export function words(name, value = "") {
  const said = at("words").content.querySelector(`[data-say=${name}]`).textContent;
  return said.replace("#", value);
}

/** A moment as the page's language writes it. */
export function clock(moment) {
  return new Date(moment).toLocaleString(document.documentElement.lang, { dateStyle: "short", timeStyle: "short" });
}

// --- is there a line? ---

export const line = {
  gone: false,
  changed: () => {},
  /** Told by whoever asked the workshop for anything. */
  is(there) {
    if (this.gone !== there) return;
    this.gone = !there;
    this.changed();
    if (there) soon(0);
  },
};

// --- one form as it is kept ---

function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** A page that was kept, or a form that was taken, is sent again only as something new. */
export function renewKey(form) {
  const key = form.querySelector("[name=_key]");
  if (key) key.value = newKey();
}

function gathered(form, pressed, job) {
  const fields = [...new FormData(form)].filter(([, value]) => typeof value === "string" || value.size);
  if (pressed?.name) fields.push([pressed.name, pressed.value]);
  const last = fields.find(([name]) => name === "last")?.[1];
  const action = form.getAttribute("action");
  return { job, action, fields, last: Number(last), words: inWords(form, pressed), at: Date.now(), state: "later", why: "" };
}

/** What a person would say of it: the heading it stands under, what was typed or ticked, what was pressed. */
function inWords(form, pressed) {
  const head = form.closest(".part")?.querySelector(".do, .tag")?.textContent.trim() ?? "";
  const said = [];
  for (const one of form.elements) {
    if (one.type === "hidden" || one.tagName === "BUTTON" || !one.name) continue;
    const label = one.closest("label")?.textContent.trim() ?? "";
    if (one.type === "checkbox" || one.type === "radio") {
      if (one.checked) said.push(label);
    } else if (one.type === "file") {
      said.push(...[...one.files].map((file) => file.name));
    } else if (one.value && (one.tagName !== "INPUT" || one.value !== one.defaultValue)) {
      said.push(one.tagName === "SELECT" ? one.selectedOptions[0].textContent.trim() : one.value);
    }
  }
  if (pressed?.value) said.unshift(pressed.textContent.trim());
  return { head, said: said.join("; ") };
}

function tell(form, name, detail) {
  form.dispatchEvent(new CustomEvent(name, { bubbles: true, detail }));
}

// --- sending ---

async function post(item) {
  const body = new FormData();
  for (const [name, value] of item.fields) body.append(name, name === "last" ? item.last : value);
  const headers = { prefer: "return=minimal" };
  const signal = AbortSignal.timeout(PATIENCE_MS);
  try {
    return await fetch(item.action, { method: "POST", body, headers, signal, redirect: "manual", cache: "no-store" });
  } catch {
    return null;
  }
}

/** What the workshop says to it: "sent", "later", "nobody" (signed in), or "asks" with the reason. */
async function sent(item) {
  const answer = await post(item);
  line.is(answer !== null);
  if (!answer) return { state: "later" };
  if (answer.status === 204) {
    await keep.arrived(item, Number(answer.headers.get("x-entry")));
    return { state: "sent", page: answer.headers.get("location") };
  }
  if (answer.status === 401 || answer.type === "opaqueredirect") return { state: "nobody" };
  if (answer.status >= 500 || answer.status === 408 || answer.status === 429) return { state: "later" };
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const why = page.querySelector("main [role=alert], main .do")?.textContent.trim();
  return { state: "asks", why: answer.status === 409 ? page.title : why || page.title };
}

/** Send what waits, in its order; what the workshop does not take holds up what was put down after it. */
async function round(wanted) {
  const held = new Set();
  const told = new Map();
  for (const { id } of await keep.waiting()) {
    // read again: an entry that arrived is known to those behind it
    const item = (await keep.waiting()).find((each) => each.id === id);
    if (!item || (held.has(item.job) && item.id !== wanted)) continue;
    const answer = await sent(item);
    told.set(id, answer);
    if (answer.state === "sent") continue;
    if (answer.state === "later" || answer.state === "nobody") {
      if (item.state !== answer.state) await keep.wait({ ...item, state: answer.state, why: "" });
      break;
    }
    held.add(item.job);
    if (item.id !== wanted) await keep.wait({ ...item, ...answer });
  }
  return told;
}

let busy = Promise.resolve();

/** One round at a time, also of several pages of one browser. */
function inTurn(work) {
  const locked = () => (navigator.locks ? navigator.locks.request("counterpoise waiting", work) : work());
  const next = busy.then(locked, locked);
  busy = next.catch(() => {});
  return next;
}

function soon(ms) {
  clearTimeout(timer);
  timer = setTimeout(sendAll, ms);
}

/** Send all that waits, now; where there is no line, again later by itself. */
export async function sendAll() {
  const told = await inTurn(() => round());
  const left = await keep.waiting();
  await list();
  const states = [...told.values()].map((answer) => answer.state);
  if (states.includes("sent")) dispatchEvent(new Event("arrived"));
  if (!states.includes("later")) {
    wait = FIRST_WAIT_MS;
    return;
  }
  if (left.length) soon(wait);
  wait = Math.min(2 * wait, LONGEST_WAIT_MS);
}

// --- a form is sent ---

/** As if this script were not there. */
function pass(form, pressed) {
  passed.add(form);
  tell(form, "idle");
  form.requestSubmit(pressed);
  passed.delete(form);
}

async function take(form, pressed, job) {
  const item = gathered(form, pressed, job);
  tell(form, "busy", pressed);
  try {
    item.id = await keep.wait(item);
  } catch {
    if (!line.gone) return pass(form, pressed);
    tell(form, "idle");
    return notice(words("full"));
  }
  const answer = await (line.gone ? null : soonEnough(item.id));
  if (answer?.state === "sent") return location.assign(answer.page);
  if (answer?.state === "asks") {
    // the workshop's own page shows what was typed, with what is wrong or what is there
    await keep.drop(item.id);
    return pass(form, pressed);
  }
  tell(form, "idle");
  form.reset();
  renewKey(form);
  notice(`${words("kept")} ${[item.words.head, item.words.said].filter(Boolean).join(": ")}`);
  await list();
  soon(wait);
}

function soonEnough(id) {
  const answered = inTurn(() => round(id)).then((told) => told.get(id));
  return Promise.race([answered, new Promise((done) => setTimeout(done, AT_ONCE_MS))]);
}

/** Say something in the line above the work. */
export function notice(text) {
  at("line").hidden = !text;
  if (at("line").textContent !== text) at("line").textContent = text;
}

addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post" || passed.has(form)) return;
  const job = LASTING.exec(form.getAttribute("action"))?.[1];
  if (job) {
    event.preventDefault();
    take(form, event.submitter, Number(job));
  } else if (line.gone) {
    event.preventDefault();
    notice(words("refused"));
  }
});

// --- what waits is shown ---

function paragraph(text, name = "") {
  const made = document.createElement("p");
  Object.assign(made, { textContent: text, className: name });
  return made;
}

function button(text, work) {
  const made = document.createElement("button");
  Object.assign(made, { type: "button", className: "quiet", textContent: text });
  made.addEventListener("click", work);
  return made;
}

function row(item, behind) {
  const made = document.createElement("li");
  const head = document.createElement("b");
  head.textContent = item.words.said || item.words.head;
  const what = paragraph("");
  what.append(head, ...(item.words.said ? [` ${item.words.head}`] : []));
  const state = item.state === "asks" ? `${words("not")} ${item.why}` : words(behind ? "behind" : item.state);
  made.append(what, paragraph(`${words("job", item.job)}, ${clock(item.at)}`, "aside"), paragraph(state, item.state === "asks" ? "" : "aside"));
  if (item.state === "asks") made.append(button(words("decide"), () => decide(item)));
  made.append(button(words("drop"), () => drop(item)));
  return made;
}

/** The workshop's own page says what is there and what was typed; what is saved there has the same key. */
function decide(item) {
  const form = document.createElement("form");
  const transfer = new DataTransfer();
  Object.assign(form, { method: "post", enctype: "multipart/form-data", hidden: true });
  form.setAttribute("action", item.action);
  for (const [name, value] of item.fields) {
    const field = document.createElement("input");
    field.name = name;
    if (typeof value === "string") {
      field.type = "hidden";
      field.value = name === "last" ? item.last : value;
    } else {
      field.type = "file";
      transfer.items.clear();
      transfer.items.add(value);
      field.files = transfer.files;
    }
    form.append(field);
  }
  document.body.append(form);
  passed.add(form);
  form.requestSubmit();
}

async function drop(item) {
  if (!confirm(words("sure"))) return;
  // not while it is on its way: it would be put back as not taken
  await inTurn(() => keep.drop(item.id));
  await sendAll();
}

export async function list() {
  const items = await keep.waiting();
  const asks = items.some((item) => item.state === "asks");
  const held = new Set();
  const rows = items.map((item) => {
    const made = row(item, held.has(item.job));
    held.add(item.job);
    return made;
  });
  at("waits").hidden = !items.length;
  at("waits").querySelector("ul").replaceChildren(...rows);
  const count = items.length === 1 ? words("one") : words("more", items.length);
  at("count").textContent = asks ? `${count}. ${words("asks")}` : count;
  if (items.length && !keep.lasting) notice(words("fleeting"));
}

addEventListener("online", () => soon(0));
