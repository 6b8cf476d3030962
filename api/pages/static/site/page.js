// What every page at the slab edge knows of itself, and of whoever holds the phone.
import { newId, now, outbox, put } from "./store.js";

export const page = document.querySelector("[data-building]");
export const building = page.dataset.building;

const NAME = "slab-edge-name";
const field = document.querySelector("[data-name]");

function showHolder() {
  const name = field.value.trim();
  if (name) document.querySelector("[data-holder]").textContent = name;
}

field.value = localStorage.getItem(NAME) ?? "";
field.addEventListener("change", () => {
  localStorage.setItem(NAME, field.value.trim());
  showHolder();
});
showHolder();

// Who says so. Asks for a name first: whoever signs wants to know.
export function who() {
  const name = field.value.trim();
  if (!name) {
    field.closest("details").setAttribute("open", "");
    field.setAttribute("aria-invalid", "true");
    field.focus();
    field.scrollIntoView({ block: "center" });
    return null;
  }
  field.removeAttribute("aria-invalid");
  return name;
}

// Keeps events on the phone, to be sent as soon as there is a network; false where nobody says who tells them.
export async function tellEvents(...events) {
  const by = who();
  if (by === null) return false;
  const at = now();
  await put(
    events.map((event) => {
      const id = newId();
      return { building, kind: "event", id, body: { at, ...event, id, by } };
    }),
  );
  return true;
}

// The phone's own events that this page does not show yet, refused ones left out, and what they take back.
export async function ownEvents() {
  const known = Number(page.dataset.knownEvents);
  const mine = (await outbox(building)).filter(
    (entry) => entry.kind === "event" && (entry.status === "waiting" || (entry.status === "sent" && entry.counted > known)),
  );
  const undone = new Set(mine.map((entry) => entry.body.undoes).filter(Boolean));
  const standing = mine.filter((entry) => entry.body.event !== "undone" && !undone.has(entry.id));
  return { standing, undone };
}

// Readings or photographs of the phone's own that this page does not show yet.
export async function ownOf(kind) {
  return (await outbox(building)).filter(
    (entry) =>
      entry.kind === kind &&
      (entry.status === "waiting" || (entry.status === "sent" && entry.received > page.dataset.made)),
  );
}
