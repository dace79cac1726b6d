// The photo of the brood view: zoom and pan, and pointing at places in it by mouse, finger or keys. The drawing's view
// box is all there is to move.

const drawing = document.querySelector(".tray svg");
const home = drawing.getAttribute("viewBox").split(" ").map(Number);
const done_ = document.querySelector('.tools [data-do="done"]');
const giveUp_ = document.querySelector('.tools [data-do="give-up"]');
let view = [...home];
let page;

/** Tells the photo what to do on the page: `say` words, `begin` mending, `tapped` a fish. */
export function open(hooks) {
  page = hooks;
}

export const box = () => view;

export function frame(x, y, w, h) {
  view = [x, y, w, h];
  drawing.setAttribute("viewBox", view.join(" "));
  drawAim();
}

export const whole = () => frame(...home);

export function zoom(factor, cx = view[0] + view[2] / 2, cy = view[1] + view[3] / 2) {
  const w = Math.min(home[2] * 1.2, Math.max(home[2] / 40, view[2] * factor));
  const k = w / view[2];
  frame(cx - (cx - view[0]) * k, cy - (cy - view[1]) * k, w, view[3] * k);
}

const mark = (region) => document.getElementById("mark-" + region);

/** The box around a fish's outline, without its number. */
const bounds = (region) => mark(region)?.querySelector("polygon").getBBox();

export function zoomTo(region) {
  const b = bounds(region);
  if (!b) return;
  const w = Math.max(b.width, b.height * (home[2] / home[3])) * 2.2;
  const h = w * (home[3] / home[2]);
  frame(b.x + b.width / 2 - w / 2, b.y + b.height / 2 - h / 2, w, h);
}

/** Draws this fish's outline strongest and on top; `follow` brings it into view. */
export function choose(region, follow) {
  drawing.querySelectorAll("g.here").forEach((g) => g.classList.remove("here"));
  const chosen = mark(region);
  if (!chosen) return;
  chosen.classList.add("here");
  chosen.parentNode.append(chosen);
  if (!follow || view[2] >= home[2]) return;
  const s = bounds(region);
  const outside = s.x < view[0] || s.y < view[1] || s.x + s.width > view[0] + view[2] || s.y + s.height > view[1] + view[3];
  if (outside) frame(s.x + s.width / 2 - view[2] / 2, s.y + s.height / 2 - view[3] / 2, view[2], view[3]);
}

function place(event) {
  const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(drawing.getScreenCTM().inverse());
  return [p.x, p.y];
}

// ---- pointing: a number of places, by tap or with the cross --------------------------------------------------------

// What is being pointed at: {left, points, then} or {corners, chosen, then}; the cross is at `aim`.
let tool = null;
let aim = [0, 0];

/** Asks for `count` places; `then` gets them with the outline under each. The cross starts at `region`'s fish. */
export function ask(count, words, region, then) {
  page.begin();
  const b = region && bounds(region);
  aim = b ? [b.x + b.width / 2, b.y + b.height / 2] : [view[0] + view[2] / 2, view[1] + view[3] / 2];
  start({ left: count, points: [], then }, words + " Tap, or move the cross with the arrow keys and set it with Enter.");
}

/** Shows the card's corners to be moved; without a card they start around the middle of the view. */
export function askCorners(known, then) {
  page.begin();
  const [x, y, w, h] = view;
  const corners = known
    ? known.split(" ").map((p) => p.split(",").map(Number))
    : [[0.3, 0.3], [0.7, 0.3], [0.7, 0.7], [0.3, 0.7]].map(([u, v]) => [x + u * w, y + v * h]);
  start({ corners, chosen: 0, then }, "Drag the card’s four outer corners, as printed: 1 top left, 2 top right, 3 bottom right, 4 bottom left. "
    + "Or tap the right place for the ringed corner; with keys: 1 to 4 choose, arrows move, Enter measures.");
  done_.hidden = false;
  drawCorners();
}

function start(next, words) {
  end();
  tool = next;
  giveUp_.hidden = false;
  drawing.classList.add("pointing");
  page.say(words);
  drawAim();
}

function end() {
  tool = null;
  done_.hidden = giveUp_.hidden = true;
  drawing.classList.remove("pointing");
  drawing.querySelectorAll(".aim, .corner, .set").forEach((g) => g.remove());
}

export function giveUp() {
  end();
  page.say("Given up; nothing was changed.");
}

export function done() {
  const { corners, then } = tool ?? {};
  if (!corners) return;
  end();
  then(corners);
}

function point(at, number) {
  if (tool.corners) {
    tool.corners[tool.chosen] = at;
    return drawCorners();
  }
  tool.points.push({ at, number });
  tool.left -= 1;
  if (tool.left) {
    drawing.append(cross("set", at));
    return page.say(`${tool.points.length} set, ${tool.left} to go.`);
  }
  const { points, then } = tool;
  end();
  then(points);
}

/** The number of the fish whose outline lies under a place of the screen. */
function under(x, y) {
  const hit = document.elementsFromPoint(x, y).map((e) => e.closest("g[data-region]")).find(Boolean);
  return hit ? { number: Number(hit.dataset.number), region: hit.dataset.region } : {};
}

/** The number of the fish whose outline holds a place of the photo, on the screen or off it. */
function holding([x, y]) {
  const holds = (g) => g.querySelector("polygon").isPointInFill(new DOMPoint(x, y));
  return [...drawing.querySelectorAll("g[data-region]")].reverse().find(holds)?.dataset.number;
}

/** What a key does while something is pointed at; true when it was for the photo. */
export function key(event) {
  if (!tool) return false;
  const step = (event.shiftKey ? 0.002 : 0.02) * view[2];
  const [dx, dy] = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key] ?? [0, 0];
  // A key that is held down moves, and sets one point.
  if (event.repeat && event.key === "Enter") return true;
  if (event.key === "Escape") giveUp();
  else if (event.target.closest("input, textarea, select")) return false;
  else if (dx || dy) nudge(dx * step, dy * step);
  else if (tool.corners && /^[1-4]$/.test(event.key)) { tool.chosen = Number(event.key) - 1; drawCorners(); }
  else if (event.key === "Enter" && tool.corners && event.target !== giveUp_) done();
  else if (event.key === "Enter" && event.target !== giveUp_) {
    point([...aim], Number(holding(aim)) || undefined);
  } else return false;
  return true;
}

function nudge(dx, dy) {
  if (tool.corners) {
    const [x, y] = tool.corners[tool.chosen];
    tool.corners[tool.chosen] = [x + dx, y + dy];
    return drawCorners();
  }
  aim = [aim[0] + dx, aim[1] + dy];
  drawAim();
}

function shape(name, attributes) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  return element;
}

function cross(name, [x, y]) {
  const group = shape("g", { class: name });
  const r = view[2] / 40;
  const d = `M${x - r},${y}H${x + r}M${x},${y - r}V${y + r}`;
  group.append(shape("path", { d, class: "under" }), shape("path", { d }));
  return group;
}

function drawAim() {
  drawing.querySelectorAll(".aim").forEach((g) => g.remove());
  if (tool?.points) drawing.append(cross("aim", aim));
  if (tool?.corners) drawCorners();
}

function drawCorners() {
  drawing.querySelectorAll(".corner").forEach((g) => g.remove());
  const r = view[2] / 45;
  const frame = shape("g", { class: "corner frame" });
  const points = tool.corners.map((p) => p.join(",")).join(" ");
  frame.append(shape("polygon", { points, class: "under" }), shape("polygon", { points }));
  drawing.append(frame);
  tool.corners.forEach(([cx, cy], i) => {
    const handle = shape("g", { class: "corner handle" + (i === tool.chosen ? " here" : ""), "data-corner": i });
    const text = shape("text", { x: cx + r * 1.2, y: cy, "font-size": r * 1.6 });
    text.textContent = i + 1;
    handle.append(shape("circle", { cx, cy, r, class: "under" }), shape("circle", { cx, cy, r }), text);
    drawing.append(handle);
  });
}

// ---- mouse and fingers ---------------------------------------------------------------------------------------------

const fingers = new Map();
let moved = 0;
let held = null;

drawing.addEventListener("wheel", (event) => {
  event.preventDefault();
  zoom(event.deltaY > 0 ? 1.15 : 1 / 1.15, ...place(event));
}, { passive: false });

drawing.addEventListener("pointerdown", (event) => {
  fingers.set(event.pointerId, event);
  if (fingers.size === 1) moved = 0;
  held = event.target.closest("[data-corner]");
  if (held && tool?.corners) tool.chosen = Number(held.dataset.corner);
  drawing.setPointerCapture(event.pointerId);
});

drawing.addEventListener("pointermove", (event) => {
  const before = fingers.get(event.pointerId);
  if (!before) return;
  const [dx, dy] = [event.clientX - before.clientX, event.clientY - before.clientY];
  moved += Math.hypot(dx, dy);
  const scale = drawing.getScreenCTM().a;
  if (fingers.size === 2) {
    const other = [...fingers.values()].find((f) => f.pointerId !== event.pointerId);
    const span = (f) => Math.hypot(f.clientX - other.clientX, f.clientY - other.clientY) || 1;
    zoom(span(before) / span(event), ...place(other));
  } else if (held && tool?.corners) {
    nudge(dx / scale, dy / scale);
  } else if (moved > 6) {
    frame(view[0] - dx / scale, view[1] - dy / scale, view[2], view[3]);
  }
  fingers.set(event.pointerId, event);
});

function lift(event) {
  fingers.delete(event.pointerId);
  const dragged = held && tool?.corners;
  held = null;
  if (event.type !== "pointerup" || moved > 6) return;
  if (dragged) return drawCorners();
  const hit = under(event.clientX, event.clientY);
  if (tool) point(place(event), hit.number);
  else if (hit.region) page.tapped(hit.region);
}
drawing.addEventListener("pointerup", lift);
drawing.addEventListener("pointercancel", lift);
