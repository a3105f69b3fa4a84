// The page's own script: dropping a file, pointing at panels, dragging layers, the magnifier,
// keeping up with the disk. It moves windows and controls; all geometry is the server's.
"use strict";

const one = (id) => document.getElementById(id);

// -- what a redraw must leave alone ------------------------------------------------------

Object.assign(Idiomorph.defaults.callbacks, {
  // A part that keeps its own state is left as it is while its name for that state is the same,
  // and so is what the server is still working out.
  beforeNodeMorphed: (old, fresh) =>
    !(old.dataset && fresh.dataset &&
      ("pending" in fresh.dataset || old.dataset.keep && old.dataset.keep === fresh.dataset.keep)),
  // Whether a part is folded out is the reader's business, and so is what is being typed.
  // (ignoreActiveValue would also leave alone everything inside the element in focus.)
  beforeAttributeUpdated: (name, node) =>
    !(name === "open" && node.tagName === "DETAILS") &&
    !(name === "value" && node === document.activeElement && isTyped(node)),
});

// A field that only has the focus follows the file like any other.
const isTyped = (field) => field.value !== (before.get(field) ?? field.defaultValue);
const before = new WeakMap();
document.addEventListener("focusin", ({ target }) => {
  if ("defaultValue" in target) before.set(target, target.value);
});
// What was sent is typed no longer: the answer says how it stands.
document.addEventListener("change", ({ target }) => before.set(target, target.value), true);

// -- saved or not -----------------------------------------------------------------------

function keep(words, bad) {
  const kept = one("kept");
  if (!kept) return;
  kept.textContent = words;
  kept.classList.toggle("bad", bad);
}

document.addEventListener("htmx:beforeRequest", (event) => {
  if (event.detail.requestConfig.verb === "post") keep("Saving …", false);
});

document.addEventListener("htmx:afterRequest", (event) => {
  const { elt, xhr } = event.detail;
  if (elt.id === "pattern-form" || elt.id === "photo-form") elt.reset();
  if (xhr && xhr.status < 300 && !xhr.getResponseHeader("x-refused") && elt.matches("[data-reset]")) {
    elt.reset();
  }
});

// Where the reader was, in case the control is gone or at rest after an edit.
let place = { id: "", row: -1 };

document.addEventListener("htmx:beforeRequest", (event) => {
  const form = event.detail.elt;
  if (form.id === "pattern-form") {
    const file = one("pattern-file").files[0];
    one("said").textContent = "Reading the drawing …";
    if (file && file.size > Number(form.dataset.most)) {
      event.preventDefault();
      one("said").textContent = `${file.name} is too large for a pattern; save the panels alone, without pictures.`;
      form.reset();
    }
  }
  if (form.id === "photo-form" && event.detail.requestConfig.verb === "post") {
    const size = [...one("photo-file").files].reduce((sum, file) => sum + file.size, 0);
    one("said").textContent = "Taking in the photos …";
    if (size > Number(form.dataset.most)) {
      event.preventDefault();
      one("said").textContent = "The photos are too large together; drop four of them at most, saved as JPEG.";
      form.reset();
    }
  }
  const here = document.activeElement;
  if (!here || here === document.body) {
    place = { id: "", row: -1 };
    return;
  }
  const layer = here.closest(".layer");
  place = { id: here.id, row: layer ? Number(layer.dataset.place) : -1 };
});
document.addEventListener("htmx:afterSettle", () => {
  if (document.activeElement && document.activeElement !== document.body) return;
  const again = place.id && one(place.id);
  if (again && again.checkVisibility() && !again.disabled) {
    again.focus();
  } else if (place.row >= 0) {
    // Not a text field: there Ctrl+Z would not take the edit back.
    const rows = document.querySelectorAll(".layer");
    const row = again ? again.closest(".layer") : rows[Math.min(place.row, rows.length - 1)];
    row?.querySelector(".order button:enabled, summary")?.focus();
  } else if (place.id.startsWith("alter-") || place.id === "redraft") {
    one("fitting-head")?.focus();
  } else if (/^(un)?gore-/.test(place.id)) {
    one("pattern-summary")?.focus();
  } else if (place.id.startsWith("paper-")) {
    // A tracing that began or ended, or was used.
    const next = ["paper-stop", "paper-refused-head", "paper-traced-head", "pattern-summary", "photo-file"].map(one);
    next.find((part) => part?.checkVisibility())?.focus();
  }
});

const SILENT =
  "panelshift does not answer. Is it still running in its window? Nothing is lost: what was saved is in the job file.";

document.addEventListener("htmx:responseError", (event) => {
  if (event.detail.requestConfig.verb === "post") keep("Last change not saved", true);
  one("said").textContent = event.detail.xhr.status === 403
    ? "This page is from an earlier start. Open the address that panelshift printed last."
    : "That went wrong inside panelshift; its window says how. The job file is as it was.";
});
document.addEventListener("htmx:sendError", () => {
  keep("panelshift does not answer", true);
  one("said").textContent = SILENT;
});

// -- light and dark ----------------------------------------------------------------------

function appear(choice) {
  if (choice) document.documentElement.dataset.appearance = choice;
  else delete document.documentElement.dataset.appearance;
}

function startAppearance() {
  let kept = "";
  try { kept = localStorage.getItem("panelshift-appearance") || ""; } catch { /* none kept */ }
  appear(kept);
  const choice = one("appearance");
  choice.value = kept;
  choice.addEventListener("change", () => {
    appear(choice.value);
    try { localStorage.setItem("panelshift-appearance", choice.value); } catch { /* not kept */ }
  });
}

// -- a file dropped anywhere on the page -------------------------------------------------

function carriesFile(event) {
  return event.dataTransfer && [...event.dataTransfer.types].includes("Files");
}

const isPicture = (file) =>
  /^image\/(?!svg)/.test(file.type) || /\.(jpe?g|png|tiff?|webp|bmp|gif|hei[cf]|avif)$/i.test(file.name);

document.addEventListener("dragover", (event) => {
  if (!carriesFile(event)) return;
  event.preventDefault();
  one("pattern-form")?.classList.add("over");
});
document.addEventListener("dragleave", (event) => {
  if (!event.relatedTarget) one("pattern-form")?.classList.remove("over");
});
document.addEventListener("drop", (event) => {
  if (!carriesFile(event)) return;
  event.preventDefault();
  const form = one("pattern-form");
  if (!form || !event.dataTransfer.files.length) return;
  form.classList.remove("over");
  const { files } = event.dataTransfer;
  if ([...files].some(isPicture)) {
    document.querySelector(".from-paper").open = true;
    one("photo-file").files = files;
    one("photo-form").dispatchEvent(new Event("change", { bubbles: true }));
    return;
  }
  one("pattern-file").files = files;
  form.dispatchEvent(new Event("change", { bubbles: true }));
});

// -- a tracing: pointing at places of it, and looking closer ------------------------------

let armed = null;

function aim(form) {
  armed = form;
  one("paper-sheet")?.classList.toggle("aiming", Boolean(form));
  for (const button of document.querySelectorAll(".arm")) {
    button.setAttribute("aria-pressed", String(Boolean(form) && button.form === form));
  }
  one("paper-points")?.replaceChildren();
}

document.addEventListener("click", (event) => {
  const button = event.target.closest?.(".arm");
  if (button) {
    const on = armed !== button.form;
    if (on) button.form.reset();
    aim(on ? button.form : null);
    if (on) one("paper-picture").scrollIntoView({ block: "center" });
  }
  const times = Number(event.target.closest?.("[data-closer]")?.dataset.closer);
  const sheet = one("paper-sheet");
  if (times && sheet) {
    const now = Number.parseFloat(sheet.style.width) || 100;
    const part = Math.min(800, Math.max(100, now * times));
    const glass = sheet.parentElement;
    // What was in the middle stays there.
    const middle = [glass.scrollLeft + glass.clientWidth / 2, glass.scrollTop + glass.clientHeight / 2];
    const before = [glass.scrollWidth, glass.scrollHeight];
    sheet.style.width = `${part}%`;
    sheet.classList.toggle("closer", part > 100);
    glass.scrollLeft = middle[0] * glass.scrollWidth / before[0] - glass.clientWidth / 2;
    glass.scrollTop = middle[1] * glass.scrollHeight / before[1] - glass.clientHeight / 2;
  }
});

// Before a panel under the pointer takes it for its own.
document.addEventListener("click", (event) => {
  const sheet = event.target.closest?.("#paper-sheet");
  if (!sheet || !armed?.isConnected) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(sheet.getScreenCTM().inverse());
  const fields = [...armed.querySelectorAll("input")];
  const first = fields.findIndex((field) => !field.value);
  if (first < 0 || first % 2) return;
  fields[first].value = at.x.toFixed(1);
  fields[first + 1].value = at.y.toFixed(1);
  const dot = document.createElementNS("http://www.w3.org/2000/svg", "circle");
  for (const [name, value] of Object.entries({ cx: at.x, cy: at.y, r: 4, class: "aim" })) dot.setAttribute(name, value);
  one("paper-points").append(dot);
  if (first + 2 < fields.length) return;
  const { form } = fields[0];
  aim(null);
  form.requestSubmit();
}, true);

// -- panels: the drawing and the list point at each other --------------------------------

function point(index) {
  for (const part of document.querySelectorAll("#class-picture .panel, .class-choice")) {
    part.classList.toggle("pointed", part.dataset.panel === index);
  }
}

document.addEventListener("click", (event) => {
  const panel = event.target.closest?.("#class-picture [data-panel]");
  if (!panel) return;
  const choices = [...one(`class-${panel.dataset.panel}`).querySelectorAll("input[type=radio]")];
  const now = choices.findIndex((choice) => choice.checked);
  const next = choices[(now + 1) % choices.length];
  next.checked = true;
  next.dispatchEvent(new Event("change", { bubbles: true }));
});
for (const kind of ["pointerover", "focusin"]) {
  document.addEventListener(kind, (event) => {
    const part = event.target.closest?.("#class-picture [data-panel], .class-choice");
    point(part ? part.dataset.panel : "");
  });
}

// -- what a drawing leaves open: its answers are buttons, and lines to point at ------------

document.addEventListener("click", (event) => {
  const line = event.target.closest?.(".option");
  const answer = line && one(line.dataset.answer);
  if (answer?.tagName !== "OPTION") return answer?.click();
  const fold = answer.closest("details");
  if (fold) fold.open = true;
  answer.selected = true;
  answer.parentElement.focus();
  showChosen();
});
// Which lines are chosen in a list.
function showChosen() {
  for (const line of document.querySelectorAll(".option")) {
    line.classList.toggle("pointed", Boolean(one(line.dataset.answer)?.selected));
  }
}
for (const kind of ["change", "htmx:afterSettle"]) document.addEventListener(kind, showChosen);
for (const kind of ["pointerover", "focusin"]) {
  document.addEventListener(kind, (event) => {
    const part = event.target.closest?.(".option, .answer");
    const answer = part?.dataset.answer ?? part?.id;
    for (const line of document.querySelectorAll(".option")) {
      line.classList.toggle("pointed", line.dataset.answer === answer || Boolean(one(line.dataset.answer)?.selected));
    }
  });
}

// -- layers dragged to another place (the buttons do the same) ---------------------------

let carried = null;

function layerUnder(event) {
  return carried && event.target.closest?.(".layer");
}

document.addEventListener("dragstart", (event) => {
  const grip = event.target.closest?.(".grip");
  if (!grip) return;
  carried = grip.closest(".layer");
  event.dataTransfer.effectAllowed = "move";
  event.dataTransfer.setData("text/plain", carried.dataset.fabric);
});
document.addEventListener("dragover", (event) => {
  const layer = layerUnder(event);
  if (!layer) return;
  event.preventDefault();
  for (const other of document.querySelectorAll(".layer")) {
    other.classList.toggle("over", other === layer && other !== carried);
  }
});
document.addEventListener("drop", (event) => {
  const layer = layerUnder(event);
  if (!layer) return;
  event.preventDefault();
  if (layer !== carried) {
    htmx.ajax("POST", "/edit/move", {
      source: "#stack",
      target: "#work",
      swap: "morph:innerHTML",
      values: {
        fabric: carried.dataset.fabric,
        to: layer.dataset.place,
        revision: one("revision").value,
      },
    });
  }
});
document.addEventListener("dragend", () => {
  carried = null;
  for (const layer of document.querySelectorAll(".layer.over")) layer.classList.remove("over");
});

// -- the magnifier: a second window on the same drawing ----------------------------------

const lens = { panel: "", x: 0.5, y: 0.5, part: 0.16 };

function showLens() {
  const glass = one("lens");
  const drawing = document.querySelector("#overlay-picture svg");
  if (!glass || !drawing) return;
  const { width, height } = drawing.viewBox.baseVal;
  const { x, y, panelShown } = one("overlay-picture").dataset;
  if (lens.panel !== panelShown) {
    Object.assign(lens, { panel: panelShown, x: x / width, y: y / height });
  }
  const size = lens.part * Math.min(width, height) * 1.6;
  glass.setAttribute(
    "viewBox", `${lens.x * width - size / 2} ${lens.y * height - size / 2} ${size} ${size}`);
}

function look(event) {
  const drawing = event.target.closest?.("#overlay-picture svg");
  if (!drawing) return;
  // The browser's own map from the screen to the drawing.
  const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(drawing.getScreenCTM().inverse());
  const { width, height } = drawing.viewBox.baseVal;
  lens.x = at.x / width;
  lens.y = at.y / height;
  showLens();
}

// A finger that taps does not move.
for (const kind of ["pointermove", "pointerdown"]) document.addEventListener(kind, look);

const within = (value, low, high) => Math.min(high, Math.max(low, value));

function closer(times) {
  lens.part = within(lens.part / times, 0.02, 1);
  showLens();
}

// In the glass itself one pointer drags the drawing, and two bring it closer.
const touching = new Map();
const spread = () => {
  const [one, two] = [...touching.values()];
  return Math.hypot(one.x - two.x, one.y - two.y) || 1;
};

document.addEventListener("pointerdown", (event) => {
  if (event.target.closest?.("#lens")) touching.set(event.pointerId, { x: event.clientX, y: event.clientY });
});
document.addEventListener("pointermove", (event) => {
  const last = touching.get(event.pointerId);
  const glass = one("lens");
  const drawing = document.querySelector("#overlay-picture svg");
  if (!last || !glass || !drawing) return;
  const before = touching.size === 2 ? spread() : 0;
  touching.set(event.pointerId, { x: event.clientX, y: event.clientY });
  if (before) return closer(spread() / before);
  const { width, height } = drawing.viewBox.baseVal;
  const scale = glass.viewBox.baseVal.width / glass.getBoundingClientRect().width;
  lens.x = within(lens.x - (event.clientX - last.x) * scale / width, 0, 1);
  lens.y = within(lens.y - (event.clientY - last.y) * scale / height, 0, 1);
  showLens();
});
for (const kind of ["pointerup", "pointercancel"]) {
  document.addEventListener(kind, (event) => touching.delete(event.pointerId));
}
document.addEventListener("wheel", (event) => {
  if (!event.target.closest?.("#lens")) return;
  event.preventDefault();
  closer(event.deltaY < 0 ? 1.2 : 1 / 1.2);
}, { passive: false });
document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-lens]");
  if (button) closer(Number(button.dataset.lens));
});
document.addEventListener("keydown", (event) => {
  if (event.target.id !== "lens") return;
  const step = lens.part / 4;
  const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
  if (moves[event.key]) {
    lens.x = Math.min(1, Math.max(0, lens.x + moves[event.key][0]));
    lens.y = Math.min(1, Math.max(0, lens.y + moves[event.key][1]));
  } else if (event.key === "+" || event.key === "=") closer(1.4);
  else if (event.key === "-") closer(1 / 1.4);
  else return;
  event.preventDefault();
  showLens();
});
document.addEventListener("htmx:afterSettle", showLens);

// Step 4 comes a while after an edit: what was chosen in the meantime counts.
document.addEventListener("htmx:afterSettle", (event) => {
  const controls = one("look-controls");
  if (event.target.id !== "look" || !controls) return;
  const asked = event.detail.requestConfig.parameters;
  const moved = [...new FormData(controls)].some(
    ([name, value]) => asked[name] !== undefined && asked[name] !== value);
  if (moved) htmx.trigger(controls, "submit");
});

// -- undo from the keyboard, outside text fields -----------------------------------------

document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
  if (event.target.matches?.("textarea, input:not([type=radio], [type=checkbox], [type=range])")) return;
  const key = event.key.toLowerCase();
  const button = key === "z" && !event.shiftKey ? "undo" : key === "y" || key === "z" ? "redo" : "";
  if (!button) return;
  event.preventDefault();
  one(button)?.click();
});

// -- the parcel: made step by step, so that it can be told how far it is -------------------

const pause = (ms) => new Promise((done) => { setTimeout(done, ms); });

// An answer of the parcel's; a refusal is told beside the button.
async function asked(address, options) {
  const answer = await fetch(address, options);
  if (!answer.ok) throw new Error("Something went wrong here; see the window where panelshift runs.");
  if (answer.headers.has("x-refused")) throw new Error(await answer.text());
  return answer.json();
}

async function made(form, said, bar) {
  const { number } = await asked(`/parcel?${new URLSearchParams(new FormData(form))}`, { method: "POST" });
  for (;;) {
    const found = await asked(`/parcel/${number}`);
    if (found.done) return { ...found, number };
    bar.max = found.of + 0.5;
    bar.value = Math.max(0.25, found.step - 0.5);
    said.textContent = found.making ? `${found.step} of ${found.of}: ${found.making} …` : "Making the parcel …";
    await pause(250);
  }
}

function offer(found) {
  const list = one("take-open");
  list.replaceChildren(...found.shown.map((name) => {
    const link = document.createElement("a");
    link.href = `/parcel/${found.number}/${name.split("/").map(encodeURIComponent).join("/")}`;
    link.target = "_blank";
    link.textContent = `Open ${name.split("/").pop()}`;
    const item = document.createElement("li");
    item.append(link);
    return item;
  }));
  list.hidden = !found.shown.length;
}

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (form.id !== "take-form") return;
  event.preventDefault();
  const [said, bar, button] = [one("take-said"), one("take-progress"), one("take")];
  button.disabled = true;
  bar.hidden = false;
  bar.value = 0;
  one("take-open").hidden = true;
  said.classList.remove("refusal");
  said.textContent = "Making the parcel …";
  try {
    const found = await made(form, said, bar);
    const link = document.createElement("a");
    link.href = `/parcel/${found.number}/${encodeURIComponent(found.name)}`;
    link.download = found.name;
    link.click();
    offer(found);
    said.textContent = `${found.name} is with your downloads.`;
  } catch (error) {
    said.classList.add("refusal");
    said.textContent = error instanceof TypeError
      ? "panelshift does not answer. Is it still running in its window?" : error.message;
  } finally {
    button.disabled = false;
    bar.hidden = true;
  }
});

// What lies there was made before the last change.
document.body.addEventListener("revised", () => {
  const list = one("take-open");
  if (!list || list.hidden) return;
  list.hidden = true;
  one("take-said").textContent = "The work has changed since; make the parcel anew.";
});

// -- keep up with the disk and with other tabs -------------------------------------------

let silent = false;

async function pulse() {
  const revision = one("revision");
  if (document.visibilityState !== "visible" || !revision) return;
  const { mark } = revision.dataset;
  try {
    const answer = await fetch(`/pulse?mark=${encodeURIComponent(mark)}`);
    const changed = (answer.ok && (await answer.text()) === "changed") || silent;
    silent = false;
    // An edit of this very page may have come between the question and the answer.
    const overtaken = one("revision")?.dataset.mark !== mark || document.querySelector(".htmx-request");
    if (changed && !overtaken) {
      await htmx.ajax("GET", "/work", { target: "#work", swap: "morph:innerHTML", values: { section: one("section-level")?.value ?? "" } });
      document.body.dispatchEvent(new Event("revised"));
    }
  } catch {
    // Asked again when the reader comes back to the page.
    silent = true;
    keep("panelshift does not answer", true);
    one("said").textContent = SILENT;
  }
}

document.addEventListener("visibilitychange", pulse);
window.addEventListener("focus", pulse);
setInterval(() => silent || pulse(), 3000);

startAppearance();
showLens();
