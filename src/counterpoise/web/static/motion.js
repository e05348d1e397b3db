// What the live page makes of the readings: a trace, how long it has been still, and what the sensor can do.

const SHOWN_MS = 8000;
const WINDOW_MS = 1000;
const STILL_MS2 = 0.12; // as the reading on the server has it
const COARSE_MS2 = 0.045;

/** The size of the shake over the last seconds, drawn. */
export class Trace {
  #points = [];
  scale = 0.5; // m/s2 from the middle to the edge

  constructor(canvas) {
    this.canvas = canvas;
  }

  clear() {
    this.#points = [];
  }

  add(t, { x, y, z }) {
    this.#points.push([t, Math.hypot(x, y, z)]);
    while (this.#points[0][0] < t - SHOWN_MS) this.#points.shift();
  }

  draw() {
    const pen = this.canvas.getContext("2d");
    const { width, height } = this.canvas;
    pen.clearRect(0, 0, width, height);
    pen.lineWidth = 2;
    pen.strokeStyle = "#8d8a80";
    pen.strokeRect(1, 1, width - 2, height - 2);
    if (this.#points.length < 2) return;
    const mean = this.#points.reduce((sum, [, size]) => sum + size, 0) / this.#points.length;
    const most = this.#points.reduce((far, [, size]) => Math.max(far, Math.abs(size - mean)), 0.5);
    const end = this.#points.at(-1)[0];
    pen.strokeStyle = "#14171a";
    pen.beginPath();
    for (const [t, size] of this.#points) {
      pen.lineTo(width * (1 - (end - t) / SHOWN_MS), (height / 2) * (1 - (0.9 * (size - mean)) / most));
    }
    pen.stroke();
    this.scale = most / 0.9;
  }
}

/** How still the phone lies: the spread of the last second, on the axis that moves most. */
export class Still {
  #last = [];
  #since = 0;
  #now = 0;
  #first = null;
  #count = 0;
  shake = 0;
  moved = false;
  stepMs2 = Infinity;

  add(t, { x, y, z }) {
    const before = this.#last.at(-1);
    if (before) for (const step of [x - before[1], y - before[2], z - before[3]]) this.#step(Math.abs(step));
    this.#first ??= t;
    this.#now = t;
    this.#count += 1;
    this.#last.push([t, x, y, z]);
    while (this.#last[0][0] < t - WINDOW_MS) this.#last.shift();
    this.shake = Math.max(...[1, 2, 3].map((axis) => this.#spread(axis)));
    if (this.shake < STILL_MS2) return;
    this.#since = t;
    this.moved = true;
  }

  #step(size) {
    if (size > 1e-4) this.stepMs2 = Math.min(this.stepMs2, size);
  }

  #spread(axis) {
    const mean = this.#last.reduce((sum, row) => sum + row[axis], 0) / this.#last.length;
    return Math.sqrt(this.#last.reduce((sum, row) => sum + (row[axis] - mean) ** 2, 0) / this.#last.length);
  }

  get forS() {
    return Math.max(0, this.#now - Math.max(this.#since, this.#first ?? 0)) / 1000;
  }

  get coarse() {
    return this.#count > 100 && this.stepMs2 >= COARSE_MS2 && this.stepMs2 < 1;
  }

  get rateHz() {
    return this.#count > 100 ? ((this.#count - 1) * 1000) / (this.#now - this.#first) : 0;
  }
}

/** What this sensor can and cannot show, in words. */
export function sensorWords(still, topRpm, turns = "drum") {
  const rate = still.rateHz;
  if (!rate) return "Waiting for the sensor.";
  const fastest = Math.floor((27 * rate) / 50) * 50;
  const words = [
    `This phone gives ${Math.round(rate)} readings a second${still.coarse ? `, rounded to ${still.stepMs2.toFixed(1)} m/s²` : ""}.`,
    `The ${turns} can be followed up to ${fastest} rpm, its second order up to half of that.`,
  ];
  if (still.coarse) words.push("Browsers round on purpose, so that no page can tell one phone from another: a strong shake shows, a faint one drowns.");
  if (topRpm && topRpm > fastest) words.push(`Too slow for ${topRpm} rpm: pick a slower programme, or record with a logging program.`);
  return words.join(" ");
}
