// Small helpers; every page works without them.
"use strict";

// A file dropped on a form is put into its file field and sent; a file that is too large is refused at once.
for (const form of document.querySelectorAll("form[data-drop]")) {
  const field = form.querySelector("input[type=file]");
  const status = form.querySelector("[data-status]");
  const most = Number(form.dataset.mostMegabytes) * 1024 * 1024;
  const button = form.querySelector("button");

  const refusal = () => {
    const size = Array.from(field.files).reduce((sum, file) => sum + file.size, 0);
    return size > most ? `That is ${Math.ceil(size / 1048576)} MB; at most ${form.dataset.mostMegabytes} MB are read.` : "";
  };
  form.addEventListener("dragover", (event) => {
    event.preventDefault();
    form.classList.add("over");
  });
  form.addEventListener("dragleave", () => form.classList.remove("over"));
  form.addEventListener("drop", (event) => {
    event.preventDefault();
    form.classList.remove("over");
    if (event.dataTransfer.files.length) {
      field.files = event.dataTransfer.files;
      form.requestSubmit();
    }
  });
  form.addEventListener("submit", (event) => {
    const refused = refusal();
    if (refused) {
      event.preventDefault();
      status.textContent = refused;
      return;
    }
    status.textContent = field.files.length ? `Reading ${Array.from(field.files, (file) => file.name).join(", ")}.` : "Sent.";
    button.disabled = true;
  });
  // coming back with the browser's back button
  window.addEventListener("pageshow", () => {
    button.disabled = false;
    status.textContent = "";
  });
}

// A job's progress, told as it comes; when the job ends, its page is shown.
for (const making of document.querySelectorAll("[data-events]")) {
  const status = making.querySelector("[data-status]");
  const bar = making.querySelector("progress");
  const live = (name) => making.querySelector(`[data-live=${name}]`);
  const steps = Array.from(making.querySelectorAll("[data-step]"));

  const mark = (name) => {
    const at = steps.findIndex((step) => step.dataset.step === name);
    steps.forEach((step, index) => {
      step.classList.toggle("done", index < at);
      if (index === at) step.setAttribute("aria-current", "step");
      else step.removeAttribute("aria-current");
    });
  };
  const say = (words) => {
    if (status.textContent !== words) status.textContent = words;
  };
  const source = new EventSource(making.dataset.events);
  mark("queued");
  source.addEventListener("progress", (event) => {
    const told = JSON.parse(event.data);
    if (told.step) mark(told.step);
    if (told.fraction) bar.value = told.fraction;
    if (told.codes && live("codes")) {
      live("codes").textContent = told.codes.join(", ");
      live("best").textContent = told.best.toLocaleString("en") + (told.counts_boards ? " boards" : "");
      live("bound").textContent = told.bound.toLocaleString("en") + (told.counts_boards ? " boards" : "");
      live("seconds").textContent = `${told.seconds.toFixed(1)} s`;
    }
    say(told.step === "check" ? "Checking the plan again." : "Working.");
  });
  source.addEventListener("status", (event) => {
    const told = JSON.parse(event.data);
    if (told.status === "running") {
      mark("plan");
      say("Working.");
    }
    if (["done", "failed", "cancelled"].includes(told.status)) {
      source.close();
      say(told.status === "done" ? "Done." : `It is ${told.status}.`);
      const then = making.dataset.then;
      if (then.split("#")[0] === location.pathname) location.reload();
      else location.assign(then);
    }
  });
  // nothing more will be told: what the page says now is looked up again
  source.addEventListener("error", () => {
    if (source.readyState === EventSource.CLOSED) setTimeout(() => location.reload(), 2000);
  });
  window.addEventListener("pagehide", () => source.close());
}

// On a narrow screen the row of sheets scrolls: the one that is shown is brought into view.
const shownSheet = document.querySelector(".tabs [aria-current]");
if (shownSheet) {
  const row = shownSheet.closest("ul");
  row.scrollLeft = shownSheet.offsetLeft - row.offsetLeft - 40;
}
