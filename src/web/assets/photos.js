// Photos in: by the file picker, by dropping them on the page, or from a phone; one after the other.

const drop = document.querySelector(".drop");
const picker = drop.querySelector("input[type=file]");
const brood = document.getElementById("upload-brood");
const code = document.getElementById("upload-code");

function note(text) {
  const line = document.createElement("li");
  line.textContent = text;
  document.getElementById("uploads").append(line);
  return line;
}

/** Sends one photo and says what became of it; true when it was kept. */
async function upload(file) {
  const line = note(`${file.name}: sending and measuring…`);
  const query = new URLSearchParams({ name: file.name, brood: brood.value });
  if (code) query.set("code", code.value);
  try {
    const headers = { "content-type": "application/octet-stream" };
    const send = () => fetch("/photos?" + query, { method: "POST", headers, body: file });
    let answer = await send();
    while (answer.status === 503) {
      line.textContent = `${file.name}: waiting for its turn…`;
      await new Promise((go) => setTimeout(go, 1000 * (answer.headers.get("retry-after") ?? 5)));
      answer = await send();
    }
    line.textContent = `${file.name}: ${await answer.text()}`;
    line.classList.toggle("warn", !answer.ok);
    return answer.ok;
  } catch {
    line.textContent = `${file.name}: NOT received; broodhue does not answer. Try again.`;
    line.classList.add("warn");
    return false;
  }
}

async function put(files) {
  let kept = 0;
  for (const file of [...files]) kept += await upload(file);
  picker.value = "";
  if (kept && drop.dataset.after) {
    const link = document.createElement("a");
    link.href = `/brood/${encodeURIComponent(brood.value)}`;
    link.textContent = "Open the brood";
    note("").append(link);
  }
}

picker.addEventListener("change", () => put(picker.files));
for (const kind of ["dragover", "dragleave", "drop"]) {
  drop.addEventListener(kind, (event) => {
    event.preventDefault();
    drop.classList.toggle("over", kind === "dragover");
    if (kind === "drop") put(event.dataTransfer.files);
  });
}
// A photo dropped beside the field must not replace the page.
for (const kind of ["dragover", "drop"]) document.addEventListener(kind, (event) => event.preventDefault());
