// The brood view's hands: keyboard, zoom and pan, and every decision sent to the server before it shows as saved.
// Nothing is drawn here that the server did not draw first: an answer holds the rows and the strip as they now stand.
"use strict";

const $ = (selector, root = document) => root.querySelector(selector);
const $$ = (selector, root = document) => [...root.querySelectorAll(selector)];
const desk = $(".desk");
const saved = $("#saved");

function say(text, bad = false) {
  saved.textContent = text;
  saved.classList.toggle("warn", bad);
}

function scorer() {
  return $("#by")?.value.trim() ?? "";
}

// One decision at a time and in order, so that what shows as saved is what the book holds.
let queue = Promise.resolve();
function send(path, body) {
  say("saving…");
  const turn = queue.then(() => post(path, body));
  queue = turn.catch(() => {});
  return turn;
}

async function post(path, body) {
  let answer;
  try {
    answer = await fetch(path, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify({ ...view(), by: scorer(), ...body }),
    });
  } catch {
    say("NOT saved: broodhue does not answer. Start “broodhue confirm” again and open its new address; what was saved before is safe.", true);
    throw new Error("no answer");
  }
  if (!answer.ok) {
    say("NOT saved: " + (await answer.text()), true);
    throw new Error("refused");
  }
  const now = await answer.json();
  show(now);
  return now;
}

function view() {
  return { brood: desk.dataset.brood, sitting: desk.dataset.sitting, photo: desk.dataset.photo, blind: desk.dataset.blind === "yes" };
}

function show(now) {
  if (now.reload) {
    sessionStorage.setItem("said", now.saved);
    sessionStorage.setItem("fish", here()?.dataset.region ?? "");
    location.reload();
    return;
  }
  const keep = here()?.dataset.region;
  for (const [region, html] of Object.entries(now.rows ?? {})) {
    const row = document.getElementById("fish-" + region);
    if (row) row.outerHTML = html;
    const mark = document.getElementById("mark-" + region);
    const state = document.getElementById("fish-" + region)?.dataset.state;
    if (mark && state) mark.setAttribute("class", state);
  }
  if (now.strip) $("#strip-counts").innerHTML = now.strip;
  say(now.saved ?? "saved");
  if (keep) go(document.getElementById("fish-" + keep), false);
}

// ---- which fish and which axis the keys speak of -------------------------------------------------------------

let axisIndex = 0;
const rows = () => $$("ol.notebook > li");
const here = () => $("ol.notebook > li.here");
const axes = (row) => $$(".axis[data-axis]", row);

function go(row, scroll = true) {
  if (!row) return;
  here()?.classList.remove("here");
  $$(".tray g.here").forEach((g) => g.classList.remove("here"));
  row.classList.add("here");
  const mark = document.getElementById("mark-" + row.dataset.region);
  mark?.classList.add("here");
  mark?.parentNode.append(mark);
  pickAxis(axisIndex);
  if (scroll) {
    row.scrollIntoView({ block: "nearest" });
    row.focus({ preventScroll: true });
    keepInView(mark);
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

// ---- decisions -----------------------------------------------------------------------------------------------

const region = (row) => Number(row.dataset.region);

async function accept(row, move = true) {
  await send("/accept", { region: region(row) });
  if (move) step(1);
}

function choose(row, axis, value) {
  return send("/decide", { region: region(row), axis, class: value });
}

function setAside(row) {
  const dialog = $("#aside");
  $("#aside-fish").textContent = row.dataset.number;
  dialog.dataset.region = row.dataset.region;
  dialog.showModal();
}

const actions = {
  accept: (row) => accept(row, false),
  class: (row, button) => choose(row, button.dataset.axis, button.dataset.class),
  sex: (row, button) => send("/sex", { region: region(row), sex: button.dataset.sex }),
  aside: (row) => setAside(row),
  back: (row) => send("/back", { region: region(row) }),
  compare: (row) => mark(row),
  remove: (row) => mend({ do: "drop", n: Number(row.dataset.number) }),
  split: (row) => begin({ tool: "split", n: Number(row.dataset.number), left: 2, points: [], say: "Tap the two halves of fish " + row.dataset.number + "." }),
  merge: (row) => begin({ tool: "merge", n: Number(row.dataset.number), left: 1, say: "Tap the outline that belongs to fish " + row.dataset.number + "." }),
};

let marked = null;
function mark(row) {
  if (marked && marked !== row.dataset.region) {
    location.href = `/compare?a=${marked}&b=${row.dataset.region}`;
    return;
  }
  marked = row.dataset.region;
  say(`Fish ${row.dataset.number} is A. Choose “side by side” on another fish for B.`);
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-do]");
  const row = event.target.closest("ol.notebook > li");
  if (row && row !== here()) go(row, false);
  if (!button) return;
  if (row) actions[button.dataset.do]?.(row, button);
  else desks[button.dataset.do]?.(button);
});

const desks = {
  undo: () => send("/undo", {}),
  "accept-all": () => send("/accept-all", { at_least: Number($("#at-least").value) / 100 }),
  help: () => $("#help").showModal(),
  add: () => begin({ tool: "add", left: 1, say: "Tap the middle of the fish that was missed." }),
  card: () => begin({ tool: "corners", left: 4, points: [], say: "Tap the card’s four outer corners as printed: top left, top right, bottom right, bottom left." }),
  whole: () => frame(...home),
  nearer: () => zoom(0.7),
  farther: () => zoom(1 / 0.7),
  close: (button) => button.closest("dialog").close(),
  ratio: () => send("/ratio", { ratio: $("#ratio").value }),
  "expected-show": () => send("/strip", {}),
  left: () => send("/left", { moved: Number($("#moved").value), died: Number($("#died").value) }),
};

$("#aside form")?.addEventListener("submit", (event) => {
  event.preventDefault();
  const dialog = $("#aside");
  const why = $("#aside-why").value.trim();
  if (!why) return;
  dialog.close();
  send("/aside", { region: Number(dialog.dataset.region), why });
});

// ---- keys ----------------------------------------------------------------------------------------------------

const keysOn = $("#keys-on");
if (keysOn) {
  keysOn.checked = localStorage.getItem("keys") !== "off";
  keysOn.addEventListener("change", () => localStorage.setItem("keys", keysOn.checked ? "on" : "off"));
}

document.addEventListener("keydown", (event) => {
  if (!desk || !keysOn?.checked || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest("input, textarea, select, dialog[open]")) return;
  const onButton = event.target.closest("button, a");
  const row = here() ?? rows()[0];
  if (!row) return;
  const key = event.key;
  const done = () => event.preventDefault();
  if (key === "ArrowDown") { done(); step(1); }
  else if (key === "ArrowUp") { done(); step(-1); }
  else if (key === "ArrowRight") { done(); pickAxis(axisIndex + 1); }
  else if (key === "ArrowLeft") { done(); pickAxis(axisIndex - 1); }
  else if (key === "Enter" && !onButton) { done(); accept(row); }
  else if (/^[1-9]$/.test(key)) { done(); $$(".choices button[data-class]", axes(row)[axisIndex])[Number(key) - 1]?.click(); }
  else if (key === "m" || key === "f") { done(); send("/sex", { region: region(row), sex: key }); }
  else if (key === "x") { done(); setAside(row); }
  else if (key === "u") { done(); desks.undo(); }
  else if (key === "a") { done(); desks["accept-all"](); }
  else if (key === "c") { done(); mark(row); }
  else if (key === "z") { done(); zoomTo(row); }
  else if (key === "?") { done(); desks.help(); }
});

// ---- zoom and pan: the drawing's view box is all there is to move ------------------------------------------------

const drawing = $(".tray svg");
const home = drawing ? drawing.getAttribute("viewBox").split(" ").map(Number) : [];
let box = [...home];

function frame(x, y, w, h) {
  box = [x, y, w, h];
  drawing.setAttribute("viewBox", box.join(" "));
}

function zoom(factor, cx = box[0] + box[2] / 2, cy = box[1] + box[3] / 2) {
  const w = Math.min(home[2] * 1.2, Math.max(home[2] / 40, box[2] * factor));
  const k = w / box[2];
  frame(cx - (cx - box[0]) * k, cy - (cy - box[1]) * k, w, box[3] * k);
}

function zoomTo(row) {
  const shape = document.getElementById("mark-" + row.dataset.region)?.getBBox();
  if (!shape) return;
  const side = Math.max(shape.width, shape.height) * 2.2;
  frame(shape.x + shape.width / 2 - side / 2, shape.y + shape.height / 2 - side / 2, side, side * (home[3] / home[2]));
}

function keepInView(mark) {
  if (!mark || box[2] >= home[2]) return;
  const s = mark.getBBox();
  if (s.x < box[0] || s.y < box[1] || s.x + s.width > box[0] + box[2] || s.y + s.height > box[1] + box[3]) {
    frame(s.x + s.width / 2 - box[2] / 2, s.y + s.height / 2 - box[3] / 2, box[2], box[3]);
  }
}

function place(event) {
  const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(drawing.getScreenCTM().inverse());
  return [p.x, p.y];
}

const fingers = new Map();
let moved = 0;

if (drawing) {
  drawing.addEventListener("wheel", (event) => {
    event.preventDefault();
    zoom(event.deltaY > 0 ? 1.15 : 1 / 1.15, ...place(event));
  }, { passive: false });

  drawing.addEventListener("pointerdown", (event) => {
    fingers.set(event.pointerId, event);
    if (fingers.size === 1) moved = 0;
    drawing.setPointerCapture(event.pointerId);
  });
  drawing.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    const [dx, dy] = [event.clientX - before.clientX, event.clientY - before.clientY];
    moved += Math.hypot(dx, dy);
    if (fingers.size === 2) {
      const other = [...fingers.values()].find((f) => f.pointerId !== event.pointerId);
      const span = (f) => Math.hypot(f.clientX - other.clientX, f.clientY - other.clientY) || 1;
      zoom(span(before) / span(event), ...place(other));
    } else if (moved > 6) {
      const scale = drawing.getScreenCTM().a;
      frame(box[0] - dx / scale, box[1] - dy / scale, box[2], box[3]);
    }
    fingers.set(event.pointerId, event);
  });
  const lift = (event) => {
    fingers.delete(event.pointerId);
    if (event.type === "pointerup" && moved <= 6) tap(event);
  };
  drawing.addEventListener("pointerup", lift);
  drawing.addEventListener("pointercancel", lift);
}

// ---- mending what was found --------------------------------------------------------------------------------------

let tool = null;
function begin(next) {
  tool = next;
  say(next.say + " Esc gives up.");
}
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && tool) {
    tool = null;
    say("Given up; nothing was changed.");
  }
});

function mend(correction) {
  return send("/mend", { correction });
}

function tap(event) {
  const at = place(event);
  const under = document.elementsFromPoint(event.clientX, event.clientY).map((e) => e.closest("g[data-region]")).find(Boolean);
  if (!tool) {
    if (under) go(document.getElementById("fish-" + under.dataset.region));
    return;
  }
  const now = tool;
  if (now.tool === "add") {
    tool = null;
    mend({ do: "add", at });
  } else if (now.tool === "merge" && under) {
    tool = null;
    mend({ do: "merge", a: now.n, b: Number(under.dataset.number) });
  } else if (now.points) {
    now.points.push(at);
    now.left -= 1;
    say(now.left ? `${now.points.length} set, ${now.left} to go.` : "measuring again…");
    if (now.left) return;
    tool = null;
    if (now.tool === "split") mend({ do: "split", n: now.n, points: now.points });
    else send("/corners", { corners: now.points });
  }
}

// ---- photos in ---------------------------------------------------------------------------------------------------

const drop = $(".drop");
if (drop) {
  const picker = $("input[type=file]", drop);
  const put = (files) => [...files].reduce((turn, file) => turn.then(() => upload(file)), Promise.resolve()).then(() => drop.dataset.after && (location.href = drop.dataset.after));
  picker.addEventListener("change", () => put(picker.files));
  for (const kind of ["dragover", "dragleave", "drop"]) {
    drop.addEventListener(kind, (event) => {
      event.preventDefault();
      drop.classList.toggle("over", kind === "dragover");
      if (kind === "drop") put(event.dataTransfer.files);
    });
  }
}

async function upload(file) {
  const note = document.createElement("li");
  note.textContent = `${file.name}: sending…`;
  $("#uploads").append(note);
  try {
    const query = new URLSearchParams({ name: file.name, ...($("#upload-brood") ? { brood: $("#upload-brood").value } : {}), ...($("#upload-code") ? { code: $("#upload-code").value } : {}) });
    const answer = await fetch("/photos?" + query, { method: "POST", headers: { "content-type": "application/octet-stream" }, body: file });
    note.textContent = `${file.name}: ${await answer.text()}`;
    note.classList.toggle("warn", !answer.ok);
  } catch {
    note.textContent = `${file.name}: NOT received; broodhue does not answer. Try again.`;
    note.classList.add("warn");
  }
}

// After a page is drawn again, the line says what was saved and the same fish is at hand.
if (rows().length) go(document.getElementById("fish-" + sessionStorage.getItem("fish")) ?? rows()[0], false);
if (saved && sessionStorage.getItem("said")) say(sessionStorage.getItem("said"));
sessionStorage.removeItem("said");
sessionStorage.removeItem("fish");
