// What a phone has recorded or was told and the workshop does not have yet: kept in the browser's own database, sent when it can be.

const NAME = "counterpoise";
const TAKES = ["takes", "pieces"];
const WAITING = ["waiting"];

/** The database, or one in memory where the browser gives none (a private window, for instance). */
export async function openKeep() {
  try {
    return new Kept(await opened());
  } catch {
    return new Remembered();
  }
}

function opened() {
  return new Promise((done, fail) => {
    const asked = indexedDB.open(NAME, 2);
    asked.onupgradeneeded = (event) => {
      if (event.oldVersion < 1) {
        asked.result.createObjectStore("takes", { keyPath: "id" });
        asked.result.createObjectStore("pieces", { keyPath: ["take", "number"] });
      }
      // numbered by the browser: what was put down first is sent first
      asked.result.createObjectStore("waiting", { keyPath: "id", autoIncrement: true });
    };
    asked.onsuccess = () => {
      // a page of a newer version must not wait until this one is closed
      asked.result.onversionchange = () => asked.result.close();
      done(asked.result);
    };
    asked.onerror = () => fail(asked.error);
    asked.onblocked = () => fail(new Error("blocked"));
  });
}

class Kept {
  lasting = true;

  constructor(database) {
    this.database = database;
  }

  /** Run work on some stores in one transaction; resolves with its result once all of it is on disk. */
  #within(names, mode, work) {
    return new Promise((done, fail) => {
      const whole = this.database.transaction(names, mode);
      const asked = work(...names.map((name) => whole.objectStore(name)));
      whole.oncomplete = () => done(asked?.result);
      whole.onabort = whole.onerror = () => fail(whole.error);
    });
  }

  put(take) {
    return this.#within(TAKES, "readwrite", (takes) => takes.put(take));
  }

  takes() {
    return this.#within(TAKES, "readonly", (takes) => takes.getAll());
  }

  /** Add a piece, and to the take that it has one more. */
  add(take, number, rows) {
    return this.#within(TAKES, "readwrite", (takes, pieces) => {
      pieces.put({ take: take.id, number, rows });
      return takes.put(take);
    });
  }

  /** Keep something that is to be sent; resolves with its number once it is on disk. */
  wait(item) {
    return this.#within(WAITING, "readwrite", (items) => items.put(item));
  }

  /** What waits, in the order in which it was put down. */
  waiting() {
    return this.#within(WAITING, "readonly", (items) => items.getAll());
  }

  drop(id) {
    return this.#within(WAITING, "readwrite", (items) => items.delete(id));
  }

  /** The workshop has it, as this entry: what was put down on the same page has seen that too. */
  arrived(item, entry) {
    return this.#within(WAITING, "readwrite", (items) => {
      items.delete(item.id);
      const others = items.getAll();
      others.onsuccess = () => {
        for (const other of others.result) if (follows(other, item, entry)) items.put({ ...other, last: entry });
      };
    });
  }

  async piece(id, number) {
    return (await this.#within(TAKES, "readonly", (_, pieces) => pieces.get([id, number])))?.rows;
  }

  forget(id) {
    return this.#within(TAKES, "readwrite", (takes, pieces) => {
      pieces.delete(IDBKeyRange.bound([id, 0], [id, Infinity]));
      return takes.delete(id);
    });
  }
}

/** Whether something waits that was put down on the same state of the same job. */
function follows(other, item, entry) {
  return entry && other.job === item.job && other.id > item.id && other.last === item.last;
}

class Remembered {
  lasting = false;
  #items = new Map();
  #count = 0;
  #takes = new Map();
  #pieces = new Map();

  async put(take) {
    this.#takes.set(take.id, take);
  }

  async takes() {
    return [...this.#takes.values()];
  }

  async add(take, number, rows) {
    this.#takes.set(take.id, take);
    this.#pieces.set(`${take.id} ${number}`, rows);
  }

  async piece(id, number) {
    return this.#pieces.get(`${id} ${number}`);
  }

  async forget(id) {
    this.#takes.delete(id);
  }

  async wait(item) {
    const id = item.id ?? (this.#count += 1);
    this.#items.set(id, { ...item, id });
    return id;
  }

  async waiting() {
    return [...this.#items.values()];
  }

  async drop(id) {
    this.#items.delete(id);
  }

  async arrived(item, entry) {
    this.#items.delete(item.id);
    for (const other of this.#items.values()) if (follows(other, item, entry)) other.last = entry;
  }
}

/** What the workshop answered when it will not help to try again. */
export class Refused extends Error {}

async function ask(path, method = "GET", body = undefined) {
  const sent = body === undefined ? {} : { body: JSON.stringify(body), headers: { "content-type": "application/json" } };
  const patience = AbortSignal.timeout(20000);
  const answer = await fetch(path, { method, ...sent, signal: patience, cache: "no-store", credentials: "same-origin" });
  if (answer.ok) return answer.json();
  const told = await answer.json().catch(() => ({ what: `The workshop answered ${answer.status}`, remedy: "" }));
  const words = [told.what, told.remedy].filter(Boolean).map((part) => part.replace(/\.$/, "")).join(". ");
  if (answer.status >= 500) throw new Error(words);
  throw new Refused(`${words}.`);
}

const FIRST_WAIT_MS = 1000;
const LONGEST_WAIT_MS = 15000;

/** Sends one take piece by piece, and again after every failure, until the workshop has all of it. */
export class Sender {
  #sent = new Set();
  #known = false; // whether the workshop was asked what it has
  #running = false;
  #again = false;
  #wait = FIRST_WAIT_MS;
  #timer = 0;

  /** tell({pieces not sent, trouble}) after every step; done(page) once the recording is whole. */
  constructor(keep, take, tell, done) {
    Object.assign(this, { keep, take, tell, done });
    addEventListener("online", () => this.wake());
  }

  get base() {
    return `/api/jobs/${this.take.job}/record/${this.take.id}`;
  }

  get left() {
    return this.take.pieces - this.#sent.size;
  }

  /** Send what there is, now; called again while it sends, it goes round once more. */
  async wake() {
    clearTimeout(this.#timer);
    this.#again = true;
    if (this.#running) return;
    this.#running = true;
    try {
      while (this.#again) {
        this.#again = false;
        await this.#round();
      }
      this.#wait = FIRST_WAIT_MS;
    } catch (trouble) {
      this.#failed(trouble);
    } finally {
      this.#running = false;
    }
  }

  #failed(trouble) {
    const refused = trouble instanceof Refused;
    this.tell({ left: this.left, trouble: refused ? trouble.message : "", offline: !refused });
    if (refused) return;
    this.#known = false; // the last piece may have come, and its answer been lost
    this.#timer = setTimeout(() => this.wake(), this.#wait);
    this.#wait = Math.min(2 * this.#wait, LONGEST_WAIT_MS);
  }

  async #round() {
    let whole = false;
    if (!this.#known) {
      const come = await ask(this.base);
      whole = come.recording !== "";
      this.#sent = new Set(come.parts);
      this.#known = true;
    }
    for (let number = 0; number < this.take.pieces && !whole; number += 1) {
      if (this.#sent.has(number)) continue;
      await ask(`${this.base}/${number}`, "PUT", await this.keep.piece(this.take.id, number));
      this.#sent.add(number);
      this.tell({ left: this.left, trouble: "", offline: false });
    }
    if (!this.take.ended || this.#again) return;
    const { pieces, role, topRpm } = this.take;
    const kept = await ask(this.base, "POST", { parts: pieces, role, top_rpm: topRpm });
    await this.keep.forget(this.take.id);
    this.done(kept.page);
  }
}
