// What this phone holds until it is sent, in an IndexedDB: nothing is lost when the page, the browser or the phone is
// closed. `outbox` has what is to be sent, in order; `drafts` what is being written.
const NAME = "slab-edge";
const VERSION = 1;
const KEPT_DAYS = 14; // what was sent, for pages that were kept before

let opened = null;

function database() {
  opened ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, VERSION);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("outbox", { keyPath: "number", autoIncrement: true });
      asked.result.createObjectStore("drafts", { keyPath: ["building", "place"] });
    };
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
  return opened;
}

async function within(store, mode, work) {
  const open = await database();
  return new Promise((resolve, reject) => {
    const transaction = open.transaction(store, mode, { durability: "strict" });
    const asked = work(transaction.objectStore(store));
    transaction.oncomplete = () => resolve(asked?.result);
    transaction.onabort = () => reject(transaction.error);
  });
}

// Every open page hears of a change, whichever page made it.
const others = new BroadcastChannel("slab-edge");
others.addEventListener("message", () => document.dispatchEvent(new CustomEvent("outbox")));
function tell() {
  document.dispatchEvent(new CustomEvent("outbox"));
  others.postMessage("changed");
}

// How many lists of entries are being written now: until then nobody may say that everything is sent.
export let beingKept = 0;

// Entries {building, kind, id, body} at the end of the outbox: all of them, or none.
export async function put(entries) {
  const kept_at = new Date().toISOString();
  beingKept += 1;
  document.dispatchEvent(new CustomEvent("keeping"));
  try {
    await within("outbox", "readwrite", (store) => {
      for (const entry of entries) store.add({ status: "waiting", kept_at, ...entry });
    });
  } finally {
    beingKept -= 1;
    tell();
  }
}

// The outbox of a building, in the order in which it was filled.
export async function outbox(building) {
  const all = await within("outbox", "readonly", (store) => store.getAll());
  return all.filter((entry) => entry.building === building);
}

export async function change(entries) {
  await within("outbox", "readwrite", (store) => {
    for (const entry of entries) store.put(entry);
  });
  tell();
}

export async function remove(numbers) {
  await within("outbox", "readwrite", (store) => {
    for (const number of numbers) store.delete(number);
  });
  tell();
}

// What was sent long ago is on every page by now.
export async function forgetOld(building) {
  const before = new Date(Date.now() - KEPT_DAYS * 86400000).toISOString();
  const old = (await outbox(building)).filter((entry) => entry.status === "sent" && entry.kept_at < before);
  if (old.length) await remove(old.map((entry) => entry.number));
}

export const draft = (building, place, values) =>
  within("drafts", "readwrite", (store) =>
    values ? store.put({ building, place, values }) : store.delete([building, place]),
  );

export async function drafts(building) {
  const all = await within("drafts", "readonly", (store) => store.getAll());
  return new Map(all.filter((one) => one.building === building).map((one) => [one.place, one.values]));
}

// An id that nobody else gives: 128 random bits.
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

// The time here, as a record has it: 2027-05-03T07:31:09.
export function now() {
  const here = new Date();
  return new Date(here.getTime() - here.getTimezoneOffset() * 60000).toISOString().slice(0, 19);
}
