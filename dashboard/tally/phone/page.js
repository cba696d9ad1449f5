// The page at the plots: one plot at a time, its counts, and a button that records them.
//
// A record is first kept in this browser and then sent; what is typed is kept as it is typed.

import { alert, button, clock, count, done, lines, note, number, paragraph, part, words } from "/plots/parts.js";
import {
  PICKINGS, asItStands, closedBy, isLeft, localDay, nextLeft, own, recordOf, withoutOutcomes,
} from "/plots/day.js";
import { Box, Sender, newKey } from "/plots/waiting.js";
import { photoControl, photoText } from "/plots/photo.js";

const ASKED_EVERY_MS = 60_000;
const LOOKED_AT_EVERY_MS = 15_000;
const OLD_AFTER_MS = 10 * 60_000;
const DOUBLE_TAP_MS = 400;
const LONGEST_REASON = 60;
const LONGEST_STORY = 200;
const WHOLE = /^\s*\d{1,6}\s*$/;

const NOTHING_TYPED =
  "No stems are filled in. Write 0 where there were none, or tap 'Nothing to cut' or 'Not picked'. " +
  "These two differ.";
const FIGURES_ABOVE = "There are figures in the fields above. Clear them first, or tap Record.";
const STORY_TYPED = "The note below is not stored. Tap 'Store note' first, or clear it.";
const SAY_WHAT = "Say what happened in a few words.";
const SAY_WHY = "This is unlikely. If it is true, say why below and tap Record again.";
const NO_ROOM = "This phone could not store the record, so nothing is recorded. Free some space and tap again.";
const NO_STORAGE =
  "This browser stores nothing, so no record would wait here without signal. Use the full tally page.";
const TOO_LARGE = "This photo is too large to send. Choose a smaller size in the camera's settings.";
const NO_PLOTS =
  "No open trial has plots in the ground on this day. Choose the picking day, or ask the grower whether the trial is closed.";

const main = document.getElementById("main");
const head = document.getElementById("head");
const bar = document.getElementById("bar");
const status = document.getElementById("status");

let box = null;
let sender = null;
let day = null; // the plots as last told
let records = []; // all that waits in this browser, of whomever
let here = null; // the code of the plot at which somebody stands
let heardAt = 0; // by this phone's clock
let behind = 0; // how far this phone's clock is behind the farm's, in ms
let drawn = ""; // what the page shows, so that a field in use is not drawn again
let barDrawn = "";
let tappedAt = -Infinity;
let keeping = false;
const photographed = new Map(); // by plot: when the farm's computer last took a photo
const stored = new Map(); // by plot and day: what the farm's computer took, and when it said so

const now = () => Date.now() + behind;
const mine = () => own(records, day);
const plots = () => day.plots.map((plot) => asItStands(plot, day, mine()));
const placeOf = (plot) => `${plot} ${day.day}`;

// ------------------------------------------------------------------------ what is typed

const typedAt = (plot) => `tallybed typed ${JSON.stringify([day.farm, day.person, day.day, plot])}`;

function typedFor(plot) {
  try {
    return JSON.parse(localStorage.getItem(typedAt(plot))) ?? {};
  } catch {
    return {};
  }
}

function typeIn(plot, key, text) {
  const typed = { ...typedFor(plot), [key]: text };
  if (text === "") delete typed[key];
  try {
    if (Object.keys(typed).length === 0) localStorage.removeItem(typedAt(plot));
    else localStorage.setItem(typedAt(plot), JSON.stringify(typed));
  } catch {
    // A full phone: the field still has it.
  }
}

const forget = (plot) => localStorage.removeItem(typedAt(plot));

function fieldsOf(record) {
  const typed = {};
  for (const [grade, text] of record.stems) typed[`grade ${grade}`] = text;
  for (const [reason, text] of record.culls) typed[`cull ${reason}`] = text;
  if (record.what === "note" || record.what === "lost") typed.happened = record.words;
  return typed;
}

// ------------------------------------------------------------------------ asking and sending

function take(told) {
  if (day !== null && (day.person !== told.person || day.farm !== told.farm)) drawn = "";
  day = told;
  heardAt = told.heardAt;
  behind = told.behind;
}

async function ask(asked) {
  const query = asked ? `?${new URLSearchParams({ day: asked })}` : "";
  let answer;
  try {
    answer = await fetch(`/plots/day${query}`, { signal: AbortSignal.timeout(15_000) });
  } catch {
    sender.link = "no signal";
    return false;
  }
  if (answer.status === 401) sender.link = "signed out";
  else if (answer.status === 403) sender.link = "role";
  if (!answer.ok) {
    if (sender.link === "on") sender.link = "busy";
    return false;
  }
  const told = await answer.json();
  sender.link = "on";
  take({ ...told, heardAt: Date.now(), behind: told.now - Date.now(), asked: Boolean(asked) });
  await box.keepDay(day);
  return true;
}

// The day that was asked for; today goes on to be today after midnight.
const askedDay = () => (day !== null && (day.asked || day.day !== day.today) ? day.day : "");

async function askAgain() {
  if (day !== null && document.visibilityState === "hidden") return;
  await ask(askedDay());
  if (day !== null) send();
  draw();
}

async function goToDay(on) {
  here = null;
  if (!(await ask(on)) && day !== null) take({ ...withoutOutcomes(day, on), asked: true });
  remember();
  draw();
}

function send() {
  sender.send(day.person, day.farm);
}

async function heard(record, said) {
  if (record !== null && said.stored && record.what === "photo") {
    photographed.set(record.plot, Date.now());
  } else if (record !== null && said.stored) {
    stored.set(`${record.plot} ${record.day}`, { at: Date.now(), typed: fieldsOf(record) });
    settle(record);
  }
  if (said !== null && ["person", "farm", "meanwhile"].includes(said.kind)) await ask(askedDay());
  records = await box.records();
  draw();
}

// What was stored is told from now on, before the plots are asked for again.
function settle(record) {
  day.plots = day.plots.map((plot) =>
    plot.plot === record.plot && record.day === day.day
      ? { ...asItStands(plot, day, [{ ...record, state: "waiting" }]), record: undefined }
      : plot,
  );
  const trial = day.trials[day.plots.find((plot) => plot.plot === record.plot)?.trial];
  for (const [reason] of record.culls) {
    if (trial && !trial.reasons.includes(reason)) trial.reasons.push(reason);
  }
  box.keepDay(day);
}

async function keep(what, told) {
  if (keeping) return;
  keeping = true;
  const plot = here;
  const before = recordOf({ plot }, day, mine());
  const record = {
    token: newKey(), person: day.person, farm: day.farm, plot, day: day.day, what,
    stems: [], culls: [], words: "", accept: "", ...told,
    made: Math.round(now()), state: "waiting", kind: "", said: [],
  };
  try {
    await box.keep(record, before?.state === "stopped" && what !== "note" ? before.token : null);
  } catch {
    say(NO_ROOM);
    return;
  } finally {
    keeping = false;
  }
  if (PICKINGS.includes(what)) forget(plot);
  else typeIn(plot, "happened", "");
  records = await box.records();
  drawn = "";
  draw();
  scrollTo(0, 0);
  send();
}

// A photo waits like a record until it is stored; what is typed for the plot stays as it is.
async function keepPhoto(plot, file) {
  sayOfPhotos("Making the photo smaller …");
  const photo = await photoText(file);
  if (photo === null) {
    sayOfPhotos("");
    say(TOO_LARGE);
    return;
  }
  const record = {
    token: newKey(), person: day.person, farm: day.farm, plot, day: localDay(now()), what: "photo",
    stems: [], culls: [], words: "", accept: "", photo,
    made: Math.round(now()), state: "waiting", kind: "", said: [],
  };
  try {
    await box.keep(record);
  } catch {
    say(NO_ROOM);
    return;
  }
  records = await box.records();
  draw();
  send();
}

function sayOfPhotos(text) {
  const place = document.querySelector("#photos");
  if (place !== null && place.textContent !== text) place.textContent = text;
}

function drawPhotos(plot) {
  const own = mine().filter((each) => each.plot === plot.plot && each.what === "photo");
  const waits = own.filter((each) => each.state === "waiting").length;
  const at = photographed.get(plot.plot);
  if (waits) sayOfPhotos(`${number(waits, "photo")} ${waits === 1 ? "waits" : "wait"} on this phone.`);
  else if (own.length) sayOfPhotos(`${number(own.length, "photo")} not stored: see Plots.`);
  else if (at) sayOfPhotos(`Photo stored at ${clock(at)}.`);
}

// ------------------------------------------------------------------------ the head and the bar

function drawStatus() {
  const waits = mine().filter((each) => each.state === "waiting").length;
  const stopped = mine().length - waits;
  const others = records.filter((each) => !mine().includes(each));
  const wait = `${number(waits, "record")} ${waits === 1 ? "waits" : "wait"} on this phone.`;
  const first = {
    on: waits ? `Sending ${number(waits, "record")} …` : "All your records are stored.",
    "no signal": waits ? `No signal. ${wait}` : "No signal. You can go on: records wait on this phone.",
    "signed out": waits ? `You are signed out. ${wait}` : "You are signed out.",
    role: `Your role does not allow tallying. ${waits ? wait : ""}`,
    busy: waits ? `The farm's computer is busy. ${wait}` : "The farm's computer is busy.",
  }[sender.link] ?? wait;
  const said = [waits === 0 && stopped && sender.link === "on" ? "" : first];
  if (stopped) said.push(` ${number(stopped, "record")} ${stopped === 1 ? "is" : "are"} not stored: see Plots.`);
  if (others.length) {
    const names = [...new Set(others.map((each) => each.person))].join(", ");
    said.push(` ${number(others.length, "record")} of ${names} ${others.length === 1 ? "waits" : "wait"} here until they sign in on this phone.`);
  }
  if (heardAt && Date.now() - heardAt > OLD_AFTER_MS) {
    said.push(` Plots and sprays are shown as of ${clock(heardAt)}.`);
  }
  const text = said.join("").trim();
  const isOff = sender.link !== "on" || stopped > 0;
  if (status.dataset.text === text) return;
  status.dataset.text = text;
  status.className = isOff ? "off" : "";
  status.replaceChildren(text);
  if (sender.link === "signed out") {
    const back = encodeURIComponent(location.pathname + location.search);
    status.append(" ", part("a", { href: `/sign-in?next=${back}` }, "Sign in to send them"));
  }
}

function drawBar(label, tap) {
  const seen = JSON.stringify([here, label, drawn]);
  if (seen === barDrawn) return; // a focus on it stays
  barDrawn = seen;
  // The second of two quick taps means the button that was there for the first.
  const open = performance.now() - tappedAt < DOUBLE_TAP_MS ? tappedAt + DOUBLE_TAP_MS : 0;
  const once = () => {
    if (performance.now() < open) return;
    tappedAt = performance.now();
    tap();
  };
  const parts = [];
  if (here !== null) parts.push(button("Plots", () => goTo(null)));
  if (label !== null) parts.push(button(label, once, "main"));
  bar.replaceChildren(...(parts.length ? [part("div", {}, ...parts)] : []));
}

function remember() {
  const query = new URLSearchParams();
  if (here !== null) query.set("plot", here);
  if (day !== null && day.asked) query.set("day", day.day);
  const text = query.toString();
  history.replaceState(null, "", text ? `/plots?${text}` : "/plots");
}

function goTo(plot) {
  here = plot;
  remember();
  drawn = "";
  draw();
  scrollTo(0, 0);
}

function say(text) {
  document.querySelector("#said").replaceChildren(alert(text));
  document.querySelector("#said").scrollIntoView({ block: "center" });
}

// ------------------------------------------------------------------------ the plots

const SIGNS = { waiting: "⇡", stopped: "!", closed: "⊘", lost: "✕", picked: "✓", missed: "–" };

function signOf(plot) {
  if (plot.record !== null) return plot.record.state;
  if (plot.lost !== null && plot.outcome === null) return "lost";
  if (plot.outcome !== null) return plot.outcome;
  return closedBy(plot, now()) === null ? "" : "closed";
}

function wordsOf(plot) {
  const what = plot.record?.what;
  const of = {
    waiting: what === "lost" ? "lost, waits on this phone" : "waits on this phone",
    stopped: "not stored: look at it",
    lost: "lost",
    picked: number(plot.stems, "stem"),
    missed: "not picked",
    closed: `closed until ${closedBy(plot, now())?.untilWords}`,
  };
  const begun = Object.keys(typedFor(plot.plot)).length > 0 ? "begun" : "";
  return of[signOf(plot)] ?? begun;
}

function drawPlots() {
  const walk = plots();
  const left = walk.filter(isLeft);
  const stopped = mine().filter((each) => each.state === "stopped");
  const seen = JSON.stringify([
    "plots", day.day, day.person, stopped.map((each) => each.token),
    walk.map((plot) => [plot.plot, signOf(plot), wordsOf(plot)]),
  ]);
  const next = nextLeft(walk, null, now());
  if (seen !== drawn) {
    drawn = seen;
    const picked = part("input", { id: "day", type: "date" });
    picked.value = day.day;
    picked.addEventListener("change", () => picked.value && goToDay(picked.value));
    main.replaceChildren(
      part("h1", {}, `Tally of ${day.day}`),
      part("div", { id: "said" }),
      ...newDay(),
      ...stopped.map(stoppedRecord),
      walk.length
        ? part("progress", { max: walk.length, "aria-label": "Plots done" })
        : note(NO_PLOTS),
      walk.length ? note(`${walk.length - left.length} of ${number(walk.length, "plot")} done`) : "",
      ...closedPlots(walk),
      walk.length && left.length === 0 ? done("Every plot is done for this day.") : "",
      part("ul", { class: "walk" }, ...walk.map(plotInList)),
      part("div", { class: "words" }, part("label", { for: "day" }, "Picking day"), picked),
      note(`You tally as ${day.person}.`),
      part(
        "div", { class: "row" },
        part("a", { href: `/tally?${new URLSearchParams({ day: day.day })}`, class: "link" }, "Full tally page"),
        day.seesMore ? part("a", { href: "/", class: "link" }, "Home") : "",
      ),
      note(day.cautions.join(" ")),
    );
    const progress = main.querySelector("progress");
    if (progress !== null) progress.value = walk.length - left.length;
  }
  if (next === null) drawBar(null, null);
  else drawBar(`Next: ${next.plot}, ${next.bed}`, () => goTo(next.plot));
}

function plotInList(plot) {
  const sign = signOf(plot);
  const look = ["stopped", "closed"].includes(sign) ? "sign look" : "sign";
  return part(
    "li", {},
    part(
      "button", { type: "button", tap: () => goTo(plot.plot) },
      part("span", { class: look, "aria-hidden": "true" }, SIGNS[sign] ?? "○"),
      part("span", { class: "name" }, plot.plot),
      part("span", {}, [plot.bed, wordsOf(plot)].filter(Boolean).join(", ")),
    ),
  );
}

function closedPlots(walk) {
  const closed = walk.filter((plot) => closedBy(plot, now()) !== null).map((plot) => plot.plot);
  if (closed.length === 0) return [];
  return [alert(`Do not enter ${closed.slice(0, 12).join(", ")}${closed.length > 12 ? " and others" : ""}: closed after a spray. The list says until when.`)];
}

function newDay() {
  const today = localDay(now());
  if (day.asked || day.day === today) return [];
  return [
    alert(`These are the plots of ${day.day}. By this phone, today is ${today}.`),
    part("div", { class: "row" }, button(`Go to ${today}`, () => goToDay(today))),
  ];
}

// ------------------------------------------------------------------------ what was not stored

const labelOf = (key) => {
  const [kind, ...of] = key.split(" ");
  if (kind === "grade") {
    const all = Object.values(day.trials).flatMap((trial) => [...trial.saleable, ...trial.short]);
    return all.find(([grade]) => String(grade) === of[0])?.[1] ?? `${of[0]} cm`;
  }
  if (kind === "cull") return `culls, ${of.join(" ")}`;
  return { happened: "what happened", why: "why it is true" }[key] ?? key;
};

const typedLines = (typed) =>
  lines(Object.entries(typed).map(([key, text]) => `${labelOf(key)}: ${text}`));

function stoppedRecord(record) {
  const inWalk = day.day === record.day && day.plots.some((plot) => plot.plot === record.plot);
  const change =
    inWalk && ["refused", "unlikely"].includes(record.kind) && !["note", "photo"].includes(record.what);
  const asked = new URLSearchParams({ plot: record.plot, day: record.day });
  return part(
    "section", {},
    part("h2", {}, `Not stored: ${record.plot} on ${record.day}, ${record.what}`),
    alert(record.said.join(" ")),
    typedLines(fieldsOf(record)),
    part(
      "div", { class: "row" },
      change && here !== record.plot ? button("Change it", () => goTo(record.plot)) : "",
      change ? "" : button("Send again", () => sendAgain(record)),
      record.kind === "meanwhile"
        ? part("a", { class: "link", href: `/tally?${asked}` }, "Correct what is stored")
        : "",
      discard(() => drop(record)),
    ),
  );
}

// Thrown away only when asked twice.
function discard(then) {
  const asked = button("Discard", () => {
    if (asked.dataset.asked) then();
    else {
      asked.dataset.asked = "yes";
      asked.textContent = "Yes, discard it";
    }
  });
  return asked;
}

async function drop(record) {
  await box.drop(record.token);
  records = await box.records();
  drawn = "";
  draw();
}

async function sendAgain(record) {
  await box.keep({ ...record, state: "waiting", kind: "", said: [] });
  records = await box.records();
  drawn = "";
  draw();
  send();
}

// ------------------------------------------------------------------------ one plot

function drawPlot() {
  const plot = plots().find((each) => each.plot.toLowerCase() === here.toLowerCase());
  if (plot === undefined) {
    const missing = `There is no plot '${here}' to tally on ${day.day}.`;
    here = null;
    remember();
    drawn = "";
    drawPlots();
    say(missing);
    return;
  }
  here = plot.plot;
  const { record } = plot;
  const typing = plot.outcome === null && plot.lost === null && record === null;
  const again = record?.state === "stopped" && ["refused", "unlikely"].includes(record.kind);
  if (typing || again) drawForm(plot, again ? record : null);
  else drawRecorded(plot);
  drawClosed(plot);
  drawPhotos(plot);
}

function plotHead(plot) {
  return [
    part(
      "div", { class: "plot" },
      part("h1", { class: "code" }, plot.plot),
      part("p", { class: "place" }, `${plot.bed}, place ${plot.position}${day.day === day.today ? "" : `, picked ${day.day}`}`),
      plot.grows ? paragraph(plot.grows) : "",
    ),
    part("div", { id: "closed" }),
  ];
}

// Where nobody may go is said again and again: a plot opens and closes while the page stays.
function drawClosed(plot) {
  const closed = closedBy(plot, now());
  const said = closed?.words ?? plot.sprayed;
  const place = document.querySelector("#closed");
  if (place.dataset.said === said) return;
  place.dataset.said = said;
  place.replaceChildren(...(said ? [alert(said)] : []));
}

function drawForm(plot, record) {
  const seen = JSON.stringify(["form", day.person, day.day, plot.plot, record?.token ?? ""]);
  const isDrawn = seen === drawn;
  drawn = seen;
  drawBar("Record", () => recordCounts(plot, record));
  if (isDrawn) return;
  const typed = { ...(record ? fieldsOf(record) : {}), ...typedFor(plot.plot) };
  for (const [key, text] of Object.entries(typed)) typeIn(plot.plot, key, text);
  const trial = day.trials[plot.trial];
  const changed = (key, text) => typeIn(plot.plot, key, text);
  const field = (key, label) => count(key, label, typed[key] ?? "", changed);
  const fold = (title, open, ...inside) =>
    part("details", { open }, part("summary", {}, title), ...inside);
  const isOther = Object.keys(typed).some((key) => key.startsWith("other"));
  main.replaceChildren(
    ...plotHead(plot),
    part("div", { id: "said" }, record ? alert(record.said.join(" ")) : ""),
    record?.kind === "unlikely"
      ? words("why", "Why it is true", typed.why ?? "", LONGEST_STORY, changed)
      : "",
    part("h2", {}, "Stems to sell, by length grade"),
    ...trial.saleable.map(([grade, label]) => field(`grade ${grade}`, label)),
    ...(trial.short.length
      ? [
          part("h2", {}, `Too short to sell, under ${trial.shortest}`),
          ...trial.short.map(([grade, label]) => field(`grade ${grade}`, label)),
        ]
      : []),
    part("h2", {}, "No stems"),
    part(
      "div", { class: "row" },
      button("Nothing to cut (0)", () => recordNone(plot, "nothing to cut")),
      button("Not picked", () => recordNone(plot, "not picked")),
    ),
    part("h2", {}, "Culls, and why"),
    ...reasonsOf(trial, typed).map((reason) => field(`cull ${reason}`, reason)),
    fold(
      "Another reason", isOther,
      words("other words", "Another reason", typed["other words"] ?? "", LONGEST_REASON, changed),
      field("other", "How many"),
    ),
    fold(
      "A note, or the plot is lost", Boolean(typed.happened),
      words("happened", "What happened", typed.happened ?? "", LONGEST_STORY, changed),
      part(
        "div", { class: "row" },
        button("Store note", () => recordStory(plot, "note")),
        button("The plot is lost", () => recordStory(plot, "lost")),
      ),
    ),
    photoControl((file) => keepPhoto(plot.plot, file)),
    part("p", {}, part("a", { class: "link", href: fullPage(plot) }, "Measured stems: full page")),
  );
}

// The trial's reasons, and those that were typed here and are not the trial's yet.
function reasonsOf(trial, typed) {
  const begun = pairsOf(typed, "cull").map(([reason]) => reason);
  return [...new Set([...trial.reasons, ...begun])];
}

const fullPage = (plot) => `/tally?${new URLSearchParams({ plot: plot.plot, day: day.day })}`;

function pairsOf(typed, kind) {
  return Object.entries(typed)
    .filter(([key, text]) => key.startsWith(`${kind} `) && text.trim() !== "")
    .map(([key, text]) => [key.slice(kind.length + 1), text.trim()]);
}

function recordCounts(plot, record) {
  const typed = shown();
  const stems = pairsOf(typed, "grade").map(([grade, text]) => [Number(grade), text]);
  const culls = pairsOf(typed, "cull");
  if ((typed.other ?? "").trim() !== "") {
    const reason = (typed["other words"] ?? "").trim() || "other";
    if (culls.some(([each]) => each === reason)) {
      say(`'${reason}' is there twice. Write all its culls into one field.`);
      return;
    }
    culls.push([reason, typed.other.trim()]);
  }
  const wrong = [...stems, ...culls].find(([, text]) => !WHOLE.test(text));
  if (wrong) say(`'${wrong[1]}' is no whole number. Write figures only.`);
  else if (stems.length === 0) say(NOTHING_TYPED);
  else if ((typed.happened ?? "").trim() !== "") say(STORY_TYPED);
  else if (record?.kind === "unlikely" && (typed.why ?? "").trim() === "" && isSame(record, stems, culls)) say(SAY_WHY);
  else keep("counted", { stems, culls, accept: (typed.why ?? "").trim() });
}

const isSame = (record, stems, culls) =>
  JSON.stringify([record.stems, record.culls]) === JSON.stringify([stems, culls]);

// What the fields show; the browser may have been unable to keep it.
function shown() {
  const typed = {};
  for (const field of main.querySelectorAll("input[data-key]")) typed[field.dataset.key] = field.value;
  return typed;
}

function recordNone(plot, what) {
  const typed = shown();
  const counts = Object.entries(typed).some(
    ([key, text]) => /^(grade|cull|other)/.test(key) && text.trim() !== "",
  );
  if (counts) say(FIGURES_ABOVE);
  else if ((typed.happened ?? "").trim() !== "") say(STORY_TYPED);
  else keep(what, {});
}

function recordStory(plot, what) {
  const story = (shown().happened ?? "").trim();
  if (story === "") say(SAY_WHAT);
  else keep(what, { words: story, accept: (shown().why ?? "").trim() });
}

function recordedWords(plot) {
  if (plot.outcome === null) return `Lost: ${plot.lost}. Nothing more is tallied here.`;
  if (plot.outcome === "missed") return "Recorded: not picked.";
  if (plot.stems === 0 && plot.culls === 0) return "Recorded: picked, nothing to cut (0).";
  const culls = plot.culls ? `, ${number(plot.culls, "cull")}` : "";
  return `Recorded: ${number(plot.stems, "stem")}${culls}.`;
}

function drawRecorded(plot) {
  const { record } = plot;
  const typed = typedFor(plot.plot);
  const took = stored.get(placeOf(plot.plot));
  const seen = JSON.stringify(["recorded", day.person, day.day, plot, took, Object.keys(typed)]);
  const next = nextLeft(plots(), plot.plot, now());
  const isDrawn = seen === drawn;
  drawn = seen;
  if (next === null) drawBar(null, null);
  else drawBar(`Next: ${next.plot}, ${next.bed}`, () => goTo(next.plot));
  if (isDrawn) return;
  const where =
    record?.state === "waiting"
      ? "It is on this phone and is sent as soon as there is signal."
      : took ? `Stored on the farm's computer at ${clock(took.at)}.` : "";
  const told = record?.state === "waiting" ? fieldsOf(record) : took?.typed ?? {};
  const left = Object.entries(typed).filter(([key]) => key !== "why");
  main.replaceChildren(
    ...plotHead(plot),
    part("div", { id: "said" }),
    plot.outcome !== null || plot.lost !== null ? done(recordedWords(plot)) : "",
    Object.keys(told).length ? typedLines(told) : "",
    where ? note(where) : "",
    ...(record?.state === "stopped" ? [stoppedRecord(record)] : []),
    ...(left.length
      ? [
          alert("What you typed for this plot is not recorded."),
          typedLines(Object.fromEntries(left)),
          part("div", { class: "row" }, discard(() => { forget(plot.plot); drawn = ""; draw(); })),
        ]
      : []),
    next === null ? done("Every plot you may enter is done for this day.") : "",
    photoControl((file) => keepPhoto(plot.plot, file)),
    record === null
      ? part("p", {}, part("a", { class: "link", href: fullPage(plot) }, "Correct this"))
      : "",
  );
}

// ------------------------------------------------------------------------ the page

function draw() {
  if (day === null) {
    const said = {
      "no signal": "There is no signal, and no plots are stored on this phone yet.",
      "signed out": "You are signed out.",
      role: "Your role does not allow tallying.",
    }[sender.link] ?? "The plots cannot be shown now. The page tries again by itself.";
    status.replaceChildren(said);
    return;
  }
  drawStatus();
  if (here === null) drawPlots();
  else drawPlot();
}

// On some phones the keypad covers what is fixed to the bottom of the page.
function liftBar() {
  const view = window.visualViewport;
  const hidden = Math.max(0, window.innerHeight - view.height - view.offsetTop);
  bar.style.bottom = `${hidden}px`;
}

async function begin() {
  try {
    box = await Box.open();
  } catch {
    main.replaceChildren(alert(NO_STORAGE), part("a", { class: "link", href: "/tally" }, "Full tally page"));
    return;
  }
  sender = new Sender(box, heard);
  records = await box.records();
  const asked = new URLSearchParams(location.search);
  here = (asked.get("plot") ?? "").trim() || null;
  const on = asked.get("day") ?? "";
  if (!(await ask(on))) {
    const kept = await box.day();
    if (kept !== null) take(on && on !== kept.day ? { ...withoutOutcomes(kept, on), asked: true } : kept);
  }
  draw();
  if (day !== null) send();
  window.addEventListener("online", askAgain);
  document.addEventListener("visibilitychange", askAgain);
  setInterval(askAgain, ASKED_EVERY_MS);
  setInterval(draw, LOOKED_AT_EVERY_MS);
  window.visualViewport?.addEventListener("resize", liftBar);
  navigator.storage?.persist?.();
  navigator.serviceWorker?.register("/plots/worker.js", { scope: "/plots" }).catch(() => null);
}

begin();
