// The pages at the slab edge: they work without a network. A service worker keeps the pages, the outbox what is told.
import { building, page } from "./page.js";
import { showReadings, startMeasuring } from "./measuring.js";
import { showPhotographs, startPhotographs } from "./photographs.js";
import { showPieces, startPieces } from "./pieces.js";
import { showGoods, startReceiving } from "./receiving.js";
import { SIGN_IN, send } from "./sending.js";
import { beingKept, change, forgetOld, outbox, remove } from "./store.js";

const TRY_AGAIN = 20_000; // ms
const status = document.querySelector("[data-outbox]");
const refused = document.querySelector("[data-refused]");
const warned = document.querySelector("[data-warned]");
let why = "";

function showKeeping() {
  status.textContent = "Being kept on this phone";
}

async function showOutbox() {
  const all = await outbox(building);
  const waiting = all.filter((entry) => entry.status === "waiting").length;
  if (beingKept) return showKeeping();
  const words = waiting ? `${waiting} to be sent${why ? `: ${why}` : ""}` : "Everything is sent";
  if (status.textContent !== words) status.textContent = words;
  status.dataset.waiting = waiting;
  document.querySelector("[data-send-now]").hidden = waiting === 0;
  document.querySelector("[data-sign-in]").hidden = !waiting || why !== SIGN_IN;
  list(refused, all.filter((entry) => entry.status === "refused"), (entry) => [
    entry.why, "Remove from this phone", () => remove([entry.number]),
  ]);
  list(warned, all.filter((entry) => entry.warning), (entry) => [
    entry.warning, "Seen", () => change([{ ...entry, warning: undefined }]),
  ]);
}

// Entries in words, each with what was said of it and a button that has it leave the list; none: nothing is shown.
function list(place, entries, said) {
  place.hidden = !entries.length;
  place.querySelector("ul").replaceChildren(...entries.map((entry) => item(entry, ...said(entry))));
}

function item(entry, words, does, leave) {
  const made = document.createElement("li");
  const { body } = entry;
  const of = body.piece || body.board || body.code || body.level || body.undoes;
  const what = entry.kind === "event" ? [body.event, of] : [entry.kind];
  made.append(`${what.filter(Boolean).join(" ")}: ${words} `);
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = does;
  button.addEventListener("click", leave);
  made.append(button);
  return made;
}

let sending = false;
let again = false; // what was kept while the last of the others was on its way
async function trySending() {
  again = true;
  if (sending) return;
  sending = true;
  try {
    while (again) {
      again = false;
      const waiting = (await outbox(building)).some((entry) => entry.status === "waiting");
      why = waiting ? await send(building) : "";
    }
  } finally {
    sending = false;
    await showOutbox();
  }
}

async function changed() {
  await Promise.all([showOutbox(), showPieces(), showPhotographs(), showReadings(), showGoods()]);
  trySending();
}

// The worker keeps this page and those that belong to it, and says when it has them.
async function keepPages() {
  const kept = document.querySelector("[data-kept-pages]");
  if (!("serviceWorker" in navigator)) {
    kept.textContent = "This browser keeps no pages: they need a network.";
    return;
  }
  navigator.serviceWorker.addEventListener("message", (event) => {
    const { kept: count, of } = event.data;
    kept.textContent = count === of ? "Kept on this phone." : `${count} of ${of} pages are kept on this phone.`;
    page.dataset.kept = String(count);
  });
  await navigator.serviceWorker.register(page.dataset.worker, { scope: "/site/" });
  const { active } = await navigator.serviceWorker.ready;
  const used = performance.getEntriesByType("resource").map((entry) => new URL(entry.name));
  const assets = used.filter((url) => url.origin === location.origin && url.pathname.startsWith("/static/"));
  active.postMessage({ keep: [...JSON.parse(page.dataset.keep), ...assets.map((url) => url.pathname + url.search)] });
}

document.addEventListener("keeping", showKeeping);
document.addEventListener("outbox", changed);
window.addEventListener("online", trySending);
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && trySending());
setInterval(trySending, TRY_AGAIN);
document.querySelector("[data-send-now]").addEventListener("click", trySending);

await Promise.all([startPieces(), startPhotographs(), startMeasuring(), startReceiving(), showOutbox()]);
page.dataset.ready = "yes";
await forgetOld(building);
trySending();
keepPages();
