// Records a spin with the motion sensor of this phone. keep.js keeps the readings and sends them.

import { Sender, openKeep } from "/keep.js";
import { Still, Trace, sensorWords } from "/motion.js";

const COUNT_S = 5;
const PIECE_ROWS = 180; // three seconds at 60 readings a second
const LONGEST_MS = 32 * 60 * 1000;
const SETTLED_S = 20;

const at = (id) => document.getElementById(id);
const machine = at("record").dataset;
const job = Number(machine.job);
const keep = await openKeep();
const say = (id, words) => {
  if (at(id).textContent !== words) at(id).textContent = words;
};
const pause = (ms) => new Promise((done) => setTimeout(done, ms));

function trouble(words) {
  at("trouble").hidden = !words;
  say("trouble", words);
  if (words) at("trouble").scrollIntoView({ block: "nearest" });
}

function newId() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

// --- may this page see the motion? ---

/** Why there is no sensor for this page, or "" where there may be one. */
function missing() {
  if (!globalThis.isSecureContext) {
    return "Browsers give the motion sensor only to pages that come over a protected line, and this one did not. Start the pages with “counterpoise serve --phone” and open this page with the code it shows.";
  }
  if (!("DeviceMotionEvent" in globalThis)) return "This browser gives no page the motion sensor. Use another browser, or send the file of a logging program.";
  return "";
}

/** Some browsers ask the person, and only in answer to a tap; the others just send the readings. */
async function permitted() {
  if (typeof DeviceMotionEvent.requestPermission !== "function") return true;
  try {
    return (await DeviceMotionEvent.requestPermission()) === "granted";
  } catch {
    return false;
  }
}

const DENIED = "The browser was told not to show this page the motion of the phone, so nothing can be recorded. Close this tab, open the page again, press the button and answer “Allow”. If it no longer asks: the settings of the browser, motion sensors, allow for this page.";
const SILENT = "No readings come from the motion sensor. A computer has none; on a phone look in the settings of the browser whether motion sensors are allowed for this page.";

// --- the screen must stay on, or the browser stops the readings ---

const screen = {
  lock: null,
  async hold() {
    if (!navigator.wakeLock) return this.without();
    try {
      this.lock = await navigator.wakeLock.request("screen");
      say("awake", "The screen stays on by itself.");
    } catch {
      this.without();
    }
  },
  without() {
    say("awake", "The screen cannot be kept on here; when it goes dark the readings stop.");
  },
  release() {
    this.lock?.release();
    this.lock = null;
  },
};

// --- one recording ---

class Take {
  #rows = { t_ms: [], x: [], y: [], z: [] };
  #begun = null;
  #last = -1;
  #before = "";
  #saving = Promise.resolve();
  count = 0;
  recording = false;

  constructor(role, topRpm, sender) {
    this.kept = { id: newId(), job, role, topRpm, begun: new Date().toISOString(), pieces: 0, lastsMs: 0, ended: false };
    this.sender = sender(this.kept);
    this.trace = new Trace(at("trace"));
    this.still = new Still();
    this.heard = (event) => this.hear(event);
  }

  listen() {
    addEventListener("devicemotion", this.heard);
  }

  /** One reading. Gravity is wanted in it: it tells how the phone lies. */
  hear(event) {
    const full = event.accelerationIncludingGravity;
    const bare = event.acceleration;
    const one = full && full.x !== null ? full : bare;
    if (!one || one.x === null || one.y === null || one.z === null) return;
    const stamp = event.timeStamp > 0 ? event.timeStamp : performance.now();
    this.#begun ??= stamp;
    const t = stamp - this.#begun;
    const values = `${one.x} ${one.y} ${one.z}`;
    // some browsers keep a coarse clock, and several readings share a time: the reader spreads them
    if (t < this.#last || (t === this.#last && values === this.#before)) return;
    this.#last = t;
    this.#before = values;
    this.count += 1;
    this.trace.add(t, one);
    this.still.add(t, one);
    if (this.recording) this.#put(t, one);
  }

  /** From here on the readings count; time starts again. */
  begin() {
    this.#begun = null;
    this.#last = -1;
    this.still = new Still();
    this.trace.clear();
    this.recording = true;
  }

  get lastsMs() {
    return Math.max(0, this.#last);
  }

  #put(t, { x, y, z }) {
    const { t_ms, x: xs, y: ys, z: zs } = this.#rows;
    t_ms.push(Math.round(t * 100) / 100);
    xs.push(Math.round(x * 1e4) / 1e4);
    ys.push(Math.round(y * 1e4) / 1e4);
    zs.push(Math.round(z * 1e4) / 1e4);
    if (t_ms.length >= PIECE_ROWS) this.save();
  }

  /** Put what has gathered into the browser's database, then send it; pieces are kept in their order. */
  save() {
    const rows = this.#rows;
    if (rows.t_ms.length) {
      this.#rows = { t_ms: [], x: [], y: [], z: [] };
      this.#saving = this.#saving.then(async () => {
        this.kept.pieces += 1;
        this.kept.lastsMs = rows.t_ms.at(-1);
        await keep.add(this.kept, this.kept.pieces - 1, rows);
        this.sender.wake();
      });
    }
    return this.#saving;
  }

  leave() {
    this.recording = false;
    removeEventListener("devicemotion", this.heard);
  }

  async end() {
    this.leave();
    await this.save();
    if (!this.kept.pieces) return false;
    this.kept.ended = true;
    await keep.put(this.kept);
    return true;
  }
}

// --- the page ---

let take = null;
let drawing = 0;

function sending({ left, trouble: words, offline }) {
  if (words) return refused(words);
  const waits = left ? `${left} ${left === 1 ? "piece" : "pieces"} kept here and not sent yet` : "All sent so far";
  say("sending", offline ? `No line to the workshop: ${waits}. It is tried again by itself.` : `${waits}.`);
}

/** The workshop will not take it as it is. Of a recording that is over, the rest is done from the list. */
async function refused(words) {
  if (!take?.kept.ended) return trouble(words);
  at("stop").disabled = false;
  back(words);
  await list();
}

function topRpm() {
  const typed = at("top").value.trim().replace(",", ".");
  if (!typed) return null;
  const rpm = Number(typed);
  const { slowest, fastest } = machine;
  if (!(rpm >= Number(slowest) && rpm <= Number(fastest))) {
    throw new Error(`Spin speed: give a number from ${slowest} to ${fastest}, or leave it empty.`);
  }
  return rpm;
}

function gauges() {
  const lasts = take.recording ? Math.floor(take.lastsMs / 1000) : 0;
  say("lasts", `${Math.floor(lasts / 60)}:${String(lasts % 60).padStart(2, "0")}`);
  say("still", String(Math.floor(take.still.forS)));
  say("shake", take.still.shake.toFixed(1));
  say("sensor", sensorWords(take.still, take.kept.topRpm ?? (Number(machine.top) || null), machine.turns));
  if (take.recording) {
    const stopped = take.still.moved && take.still.forS >= SETTLED_S;
    say("state", stopped ? `Still for a while. Has the ${machine.turns} stopped? Then press Stop.` : take.still.moved ? "Recording. Hands off." : `Recording. Now start the ${machine.run}.`);
    if (take.lastsMs > LONGEST_MS) stop();
  }
  take.trace.draw();
  say("scale", take.trace.scale.toFixed(1));
}

async function start() {
  trouble("");
  let told = null;
  try {
    told = topRpm();
  } catch (wrong) {
    return trouble(wrong.message);
  }
  const none = missing();
  if (none) return trouble(none);
  if (!(await permitted())) return trouble(DENIED);
  at("before").hidden = true;
  at("live").hidden = false;
  at("live").scrollIntoView();
  if (!keep.lasting) trouble("This browser keeps nothing when the page is closed (a private window?). Leave it open until all is sent.");
  const lead = (page) => location.assign(page);
  take = new Take(at("role").value, told, (kept) => new Sender(keep, kept, sending, lead));
  take.listen();
  screen.hold();
  drawing = setInterval(gauges, 100);
  say("sending", "");
  await counted(take);
}

/** Count down, so that the hand that pressed is off the machine; then record, where readings come. */
async function counted(one) {
  for (let left = COUNT_S; left > 0 && take === one; left -= 1) {
    say("state", `Hands off. Recording starts in ${left} s.`);
    await pause(1000);
  }
  if (take !== one) return; // Stop was pressed
  if (!one.count) return back(SILENT);
  one.begin();
  await keep.put(one.kept);
}

/** Back to the question which spin it is. */
function back(words) {
  clearInterval(drawing);
  screen.release();
  take?.leave();
  take = null;
  at("live").hidden = true;
  at("before").hidden = false;
  trouble(words);
}

async function stop() {
  if (!take?.recording) return take && !take.kept.ended ? back("") : undefined;
  at("stop").disabled = true;
  say("state", "Sending the last of it. It stays on this phone until the workshop has all.");
  screen.release();
  if (await take.end()) {
    await list();
    take.sender.wake();
  } else {
    await keep.forget(take.kept.id);
    at("stop").disabled = false;
    back("Nothing was recorded.");
  }
}

// --- what was recorded before and is still here ---

function line(one) {
  const row = document.createElement("li");
  const words = document.createElement("p");
  const state = document.createElement("p");
  const when = new Date(one.begun).toLocaleString([], { dateStyle: "short", timeStyle: "short" });
  words.textContent = `${when}, job ${one.job}: ${Math.round(one.lastsMs / 1000)} s in ${one.pieces} pieces${one.ended ? "" : ", cut off"}.`;
  state.className = "aside";
  row.append(words, state, button("Send it now", () => resend(one, state)), button("Throw it away", () => drop(one)));
  return row;
}

function button(words, work) {
  const made = document.createElement("button");
  Object.assign(made, { type: "button", className: "quiet", textContent: words });
  made.addEventListener("click", work);
  return made;
}

async function resend(one, state) {
  one.ended = true;
  await keep.put(one);
  const tell = ({ left, trouble: words, offline }) => {
    state.textContent = words || (offline ? `No line to the workshop; ${left} pieces wait. It is tried again by itself.` : `${left} pieces to go.`);
  };
  new Sender(keep, one, tell, (page) => location.assign(page)).wake();
}

async function drop(one) {
  if (!confirm("Throw this recording away? It cannot be brought back.")) return;
  await keep.forget(one.id);
  await list();
}

async function list() {
  const all = (await keep.takes()).filter((one) => one.id !== take?.kept.id);
  const empty = all.filter((one) => !one.pieces);
  for (const one of empty) await keep.forget(one.id);
  const rest = all.filter((one) => one.pieces);
  at("takes").replaceChildren(...rest.map(line));
  at("kept").hidden = !rest.length;
}

document.addEventListener("visibilitychange", () => {
  if (!take?.recording) return;
  if (document.visibilityState === "visible") screen.hold();
  else take.save();
});
addEventListener("pagehide", () => take?.recording && take.save());
at("start").addEventListener("click", start);
at("stop").addEventListener("click", stop);
at("before").hidden = false;
at("dark").hidden = "wakeLock" in navigator;
trouble(missing());
await list();
document.documentElement.dataset.ready = "yes";
