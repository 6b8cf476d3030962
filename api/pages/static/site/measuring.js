// Gaps measured in: what is written stays on the phone until it is sent as one survey of the level.
import { building, ownOf, who } from "./page.js";
import { draft, drafts, newId, now, put } from "./store.js";

const form = document.querySelector("[data-measuring]");

const rows = () => Array.from(form.querySelectorAll("[data-reading]"));
const place = (row) => `${row.dataset.run} ${row.dataset.atMm}`;
const field = (row, name) => row.querySelector(`[data-${name}]`);

function valuesOf(row) {
  return {
    top: field(row, "top").value,
    bottom: field(row, "bottom").value,
    hidden: field(row, "hidden").checked,
    note: field(row, "note").value.trim(),
  };
}

const empty = (values) => !values.top && !values.bottom && !values.hidden;

function count() {
  const filled = rows().filter((row) => !empty(valuesOf(row))).length;
  form.querySelector("[data-filled]").textContent = filled;
  form.querySelector("[data-filled-noun]").textContent = filled === 1 ? "reading" : "readings";
  form.querySelector("[data-send-readings]").disabled = filled === 0;
}

async function written(row) {
  const values = valuesOf(row);
  for (const name of ["top", "bottom"]) field(row, name).disabled = values.hidden;
  await draft(building, place(row), empty(values) && !values.note ? null : values);
  count();
}

// A row's reading as it is sent; null where nothing is written; a text where it cannot be right.
function reading(row) {
  const { top, bottom, hidden, note } = valuesOf(row);
  const sent = { run: row.dataset.run, at_mm: Number(row.dataset.atMm), ...(note ? { note } : {}) };
  if (hidden) return { ...sent, accessible: false };
  if (!top && !bottom) return null;
  for (const [name, text] of [["gap_top_mm", top], ["gap_bottom_mm", bottom]]) {
    if (!text) continue;
    if (!/^\d+$/.test(text) || Number(text) < 1 || Number(text) > 9999) {
      return `${row.dataset.run} at ${row.dataset.atMm}: ${text} is no gap in whole millimetres.`;
    }
    sent[name] = Number(text);
  }
  return sent;
}

async function sendReadings(event) {
  event.preventDefault();
  const by = who();
  if (by === null) return;
  const found = rows().map(reading);
  const wrong = found.filter((one) => typeof one === "string");
  form.querySelector("[data-wrong]").textContent = wrong.join(" ");
  const readings = found.filter((one) => one && typeof one !== "string");
  if (wrong.length || !readings.length) return;
  const id = newId();
  await put([{ building, kind: "readings", id, body: { id, at: now(), by, readings } }]);
  for (const row of rows()) {
    for (const name of ["top", "bottom", "note"]) field(row, name).value = "";
    field(row, "hidden").checked = false;
    await written(row);
  }
}

// Another place to measure on a run, in its order.
function addPlace(button) {
  const run = button.closest("[data-run-of]");
  const at = run.querySelector("[data-new-at]");
  const most = Number(run.dataset.length);
  const words = run.querySelector("[data-new-wrong]");
  words.textContent = "";
  if (!/^\d+$/.test(at.value) || Number(at.value) > most) {
    words.textContent = `Give a whole number of millimetres from 0 to ${most}.`;
    return;
  }
  if (run.querySelector(`[data-reading][data-at-mm="${Number(at.value)}"]`)) {
    words.textContent = "This place is in the list already.";
    return;
  }
  addRow(run, Number(at.value));
  at.value = "";
}

function addRow(run, atMm) {
  const row = form.querySelector("template").content.firstElementChild.cloneNode(true);
  row.dataset.run = run.dataset.runOf;
  row.dataset.atMm = String(atMm);
  row.querySelector("[data-at-words]").textContent = `at ${atMm}`;
  const photograph = row.querySelector("input[data-what]");
  photograph.dataset.run = run.dataset.runOf;
  photograph.dataset.at_mm = String(atMm);
  const list = run.querySelector("[data-readings]");
  const after = Array.from(list.children).find((one) => Number(one.dataset.atMm) > atMm);
  list.insertBefore(row, after ?? null);
  return row;
}

export async function showReadings() {
  if (!form) return;
  const mine = await ownOf("readings");
  for (const entry of mine) {
    for (const one of entry.body.readings) {
      const run = form.querySelector(`[data-run-of="${CSS.escape(one.run)}"]`);
      if (!run) continue;
      const row = run.querySelector(`[data-reading][data-at-mm="${one.at_mm}"]`) ?? addRow(run, one.at_mm);
      const read = [one.gap_top_mm, one.gap_bottom_mm].filter(Boolean);
      field(row, "kept-words").textContent =
        (one.accessible === false ? "not accessible" : `read: ${read.join(" and ")}`) +
        (entry.status === "waiting" ? ", waits to be sent" : ", sent");
    }
  }
}

export async function startMeasuring() {
  if (!form) return;
  const kept = await drafts(building);
  for (const [name, values] of kept) {
    const [, runName, at] = /^(.*) (\d+)$/.exec(name);
    const run = form.querySelector(`[data-run-of="${CSS.escape(runName)}"]`);
    if (!run) continue;
    const row = run.querySelector(`[data-reading][data-at-mm="${at}"]`) ?? addRow(run, Number(at));
    for (const part of ["top", "bottom", "note"]) field(row, part).value = values[part] ?? "";
    field(row, "hidden").checked = values.hidden;
    await written(row);
  }
  form.addEventListener("input", (event) => {
    const row = event.target.closest("[data-reading]");
    if (row) written(row);
  });
  form.addEventListener("click", (event) => {
    const button = event.target.closest("[data-add-place]");
    if (button) addPlace(button);
  });
  form.addEventListener("submit", sendReadings);
  for (const button of form.querySelectorAll("[data-add-place]")) button.disabled = false;
  count();
  await showReadings();
}
