// Goods against order: what came, what of it is damaged, what came instead.
import { ownEvents, tellEvents } from "./page.js";

const DAMAGED = "damaged on arrival";

const whole = (field) => (/^\d+$/.test(field.value.trim()) ? Number(field.value) : field.value.trim() ? NaN : 0);

async function received(form) {
  const { code, level } = form.dataset;
  const field = (name) => form.querySelector(`[data-${name}]`);
  const [came, damaged, wrong] = ["came", "damaged", "wrong-count"].map((name) => whole(field(name)));
  const instead = field("wrong-code").value;
  const note = field("note").value.trim();
  const fault = faultOf(came, damaged, wrong, instead);
  field("fault").textContent = fault;
  if (fault) return;
  const events = [];
  const said = [damaged ? `${damaged} damaged` : "", wrong ? `${wrong} of another kind` : "", note];
  const remark = said.filter(Boolean).join("; ");
  if (came) events.push({ event: "delivered", code, level, quantity: came, ...(remark ? { note: remark } : {}) });
  if (damaged) {
    events.push({ event: "scrapped", code, level, quantity: damaged, note: note ? `${DAMAGED}: ${note}` : DAMAGED });
  }
  if (wrong && instead !== "other") {
    events.push({ event: "delivered", code: instead, level, quantity: wrong, note: `came instead of ${code}` });
  }
  if (!(await tellEvents(...events))) return;
  for (const name of ["came", "damaged", "wrong-count", "note"]) field(name).value = "";
  field("wrong-code").value = "";
}

function faultOf(came, damaged, wrong, instead) {
  if ([came, damaged, wrong].some(Number.isNaN)) return "Give whole numbers, counted singly, not in packs.";
  if (damaged > came) return "What is damaged came too: count it in what came.";
  if (wrong && !instead) return "Say what came instead.";
  if (!came && !(wrong && instead !== "other")) return "Nothing of use came: nothing goes on record, all stays short.";
  return "";
}

export async function showGoods() {
  const { standing } = await ownEvents();
  for (const line of document.querySelectorAll("[data-goods]")) {
    const mine = standing.filter(
      ({ body }) => body.code === line.dataset.code && body.level === line.dataset.level && body.quantity,
    );
    const words = mine.map(({ body, status }) => {
      const what = body.event === "delivered" ? `${body.quantity} came` : `${body.quantity} damaged`;
      return what + (status === "waiting" ? " (waits to be sent)" : " (sent)");
    });
    line.querySelector("[data-own]").textContent = words.length ? `On this phone: ${words.join(", ")}.` : "";
  }
}

export async function startReceiving() {
  const forms = document.querySelectorAll("[data-goods]");
  for (const form of forms) {
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      received(form);
    });
    form.querySelector("button").disabled = false;
  }
  if (forms.length) await showGoods();
}
