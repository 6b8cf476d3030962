// Photographs: made small enough to be sent from a site, kept on the phone, sent when there is a network.
import { building, ownOf, who } from "./page.js";
import { newId, now, put } from "./store.js";

const LONGEST = 1600; // pixels of the longer side
const QUALITY = 0.8;

async function shrunk(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, LONGEST / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(picture.width * scale);
  canvas.height = Math.round(picture.height * scale);
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  return new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
}

const same = (field, about) =>
  ["what", "piece", "run", "at_mm", "level"].every((name) => (field.dataset[name] ?? "") === (about[name] ?? ""));

export async function showPhotographs() {
  const mine = await ownOf("photograph");
  for (const field of document.querySelectorAll("input[data-what]")) {
    const here = mine.filter((entry) => same(field, entry.body.about));
    const waiting = here.filter((entry) => entry.status === "waiting").length;
    const count = Number(field.dataset.count ?? 0) + here.length;
    const words = field.closest("label").querySelector("[data-count-words]");
    words.textContent = count ? `${count} taken${waiting ? `, ${waiting} to be sent` : ""}` : "";
  }
}

async function taken(field) {
  const [file] = field.files;
  if (!file) return;
  const words = field.closest("label").querySelector("[data-count-words]");
  const by = who();
  if (by === null) return;
  let picture = null;
  try {
    picture = await shrunk(file);
  } catch {
    words.textContent = "this file is no picture that the phone can read";
    return;
  } finally {
    field.value = "";
  }
  const about = { at: now(), by };
  for (const name of ["what", "piece", "run", "at_mm", "level"]) {
    if (field.dataset[name]) about[name] = field.dataset[name];
  }
  await put([{ building, kind: "photograph", id: newId(), body: { about, picture } }]);
}

export async function startPhotographs() {
  document.addEventListener("change", (event) => {
    if (event.target.matches("input[data-what]")) taken(event.target);
  });
  await showPhotographs();
}
