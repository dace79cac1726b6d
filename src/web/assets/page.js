// The brood view's hands: keyboard, mouse and touch, and every decision sent to the server before it shows as saved.
// Nothing is drawn here that the server did not draw first: an answer holds the rows and counts as they now stand.
import * as tray from "/tray.js";

const $ = (selector, root = document) => root.querySelector(selector);
const $$ = (selector, root = document) => [...root.querySelectorAll(selector)];
const desk = $(".desk");
const saved = $("#saved");

function say(text, bad = false) {
  saved.textContent = text;
  saved.classList.toggle("warn", bad);
}

// ---- one decision at a time and in order, so that what shows as saved is what the book holds -----------------------

let queue = Promise.resolve();
let waiting = 0;
let unsaved = 0;
// What was not saved of the decisions that are on their way together: those after it must not hide it.
let lost = "";

/** Sends a decision after those before it, in the name that stands there now; says whether it was saved. */
function send(path, body) {
  const by = $("#by").value.trim();
  if (!by) {
    say("NOT saved: a decision needs a name. Write yours under “Scored by”.", true);
    $("#by").focus();
    return Promise.resolve(false);
  }
  if (left) {
    say("NOT saved: the page was just being drawn again. Do it once more.", true);
    remember();
    return Promise.resolve(false);
  }
  if (!waiting) lost = "";
  say(lost ? `${lost} – saving…` : "saving…", Boolean(lost));
  return enqueue(path, { ...body, by });
}

/** Puts a request behind those before it; a quiet one says nothing where all is well. */
function enqueue(path, body, quiet = false) {
  waiting += 1;
  const turn = queue.then(() => post(path, body, quiet)).finally(() => {
    waiting -= 1;
    if (redraw && !waiting) leave();
  });
  queue = turn;
  return turn;
}

async function post(path, body, quiet) {
  let answer;
  try {
    const headers = { "content-type": "application/json" };
    answer = await fetch(path, { method: "POST", headers, body: JSON.stringify({ ...view(), ...body }), keepalive: true });
    if (answer.ok) {
      if (!lost) unsaved = 0;
      show(await answer.json(), quiet);
      return true;
    }
    notSaved(await answer.text());
  } catch {
    notSaved("broodhue does not answer. Start “broodhue confirm” again and open its new address; what was saved before is safe.");
  }
  return false;
}

function notSaved(why) {
  unsaved += 1;
  lost = `NOT saved${unsaved > 1 ? ` (${unsaved} decisions)` : ""}: ${why}`;
  say(lost, true);
}

/** Says what an answer says, without hiding what was not saved beside it. */
const saySaved = (words) => say(lost ? `${lost} – ${words}` : words, Boolean(lost));

/** Where the page stands, with every request. */
function view() {
  const { brood, sitting, photo, blind, latest } = desk.dataset;
  const expected = sessionStorage.getItem("expected") === brood;
  return { brood, sitting, photo, blind: blind === "yes", by: $("#by").value, expected, latest: Number(latest) };
}

function show(now, quiet) {
  if (now.reload) return again(now.saved, now.at);
  const held = document.activeElement?.closest("ol.notebook > li") ? focusOf(document.activeElement) : null;
  const keep = here()?.dataset.region;
  for (const [region, html] of Object.entries(now.rows ?? {})) {
    const row = $("#fish-" + region);
    if (!row) continue;
    const open = $$("details", row).map((d) => d.open);
    row.outerHTML = html;
    const drawn = $("#fish-" + region);
    $$("details", drawn).forEach((d, i) => { d.open = open[i]; });
    $("#mark-" + region)?.setAttribute("class", drawn.dataset.state);
  }
  if (now.strip) $("#strip-counts").innerHTML = now.strip;
  if (now.shares) $("#shares").innerHTML = now.shares;
  if (now.since) {
    const open = $("#since details")?.open;
    $("#since").innerHTML = now.since;
    if (open) $("#since details").open = true;
  }
  desk.dataset.latest = now.latest;
  if (!quiet) saySaved(now.saved);
  if (keep) go($("#fish-" + keep), false);
  if (held) refocus(held);
}

let redraw = false;
let left = false;

/** Draws the whole page again, once no decision is on its way any more; `at` where it belongs by now. */
function again(words, at) {
  if (words) saySaved(words);
  redraw = true;
  if (at) desk.dataset.at = at;
  if (!waiting) leave();
}

/** Leaves for the same page with the same scorer, at the same fish and the same zoom, with the last words. */
function leave() {
  if (left) return;
  left = true;
  remember();
  const to = new URL(desk.dataset.at, location);
  if ($("#by").value.trim()) to.searchParams.set("by", $("#by").value.trim());
  location.replace(to);
}

/** Keeps for the page as it is drawn again where this one stood and what it said last. */
function remember() {
  const [words, bad] = [saved.textContent, saved.classList.contains("warn")];
  const kept = { words, bad, photo: desk.dataset.photo, fish: here()?.dataset.region, box: tray.box(), sure: $("#at-least")?.value };
  sessionStorage.setItem("again", JSON.stringify(kept));
}

const focusOf = (element) => ({ row: element.closest("li").id, name: JSON.stringify(element.dataset) });

function refocus({ row, name }) {
  const same = $$("button, summary", $("#" + row)).find((b) => JSON.stringify(b.dataset) === name);
  (same ?? $("#" + row))?.focus({ preventScroll: true });
}

window.addEventListener("beforeunload", (event) => { if (waiting) event.preventDefault(); });

// Another tab may have decided something, or the server may be gone while the laptop slept.
async function lookUp() {
  if (document.hidden || waiting) return;
  const known = desk.dataset.latest;
  try {
    const answer = await fetch("/latest");
    const text = await answer.text();
    if (!answer.ok) return say(text, true);
    // A decision of this tab that was on its way meanwhile brings its own answer.
    if (!waiting && !redraw && desk.dataset.latest === known && text !== known) again("This brood was changed elsewhere; the page is drawn again.");
  } catch {
    say("broodhue does not answer: what you decide now is NOT saved. Start “broodhue confirm” again; what was saved is safe.", true);
  }
}
document.addEventListener("visibilitychange", lookUp);
window.addEventListener("focus", lookUp);

// ---- which fish and which axis the keys speak of -------------------------------------------------------------------

let axisIndex = 0;
const rows = () => $$("ol.notebook > li");
const here = () => $("ol.notebook > li.here");
const axes = (row) => $$(".axis[data-axis]", row);

function go(row, scroll = true) {
  if (!row) return;
  here()?.classList.remove("here");
  row.classList.add("here");
  tray.choose(row.dataset.region, scroll);
  pickAxis(axisIndex);
  if (scroll) {
    row.scrollIntoView({ block: "nearest" });
    row.focus({ preventScroll: true });
  }
}

function pickAxis(index) {
  const all = axes(here());
  if (!all.length) return;
  axisIndex = (index + all.length) % all.length;
  all.forEach((a, i) => a.classList.toggle("here", i === axisIndex));
}

function step(by) {
  const all = rows();
  const at = all.indexOf(here());
  go(all[Math.max(0, Math.min(all.length - 1, at + by))]);
}

// ---- decisions -----------------------------------------------------------------------------------------------------

const region = (row) => Number(row.dataset.region);
const number = (row) => Number(row.dataset.number);

async function acceptAndGoOn(row) {
  step(1);
  if (!(await send("/accept", { region: region(row) }))) go($("#" + row.id));
}

function setAside(row) {
  const dialog = $("#aside");
  $("#aside-fish").textContent = row.dataset.number;
  dialog.dataset.region = row.dataset.region;
  $("#aside-why").value = "";
  dialog.showModal();
}

/** The first call names fish A, the next one B: the two stand side by side, also when they are on different pages. */
function compare(row) {
  const first = JSON.parse(sessionStorage.getItem("compare") ?? "null");
  if (first && first.region !== row.dataset.region) {
    sessionStorage.removeItem("compare");
    location.href = `/compare?a=${first.region}&b=${row.dataset.region}`;
    return;
  }
  const name = `fish ${row.dataset.number} of brood ${desk.dataset.label}`;
  sessionStorage.setItem("compare", JSON.stringify({ region: row.dataset.region, name }));
  say(`A is ${name}. Choose “Side by side” at another fish for B, here or in another brood.`);
}

const mend = (correction) => send("/mend", { correction });

const ofFish = {
  accept: (row) => send("/accept", { region: region(row) }),
  class: (row, button) => send("/decide", { region: region(row), axis: button.dataset.axis, class: button.dataset.class }),
  sex: (row, button) => send("/sex", { region: region(row), sex: button.dataset.sex }),
  aside: setAside,
  back: (row) => send("/back", { region: region(row) }),
  gone: (row, button) => send("/gone", { region: region(row), gone: button.dataset.gone }),
  compare,
  remove: (row) => mend({ do: "drop", n: number(row) }),
  split: (row) => tray.ask(2, `Point at the two halves of fish ${number(row)}.`, row.dataset.region, (points) => mend({ do: "split", n: number(row), points: points.map((p) => p.at) })),
  merge: (row) => tray.ask(1, `Point at the outline that belongs to fish ${number(row)}.`, row.dataset.region, ([p]) => (p.number ? mend({ do: "merge", a: number(row), b: p.number }) : say("There is no outline; nothing was changed.", true))),
};

const ofBrood = {
  undo: () => send("/undo", {}),
  "accept-all": () => {
    const box = $("#at-least");
    const sure = box.value.trim() === "" ? NaN : Number(box.value);
    if (sure >= 50 && sure <= 100) return send("/accept-all", { at_least: sure / 100 });
    say("NOT accepted: write how sure they must be at least, from 50 to 100 %.", true);
    box.focus();
  },
  elsewhere: () => {
    const day = $("#to-day");
    if (day.value) return send("/shows", { to_brood: $("#to-brood").value, to_day: day.value });
    say("NOT moved: write the day of the sitting.", true);
    day.focus();
  },
  help: () => $("#help").showModal(),
  add: () => tray.ask(1, "Point at the middle of the fish that was missed.", null, ([p]) => mend({ do: "add", at: p.at })),
  card: () => tray.askCorners(desk.dataset.card, (corners) => send("/corners", { corners })),
  done: tray.done,
  "give-up": tray.giveUp,
  whole: tray.whole,
  nearer: () => tray.zoom(0.7),
  farther: () => tray.zoom(1 / 0.7),
  close: (button) => button.closest("dialog").close(),
  ratio: () => send("/ratio", { ratio: $("#ratio").value }),
  expected: () => {
    sessionStorage.setItem("expected", desk.dataset.brood);
    enqueue("/strip", {});
  },
  // The numbers are taken out of their fields at once, so that a second click does not write them down twice.
  left: async () => {
    const fields = [$("#moved"), $("#died")];
    const numbers = fields.map((field) => (field.value.trim() === "" ? 0 : Number(field.value)));
    const odd = fields.find((field, i) => field.validity.badInput || !Number.isInteger(numbers[i]));
    if (odd) {
      say("NOT saved: write how many left as a whole number.", true);
      return odd.focus();
    }
    const [moved, died] = numbers;
    fields.forEach((field) => { field.value = 0; });
    const kept = await send("/left", { moved, died, on: $("#left-on").value || null, sex: $("#left-sex").value || null });
    if (!kept) fields.forEach((field, i) => { if (field.value === "0") field.value = numbers[i]; });
  },
};

document.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-do]");
  const row = event.target.closest("ol.notebook > li");
  // A folded row opens when it is clicked anywhere but on its button: whoever goes down the buttons finds them in place.
  if (row && row !== here() && !button) go(row, false);
  if (!button) return;
  const doing = row ? ofFish[button.dataset.do] : ofBrood[button.dataset.do];
  doing?.(row ?? button, button);
});

// Who comes with the Tab key opens the row too.
document.addEventListener("focusin", (event) => {
  const row = event.target.closest("ol.notebook > li");
  if (row && row !== here() && event.target.matches(":focus-visible")) go(row, false);
});

// Opening the mending tools gets the photo ready on the server, so that the first correction is as quick as the next.
document.addEventListener("toggle", (event) => {
  if (event.target.open && event.target.closest("ol.notebook > li") && $("[data-do=split]", event.target)) getReady();
}, true);

function getReady() {
  const headers = { "content-type": "application/json" };
  fetch("/mend/begin", { method: "POST", headers, body: JSON.stringify(view()) }).catch(() => {});
}

$("#aside form").addEventListener("submit", (event) => {
  event.preventDefault();
  const dialog = $("#aside");
  dialog.close();
  send("/aside", { region: Number(dialog.dataset.region), why: $("#aside-why").value.trim() });
});

// The name is this tab's, on whichever brood; a blind scorer's page shows the own classes, so another name is another page.
const by = $("#by");
const blind = desk.dataset.blind === "yes";

by.addEventListener("keydown", (event) => {
  if (event.key === "Enter" || event.key === "Escape") here()?.focus();
});
by.addEventListener("change", () => {
  sessionStorage.setItem("by", by.value.trim());
  if (blind && by.value.trim()) again("");
});

// ---- keys ----------------------------------------------------------------------------------------------------------

const keysOn = $("#keys-on");
keysOn.checked = localStorage.getItem("keys") !== "off";
keysOn.addEventListener("change", () => localStorage.setItem("keys", keysOn.checked ? "on" : "off"));

const press = (row, action) => $(`button[data-do="${action}"]`, row)?.click();

const keys = {
  ArrowDown: () => step(1),
  ArrowUp: () => step(-1),
  ArrowRight: () => pickAxis(axisIndex + 1),
  ArrowLeft: () => pickAxis(axisIndex - 1),
  m: (row) => $('button[data-sex="m"]', row)?.click(),
  f: (row) => $('button[data-sex="f"]', row)?.click(),
  x: (row) => (row.dataset.state === "aside" ? press(row, "back") : press(row, "aside")),
  c: (row) => press(row, "compare"),
  s: (row) => press(row, "split"),
  j: (row) => press(row, "merge"),
  u: ofBrood.undo,
  a: () => $('button[data-do="accept-all"]')?.click(),
  z: (row) => tray.zoomTo(row.dataset.region),
  "+": ofBrood.nearer,
  "-": ofBrood.farther,
  0: ofBrood.whole,
  "?": ofBrood.help,
};

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("dialog[open]")) return;
  if (tray.key(event)) return event.preventDefault();
  if (!keysOn.checked || event.target.closest("input, textarea, select")) return;
  const row = here();
  if (!row) return;
  const digit = /^[1-9]$/.test(event.key);
  // A key that is held down walks and zooms, and decides once.
  if (event.repeat && !/^(Arrow.*|[-+])$/.test(event.key)) return event.preventDefault();
  if (event.key === "Enter") {
    if (event.target.closest("button, a, summary") || !$("button[data-do=accept]", row)) return;
    acceptAndGoOn(row);
  } else if (digit) {
    $$(".choices button[data-class]", axes(row)[axisIndex])[Number(event.key) - 1]?.click();
  } else if (keys[event.key]) {
    keys[event.key](row);
  } else {
    return;
  }
  event.preventDefault();
});

// ---- the page as it opens ------------------------------------------------------------------------------------------

tray.open({
  say,
  begin: getReady,
  tapped: (id) => go($("#fish-" + id)),
});
const before = JSON.parse(sessionStorage.getItem("again") ?? "null");
sessionStorage.removeItem("again");
const typed = sessionStorage.getItem("by");
if (typed && typed !== by.value) {
  by.value = typed;
  if (blind) again("");
}
if (before?.sure && $("#at-least")) $("#at-least").value = before.sure;
const wanted = before?.fish ? "#fish-" + before.fish : location.hash;
go((/^#fish-\d+$/.test(wanted) && $(wanted)) || rows()[0], Boolean(before || location.hash));
if (before) {
  if (before.photo === desk.dataset.photo) tray.frame(...before.box);
  if (before.words) say(before.words, before.bad);
}
// Nobody asked for these anew: no name is needed, and what was said of the last decision stays.
if (sessionStorage.getItem("expected") === desk.dataset.brood && $("#ratio")?.value) enqueue("/strip", {}, true);
