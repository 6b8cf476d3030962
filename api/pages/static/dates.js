// Deliveries dragged or stepped along the time line; without this the form and its links do the same.
const pageAddress = () => document.querySelector("[data-dates]").dataset.dates;
const DAY = 86_400_000;
const later = (day, count) => new Date(Date.parse(day) + count * DAY).toISOString().slice(0, 10);
const shown = new Intl.DateTimeFormat("en-GB", { weekday: "short", day: "numeric", month: "short", year: "numeric", timeZone: "UTC" });

let asking = null;

// Asks for the page with a delivery on another day and puts what it says in the place of what is shown.
async function ask(query, place) {
  asking?.abort();
  asking = new AbortController();
  const board = document.getElementById("dates");
  const scrolled = board.querySelector(".dates-scroll").scrollLeft;
  board.setAttribute("aria-busy", "true");
  try {
    const answer = await fetch(`${pageAddress()}?${query}`, { signal: asking.signal, credentials: "same-origin" });
    const found = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("dates");
    if (!answer.ok || !found) {
      location.assign(`${pageAddress()}?${query}`);
      return;
    }
    board.replaceWith(found);
    history.replaceState(null, "", `${pageAddress()}?${query}`);
    found.querySelector(".dates-scroll").scrollLeft = scrolled;
    if (place) found.querySelector(`.handle[data-place="${place}"]`)?.focus({ preventScroll: true });
  } catch (error) {
    if (error.name !== "AbortError") {
      board.removeAttribute("aria-busy");
      document.getElementById("answer-title").textContent = "The service does not answer: nothing was moved.";
    }
  }
}

// The form's fields as a query, with a delivery on a day.
function queryFor(place, day) {
  const query = new URLSearchParams();
  const known = new URLSearchParams(location.search);
  const moved = known.getAll("moved");
  if (known.get("delivery") && known.get("day")) moved.push(`${known.get("delivery")}=${known.get("day")}`);
  for (const text of moved) if (!text.startsWith(`${place}=`)) query.append("moved", text);
  query.set("delivery", place);
  query.set("day", day);
  return query;
}

const move = (place, day) => ask(queryFor(place, day), place);

let held = null;

document.addEventListener("pointerdown", (event) => {
  const handle = event.target.closest?.(".handle");
  if (!handle || event.button) return;
  const line = handle.closest("svg");
  const scale = line.getBoundingClientRect().width / line.viewBox.baseVal.width;
  held = { handle, from: event.clientX, aDay: Number(line.dataset.aDay) * scale, scale, days: 0, pointer: event.pointerId };
  handle.setPointerCapture(event.pointerId);
});
document.addEventListener("pointermove", (event) => {
  if (!held || event.pointerId !== held.pointer) return;
  const days = Math.round((event.clientX - held.from) / held.aDay);
  if (days === held.days && days === 0) return;
  held.days = days;
  held.dragged = true;
  held.handle.setAttribute("transform", `translate(${(days * held.aDay) / held.scale} 0)`);
  held.handle.querySelector("[data-says]").textContent = shown.format(Date.parse(later(held.handle.dataset.day, days)));
});
// a finger that holds a delivery moves it, and not the page
document.addEventListener("touchmove", (event) => {
  if (held && event.cancelable) event.preventDefault();
}, { passive: false });
const letGo = (event) => {
  if (!held || event.pointerId !== held.pointer) return;
  const { handle, days, dragged } = held;
  held = null;
  if (event.type === "pointercancel") handle.removeAttribute("transform");
  else if (dragged) {
    handle.addEventListener("click", (click) => click.preventDefault(), { once: true });
    if (days) move(handle.dataset.place, later(handle.dataset.day, days));
  }
};
document.addEventListener("pointerup", letGo);
document.addEventListener("pointercancel", letGo);
document.addEventListener("dragstart", (event) => {
  if (event.target.closest?.(".handle")) event.preventDefault();
});

document.addEventListener("keydown", (event) => {
  const handle = event.target.closest?.(".handle");
  const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
  if (!handle || !step) return;
  event.preventDefault();
  move(handle.dataset.place, later(handle.dataset.day, step * (event.shiftKey ? 7 : 1)));
});

// A day that is typed, and a day that would fit, are answered without leaving the page.
document.addEventListener("submit", (event) => {
  const form = event.target.closest("form[data-move], form[data-fit]");
  if (!form) return;
  event.preventDefault();
  const sent = new FormData(form);
  move(sent.get("delivery"), sent.get("day"));
});
document.addEventListener("change", (event) => {
  if (event.target.id !== "delivery") return;
  document.getElementById("day").value = event.target.selectedOptions[0].dataset.day;
});
