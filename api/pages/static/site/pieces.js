// Cards of pieces: tick cut, fitted, damaged, seen; take the last tick back. A card shows what the service knew when the
// page was made, and on top of that what this phone has told since.
import { ownEvents, tellEvents } from "./page.js";

const WORDS = { planned: "to cut", cut: "cut, to fit", fitted: "fitted", damaged: "damaged" };
const AFTER = { cut: "cut", fitted: "fitted", scrapped: "damaged" };

const cards = Array.from(document.querySelectorAll("[data-piece]"));
const next = document.querySelector("[data-next]");

// What a card's piece is after the phone's own events: its state, what waits, and the event to take back.
function stateOf(card, standing, undone) {
  const { served, cutEvent, fittedEvent, spoiltEvent } = card.dataset;
  const events = { cut: cutEvent, fitted: fittedEvent, damaged: spoiltEvent };
  let state = served;
  if (state === "damaged" && undone.has(spoiltEvent)) state = fittedEvent ? "fitted" : "cut";
  if (state === "fitted" && undone.has(fittedEvent)) state = cutEvent ? "cut" : "planned";
  if (state === "cut" && undone.has(cutEvent)) state = "planned";
  let back = events[state] ?? "";
  let waits = Array.from(undone).some((id) => Object.values(events).includes(id) && id !== "");
  for (const { body, status } of standing) {
    if (body.piece !== card.dataset.piece || !(body.event in AFTER)) continue;
    if (body.event === "cut" && state !== "planned") continue;
    state = AFTER[body.event];
    back = body.id;
    waits = status === "waiting";
  }
  return { state, back, waits };
}

function countStates() {
  for (const place of document.querySelectorAll("[data-counted]")) {
    const wanted = place.dataset.counted.split(" ");
    place.textContent = cards.filter((card) => wanted.includes(card.dataset.state)).length;
  }
}

function showNext() {
  if (!next) return;
  const first = cards.find((card) => card.dataset.state === next.dataset.next && !card.dataset.notReady);
  next.querySelector("[data-next-none]").hidden = Boolean(first);
  const shown = next.querySelector("[data-next-piece]");
  shown.hidden = !first;
  if (!first) return;
  const link = shown.querySelector("a");
  link.textContent = first.dataset.piece;
  link.href = `#${first.id}`;
  shown.querySelector("[data-next-words]").textContent = first.dataset.words;
  const button = shown.querySelector("button"); // who may only read has none
  if (button) button.dataset.of = first.dataset.piece;
}

export async function showPieces() {
  const { standing, undone } = await ownEvents();
  for (const card of cards) {
    const { state, back, waits } = stateOf(card, standing, undone);
    card.dataset.state = state;
    card.dataset.back = back;
    const words = card.querySelector("[data-state-words]");
    if (words) words.textContent = WORDS[state] + (waits ? ", waits to be sent" : "");
    showSeen(card, standing);
  }
  for (const step of document.querySelectorAll("[data-step]")) {
    const mine = Array.from(step.querySelectorAll("[data-piece]"));
    step.dataset.begun = mine.some((card) => card.dataset.state !== "planned");
    step.dataset.done = mine.every((card) => card.dataset.state !== "planned");
    for (const event of standing.map((entry) => entry.body)) {
      for (const kept of step.querySelectorAll("[data-kept]")) {
        if (event.board !== kept.dataset.kept) continue;
        const size = event.event === "kept" ? `kept as ${event.length_mm} x ${event.width_mm}` : "lost";
        kept.querySelector("[data-kept-words]").textContent = size;
      }
    }
  }
  countStates();
  showNext();
}

// Who of this phone saw a part, on the pages of inspection.
function showSeen(card, standing) {
  for (const part of card.querySelectorAll("[data-part]")) {
    for (const { body, status } of standing) {
      if (body.event !== "inspected" || body.piece !== card.dataset.piece) continue;
      const named = /^(joint at its end|bracket at \d+)/.exec(body.note ?? "")?.[0] ?? "";
      if (named && named !== part.dataset.part) continue;
      const remark = named ? body.note.slice(named.length).replace(/^: /, "") : body.note;
      part.dataset.seen = "yes";
      part.querySelector("[data-seen-words]").textContent =
        `seen by ${body.by}${remark ? `: ${remark}` : ""}${status === "waiting" ? ", waits to be sent" : ""}`;
    }
  }
}

async function tick(card, what, note) {
  const piece = card.dataset.piece;
  if (what === "back") return tellEvents({ event: "undone", undoes: card.dataset.back });
  if (what === "scrapped") {
    // a piece that is lost was cut before, whether or not somebody said so
    const cut = card.dataset.state === "planned" ? [{ event: "cut", piece }] : [];
    return tellEvents(...cut, { event: "scrapped", piece, note });
  }
  return tellEvents({ event: what, piece, ...(note ? { note } : {}) });
}

function remarkBeside(button) {
  const field = button.closest("[data-remarked]")?.querySelector("[data-remark]");
  const remark = field?.value.trim() ?? "";
  if (field) field.value = "";
  return remark;
}

async function pressed(button) {
  const card = button.dataset.of
    ? cards.find((one) => one.dataset.piece === button.dataset.of)
    : button.closest("[data-piece]");
  const does = button.dataset.does;
  if (does === "reasons") {
    const reasons = card.querySelector("[data-reasons]");
    reasons.hidden = !reasons.hidden;
    button.setAttribute("aria-expanded", String(!reasons.hidden));
    return;
  }
  if (does === "undo") {
    button.disabled = await tellEvents({ event: "undone", undoes: button.dataset.undoes });
  } else if (does === "all-cut") {
    const open = Array.from(button.closest("[data-step]").querySelectorAll("[data-piece][data-state=planned]"));
    await tellEvents(...open.map((one) => ({ event: "cut", piece: one.dataset.piece })));
  } else if (does === "kept" || does === "lost") {
    await rack(button.closest("[data-kept]"), does);
  } else if (does === "inspected") {
    const part = button.closest("[data-part]")?.dataset.part ?? "";
    const remark = remarkBeside(button);
    await tick(card, does, part ? (remark ? `${part}: ${remark}` : part) : remark);
  } else {
    const told = await tick(card, does, button.dataset.note ?? "");
    const reasons = card.querySelector("[data-reasons]");
    if (told && reasons) reasons.hidden = true;
  }
}

// A remainder as it was measured, or that it is lost.
async function rack(kept, does) {
  const board = kept.dataset.kept;
  if (does === "lost") return tellEvents({ event: "scrapped", board, note: "not on the rack" });
  const [length, width] = ["length", "width"].map((name) => Number(kept.querySelector(`[data-${name}]`).value));
  const wrong = kept.querySelector("[data-wrong]");
  wrong.textContent = length >= 1 && width >= 1 ? "" : "Give its length and width in whole millimetres.";
  if (wrong.textContent) return false;
  return tellEvents({ event: "kept", board, length_mm: length, width_mm: width });
}

// A label's address ends in #label-NAME: the card of that name is brought into view.
function openLabel() {
  const id = decodeURIComponent(location.hash.slice(1));
  const found = id && document.getElementById(id);
  if (!found) return;
  for (const one of document.querySelectorAll(".called")) one.classList.remove("called");
  found.classList.add("called");
  found.closest("details")?.setAttribute("open", "");
  found.scrollIntoView({ block: "start" });
  found.focus({ preventScroll: true });
}

export async function startPieces() {
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-does]");
    if (button) pressed(button);
  });
  await showPieces();
  for (const button of document.querySelectorAll("button[data-does]")) button.disabled = false;
  window.addEventListener("hashchange", openLabel);
  openLabel();
}
