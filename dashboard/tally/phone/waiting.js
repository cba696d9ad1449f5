// Records wait in this browser until the farm's computer has stored them.
//
// Each has a key of its own, so that one that is sent twice is stored once. A record is sent for
// the person and the farm it was made for, and for nobody else.

const DATABASE = "tallybed";
const WAITING = "waiting";
const DAYS = "days";
const LAST = "last";
const ANSWERS_WITHIN_MS = 15_000;
const TRIED_AGAIN_MS = [1_000, 2_000, 5_000, 15_000, 30_000];
const PARTS = [
  "token", "person", "farm", "plot", "day", "what", "stems", "culls", "words", "accept",
  "made",
];
const PHOTO_PARTS = ["token", "person", "farm", "plot", "day", "made", "photo"];
const PHOTO_ANSWERS_WITHIN_MS = 60_000;

// What becomes of a record that was not stored: these are sent again, all others wait for a person.
const LATER = new Set(["busy", "signed out", "role", "person", "farm", "elsewhere"]);

const asked = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

const finished = (transaction) =>
  new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error);
  });

export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

export class Box {
  static async open() {
    const request = indexedDB.open(DATABASE, 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore(WAITING, { keyPath: "token" });
      request.result.createObjectStore(DAYS);
    };
    const box = new Box();
    box.database = await asked(request);
    return box;
  }

  // On the phone's disk before it returns, so that a flat battery loses nothing.
  #writing(store) {
    const transaction = this.database.transaction(store, "readwrite", { durability: "strict" });
    return [transaction.objectStore(store), finished(transaction)];
  }

  async records() {
    const store = this.database.transaction(WAITING).objectStore(WAITING);
    return (await asked(store.getAll())).sort((one, other) => one.made - other.made);
  }

  async keep(record, instead = null) {
    const [store, kept] = this.#writing(WAITING);
    store.put(record);
    if (instead !== null) store.delete(instead);
    await kept;
  }

  async drop(token) {
    const [store, dropped] = this.#writing(WAITING);
    store.delete(token);
    await dropped;
  }

  async keepDay(day) {
    const [store, kept] = this.#writing(DAYS);
    store.put(day, LAST);
    await kept;
  }

  async day() {
    return (await asked(this.database.transaction(DAYS).objectStore(DAYS).get(LAST))) ?? null;
  }
}

async function answerTo(record) {
  const isPhoto = record.what === "photo";
  const parts = isPhoto ? PHOTO_PARTS : PARTS;
  const body = JSON.stringify(Object.fromEntries(parts.map((name) => [name, record[name]])));
  let answer;
  try {
    answer = await fetch(isPhoto ? "/plots/photo" : "/plots/record", {
      method: "POST",
      headers: { "content-type": "application/json" },
      body,
      signal: AbortSignal.timeout(isPhoto ? PHOTO_ANSWERS_WITHIN_MS : ANSWERS_WITHIN_MS),
    });
  } catch {
    return { stored: false, kind: "no signal", words: [] };
  }
  if (answer.status === 401) return { stored: false, kind: "signed out", words: [] };
  try {
    return await answer.json();
  } catch {
    // The gate's own refusals, or an answer that was cut off.
    if (answer.status === 403) return { stored: false, kind: "role", words: [] };
    if (answer.status === 413) return { stored: false, kind: "refused", words: ["This record is too large."] };
    return { stored: false, kind: "busy", words: [] };
  }
}

export class Sender {
  constructor(box, heard) {
    this.box = box;
    this.heard = heard; // told after each answer: the record, and what was said
    this.link = "on"; // or why nothing is sent: "no signal", "signed out", "busy", ...
    this.sending = false;
    this.failures = 0;
    this.tries = new Map(); // by key: one that fails again and again keeps no other waiting
    this.timer = null;
  }

  async #inTurn(person, farm) {
    const own = (await this.box.records()).filter(
      (each) => each.person === person && each.farm === farm && each.state === "waiting",
    );
    const tried = (record) => this.tries.get(record.token) ?? 0;
    return own.sort((one, other) => tried(one) - tried(other));
  }

  // Send what waits of this person at this farm, one after the other, the oldest first.
  async send(person, farm) {
    clearTimeout(this.timer);
    if (this.sending) {
      this.again = true;
      return;
    }
    this.sending = true;
    try {
      do {
        this.again = false;
        for (const record of await this.#inTurn(person, farm)) {
          if (!(await this.#sendOne(record))) {
            this.again = false;
            break;
          }
        }
      } while (this.again);
    } finally {
      this.sending = false;
    }
    if (this.link !== "on") this.#tryAgain(person, farm);
    await this.heard(null, null);
  }

  // Whether to go on with the next one.
  async #sendOne(record) {
    const said = await answerTo(record);
    if (said.kind === "no signal" || LATER.has(said.kind)) {
      this.link = said.kind;
      if (said.kind === "busy") this.tries.set(record.token, (this.tries.get(record.token) ?? 0) + 1);
      await this.heard(record, said);
      return false;
    }
    this.link = "on";
    this.failures = 0;
    if (said.stored) await this.box.drop(record.token);
    else await this.box.keep({ ...record, state: "stopped", kind: said.kind, said: said.words });
    await this.heard(record, said);
    return true;
  }

  #tryAgain(person, farm) {
    const pause = TRIED_AGAIN_MS[Math.min(this.failures, TRIED_AGAIN_MS.length - 1)];
    this.failures += 1;
    this.timer = setTimeout(() => this.send(person, farm), pause);
  }
}
