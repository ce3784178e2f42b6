// The quick log with script: a tap saves without a new page, one more takes it back, and
// what can't be sent waits on this phone.

import * as queue from "./queue.js";
import { amountText, newId, number, rowsOf } from "./rows.js";

const waitingPlace = document.getElementById("waiting");
const person = waitingPlace?.dataset.person ?? "";
const saidPlace = document.getElementById("said");
const OFF = 10 * 60000; // a phone's clock that is further off is told
const TWICE = 600; // milliseconds in which a second tap on the same button is a slip

// What is said and what waits stand over the foot of the page, so that nothing moves under a finger.
const dock = document.createElement("div");
dock.className = "dock";
saidPlace.before(dock);
dock.append(...[waitingPlace, saidPlace].filter(Boolean));

const each = (selector, wakeUp) => document.querySelectorAll(selector).forEach(wakeUp);

const make = (name, text = "", attributes = {}) => {
  const made = document.createElement(name);
  made.textContent = text;
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
};

let keptSaid = false; // the line now shown says that something is kept here

function show(kind, text, ...buttons) {
  keptSaid = false;
  const line = make("div", "", { class: kind });
  line.append(make("p", text, { class: "grow" }), ...buttons);
  for (const old of document.querySelectorAll(".strip-saved, .refused")) old.remove();
  saidPlace.replaceChildren(line);
}

function button(text, act, attributes = {}) {
  const made = make("button", text, { type: "button", ...attributes });
  made.addEventListener("click", () => act(made));
  return made;
}

async function undo(entries, said, pressed) {
  pressed.disabled = true;
  const state = await queue.undo(entries, said);
  show("said", state === "saved" ? `Taken back: ${said}.` : `It is taken back when the rack can be reached: ${said}.`);
}

// The line that says what a form noted.
function sayRows(form, submitter, rows, labels) {
  if (submitter?.dataset.said) return submitter.dataset.said;
  if (rows.length > 3) return `${rows.length} readings`;
  const word = form.querySelector('input[type="radio"][name="kind"]:checked')?.dataset.word ?? form.dataset.word;
  return rows.map((row, i) => {
    const what = row.kind === "reading" ? "" : row.what.replaceAll("_", " ");
    return [labels[i] || word, what === word ? "" : what, amountText(row), row.kind === "note" || row.kind === "setting" ? row.note : ""]
      .filter(Boolean).join(" ");
  }).join("; ");
}

function renew(form) {
  for (const id of form.querySelectorAll('input[name^="entry_id"]')) id.value = newId();
  for (const box of form.querySelectorAll('input[name^="value"], input[name="gross"], input[name="amount"], textarea, .kit-rows select')) {
    if (!box.hidden) box.value = box.defaultValue ?? "";
  }
  form.querySelector("[data-net]")?.setAttribute("hidden", "");
}

// Notes what a form says; true when it is saved or kept.
async function save(form, submitter) {
  let read;
  try {
    read = rowsOf(fieldsOf(form, submitter), person);
  } catch (fault) {
    show("refused", `${fault.message}.`);
    return false;
  }
  const said = sayRows(form, submitter, read.rows, read.labels);
  form.setAttribute("aria-busy", "true");
  const done = await queue.note(read.rows, said);
  form.removeAttribute("aria-busy");
  const back = button("Undo", (pressed) => undo(read.rows, said, pressed));
  if (done.state === "saved") {
    show("said", `Saved: ${said}.${clockNote(done.date)}`, back);
    renew(form);
    navigator.vibrate?.(20);
  } else if (done.state === "refused") {
    await queue.discard(done.item.id);
    for (const id of form.querySelectorAll('input[name^="entry_id"]')) id.value = newId();
    show("refused", `Not saved. ${done.reasons.join(" ")}`);
  } else {
    const why = done.state === "sign in" ? "you are signed out" : "the rack can't be reached";
    show("said", `Kept on this phone: ${said}. It is sent later, as ${why}.`, back);
    keptSaid = true;
    renew(form);
  }
  return done.state !== "refused";
}

function clockNote(date) {
  const off = date ? Date.now() - Date.parse(date) : 0;
  return Math.abs(off) > OFF ? ` This phone's clock is ${Math.round(Math.abs(off) / 60000)} minutes ${off > 0 ? "ahead" : "behind"}.` : "";
}

each("form[data-log]", (form) => {
  let busy = false, last = null, done = 0;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const pressed = event.submitter;
    if (busy || (pressed === last && performance.now() - done < TWICE)) return;
    busy = true;
    const saved = await save(form, pressed).finally(() => { busy = false; });
    if (saved) [last, done] = [pressed, performance.now()];
  });
  const gross = form.elements.namedItem("gross"), net = form.querySelector("[data-net]");
  if (gross && net) form.addEventListener("input", () => {
    let left = NaN;
    try { left = number(gross.value) - (number(form.elements.namedItem("container").value) ?? 0); } catch { /* half typed */ }
    net.hidden = !gross.value || Number.isNaN(left);
    net.textContent = `${Number(left.toPrecision(6))} ${form.elements.namedItem("unit").value} of plants`;
  });
});

each("[data-step]", (pressed) => {
  pressed.hidden = false;
  pressed.addEventListener("click", () => {
    const box = pressed.parentElement.querySelector("input"), step = Number(pressed.dataset.step);
    const places = (pressed.dataset.step.split(".")[1] ?? "").length;
    const least = Number(box.dataset.least ?? -1e9), most = Number(box.dataset.most ?? 1e9);
    let value;
    try { value = number(box.value); } catch { return; }
    const next = Math.min(Math.max((value ?? 0) + step, least), most);
    const typed = (box.value.split(/[.,]/)[1] ?? "").length;
    box.value = next.toFixed(Math.max(places, typed));
    box.dispatchEvent(new Event("input", { bubbles: true }));
  });
});

// One time for all forms of the page; it stays until it is changed, and is said in colour.
const when = document.querySelector(".when");
if (when) {
  each(".when", (other) => { if (other !== when) other.remove(); });
  document.querySelector("form[data-log]").before(when);
  when.addEventListener("change", (event) => {
    if (event.target.name === "at_other") when.querySelector('[value="other"]').checked = true;
    const chosen = when.querySelector('[name="when"]:checked');
    when.querySelector("[data-when]").textContent = chosen.dataset.word;
    when.classList.toggle("past", chosen.value !== "");
    if (chosen.value !== "other" || when.querySelector('[name="at_other"]').value) when.open = false;
  });
}

function fieldsOf(form, submitter) {
  const fields = new FormData(form);
  if (submitter?.name) fields.append(submitter.name, submitter.value);
  if (when) {
    fields.set("when", when.querySelector('[name="when"]:checked').value);
    fields.set("at_other", when.querySelector('[name="at_other"]').value);
  }
  return fields;
}

// What waits on this phone: how much, and what was refused, with the reasons.

const MENDED = { at: "When", what: "What", low: "Low", high: "High", unit: "Unit", note: "Note" };

function mender(item) {
  const form = make("form", "", { class: "log-form" });
  for (const [i, entry] of item.entries.entries()) {
    const fields = make("div", "", { class: "mend" });
    for (const [name, word] of Object.entries(MENDED)) {
      const label = make("label", word);
      const box = make("input", "", { name: `${name}.${i}` });
      box.value = entry[name] ?? "";
      label.append(box);
      fields.append(label);
    }
    form.append(fields);
  }
  form.append(make("button", "Send again", { class: "main" }));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    try {
      const entries = item.entries.map((entry, i) => {
        const typed = Object.fromEntries(Object.keys(MENDED).map((name) => [name, form.elements.namedItem(`${name}.${i}`).value.trim()]));
        return { ...entry, ...typed, low: number(typed.low), high: number(typed.high), id: newId() };
      });
      await queue.mend(item, entries);
    } catch (fault) {
      show("refused", `${fault.message}.`);
    }
  });
  return form;
}

function refusedLine(item) {
  const line = make("li");
  line.append(make("p", item.said), make("p", item.reasons.join(" "), { class: "why small" }));
  const row = make("div", "", { class: "row" });
  row.append(
    button("Mend", (pressed) => { pressed.hidden = true; line.append(mender(item)); }),
    button("Discard", () => queue.discard(item.id), { class: "grave" }),
  );
  line.append(row);
  return line;
}

queue.onChange((all) => {
  if (!waitingPlace) return;
  const refused = all.filter((item) => item.reasons), open = all.filter((item) => !item.reasons);
  const parts = [];
  if (open.length) {
    const row = make("div", "", { class: "row between" });
    row.append(make("p", `${open.length} waiting on this phone`), button("Send now", () => queue.flush()));
    parts.push(row);
    if (open.some((item) => item.sign_in)) {
      const told = make("p", "You are signed out. ", { class: "small" });
      told.append(make("a", "Sign in to send them", { href: "/sign-in" }));
      parts.push(told);
    }
  }
  if (refused.length) {
    const list = make("ul");
    list.append(...refused.map(refusedLine));
    parts.push(make("p", `${refused.length} refused`), list);
  }
  if (keptSaid && !open.length) show("said", refused.length ? "The rack refused what is listed here." : "All is sent.");
  waitingPlace.hidden = !parts.length;
  waitingPlace.replaceChildren(...parts);
});
