// Sends what waits in the outbox, each once: every entry has an id of its own, and the service counts an id once, so that
// sending again what may have arrived is safe.
import { change, outbox } from "./store.js";

const AT_A_TIME = 200;
const SECONDS = { event: 20, readings: 60, photograph: 120 };

export const SIGN_IN = "sign in again to send";

class Later extends Error {} // no network, or the service cannot now: try again

async function call(address, method, body, type, seconds) {
  let answer;
  try {
    answer = await fetch(address, {
      method,
      body,
      headers: { "Content-Type": type },
      signal: AbortSignal.timeout(seconds * 1000),
    });
  } catch {
    throw new Later("no network");
  }
  if (answer.status === 401) throw new Later(SIGN_IN);
  if (answer.status === 429 || answer.status === 408 || answer.status === 412 || answer.status >= 500) {
    throw new Later("the service does not answer now");
  }
  let told = null;
  try {
    told = await answer.json();
  } catch {
    throw new Later("the answer broke off");
  }
  return { ok: answer.ok, told };
}

const refuse = (entry, why) => ({ ...entry, status: "refused", why });
const why = (fault) => [fault.message, fault.mend].filter(Boolean).join(": ");

// What is wrong with the entries of a list, in words, by their place in it.
function byEntry(faults) {
  const found = new Map();
  for (const fault of faults ?? []) {
    const place = /^record\[(\d+)\]/.exec(fault.place);
    if (place) found.set(Number(place[1]), why(fault));
  }
  return found;
}

// Events go in one list. Where some are refused none is added: those are marked and the others sent again.
async function sendEvents(building, entries) {
  const address = `/v1/projects/${building}/events`;
  const list = JSON.stringify(entries.map((entry) => entry.body));
  const { ok, told } = await call(address, "POST", list, "application/json", SECONDS.event);
  if (ok) {
    const warned = byEntry(told.warnings);
    await change(
      entries.map((entry, place) => ({
        ...entry, status: "sent", counted: told.events, ...(warned.has(place) && { warning: warned.get(place) }),
      })),
    );
    return;
  }
  const faults = byEntry(told.errors);
  if (!faults.size) entries.forEach((_, place) => faults.set(place, told.detail ?? "refused"));
  await change(entries.map((entry, place) => (faults.has(place) ? refuse(entry, faults.get(place)) : entry)));
}

async function sendReadings(building, entry) {
  const body = JSON.stringify(entry.body);
  const { ok, told } = await call(
    `/v1/projects/${building}/readings`, "POST", body, "application/json", SECONDS.readings,
  );
  const fault = told.errors?.[0] ? why(told.errors[0]) : told.detail;
  await change([ok ? { ...entry, status: "sent", received: told.received_at } : refuse(entry, fault)]);
}

async function sendPhotograph(building, entry) {
  const about = new URLSearchParams(entry.body.about);
  const { ok, told } = await call(
    `/v1/projects/${building}/photographs/${entry.id}?${about}`, "PUT", entry.body.picture, "image/jpeg",
    SECONDS.photograph,
  );
  const body = { about: entry.body.about }; // the picture has arrived: its room is given back
  await change([ok ? { ...entry, body, status: "sent", received: told.received_at } : refuse(entry, told.detail)]);
}

async function sendAll(building) {
  try {
    for (;;) {
      const waiting = (await outbox(building)).filter((entry) => entry.status === "waiting");
      const events = waiting.filter((entry) => entry.kind === "event").slice(0, AT_A_TIME);
      const readings = waiting.find((entry) => entry.kind === "readings");
      const photograph = waiting.find((entry) => entry.kind === "photograph");
      if (events.length) await sendEvents(building, events);
      else if (readings) await sendReadings(building, readings);
      else if (photograph) await sendPhotograph(building, photograph);
      else return "";
    }
  } catch (error) {
    if (error instanceof Later) return error.message;
    throw error;
  }
}

// Why something is left that waits, or "" when all is sent. Of several open pages one sends at a time.
export function send(building) {
  if (!navigator.locks) return sendAll(building);
  return navigator.locks.request(`send ${building}`, () => sendAll(building));
}
