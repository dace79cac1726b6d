// Photos in: by the file picker, by dropping them on the page, or from a phone; one after the other.

const drop = document.querySelector(".drop");
const picker = drop.querySelector("input[type=file]");
const brood = document.getElementById("upload-brood");
const day = document.getElementById("upload-day");
const code = document.getElementById("upload-code");

function note(text, bad = false) {
  const line = document.createElement("li");
  line.textContent = text;
  line.classList.toggle("warn", bad);
  document.getElementById("uploads").append(line);
  return line;
}

/** Sends one photo, and says what became of it and what to mind; the address of its sitting when it was kept. */
async function upload(file, to) {
  const line = note(`${file.name}: sending and measuring…`);
  const query = new URLSearchParams({ name: file.name, ...to });
  try {
    const headers = { "content-type": "application/octet-stream" };
    const send = () => fetch("/photos?" + query, { method: "POST", headers, body: file });
    let answer = await send();
    while (answer.status === 503) {
      line.textContent = `${file.name}: waiting for its turn…`;
      await new Promise((go) => setTimeout(go, 1000 * (answer.headers.get("retry-after") ?? 5)));
      answer = await send();
    }
    const said = await answer.text();
    const [first, ...cautions] = answer.ok ? said.split("\n") : [said];
    line.textContent = `${file.name}: ${first}`;
    line.classList.toggle("warn", !answer.ok);
    cautions.forEach((caution) => note(caution, true));
    return answer.ok ? answer.headers.get("content-location") : null;
  } catch {
    line.textContent = `${file.name}: NOT received; broodhue does not answer. Try again.`;
    line.classList.add("warn");
    return null;
  }
}

// Batches go one after the other, each to the brood and day that were chosen when it came.
let queue = Promise.resolve();

async function sendAll(files, to) {
  const sittings = new Set();
  for (const file of files) sittings.add(await upload(file, to));
  sittings.delete(null);
  if (!sittings.size || !drop.dataset.after) return;
  for (const address of sittings) {
    const link = document.createElement("a");
    link.href = address;
    link.textContent = `Open brood ${to.brood}`;
    if (sittings.size > 1) link.textContent += ` on ${new URL(link.href).searchParams.get("sitting")}`;
    note("").append(link);
  }
  await countAgain();
}

/** Brings the table of broods up to date; where that fails it stays as it was until the page is opened again. */
async function countAgain() {
  try {
    const answer = await fetch(location.href);
    if (!answer.ok) return;
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("broods");
    if (fresh) document.getElementById("broods").replaceChildren(...fresh.childNodes);
  } catch {
    // The line above says what was kept.
  }
}

// Files that came before their brood was chosen, and the line that says so.
let held = [];
let heldLine = null;

function put(files) {
  const batch = [...held, ...files];
  picker.value = "";
  heldLine?.remove();
  held = brood.value ? [] : batch;
  if (!batch.length) return;
  if (held.length) {
    heldLine = note(`NOT sent yet: choose the brood of ${held.map((f) => f.name).join(", ")}.`, true);
    brood.focus();
    return;
  }
  const to = { brood: brood.value };
  if (day.value) to.day = day.value;
  if (code) to.code = code.value;
  queue = queue.then(() => sendAll(batch, to));
}

picker.addEventListener("change", () => put(picker.files));
brood.addEventListener("change", () => { if (held.length) put([]); });
for (const kind of ["dragover", "dragleave", "drop"]) {
  drop.addEventListener(kind, (event) => {
    event.preventDefault();
    drop.classList.toggle("over", kind === "dragover");
    if (kind === "drop") put(event.dataTransfer.files);
  });
}
// A photo dropped beside the field must not replace the page.
for (const kind of ["dragover", "drop"]) document.addEventListener(kind, (event) => event.preventDefault());
