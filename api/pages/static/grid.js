// Cells to edit like a spreadsheet's: paste of many, undo and redo, arrow keys. Without it the cells are plain fields.

/** What was written into cells at once: typed, pasted, or undone. */
class History {
  constructor() {
    this.done = [];
    this.undone = [];
  }
  add(changes) {
    if (!changes.length) return;
    this.done.push(changes);
    this.undone = [];
  }
  undo() {
    const changes = this.done.pop();
    if (!changes) return null;
    this.undone.push(changes);
    for (const change of changes) change.cell.value = change.before;
    return changes;
  }
  redo() {
    const changes = this.undone.pop();
    if (!changes) return null;
    this.done.push(changes);
    for (const change of changes) change.cell.value = change.after;
    return changes;
  }
}

/** Tab-separated rows of a spreadsheet's clipboard; a cell in quotes may hold tabs, quotes (twice) and line ends. */
export function rowsOfClipboard(text) {
  const rows = [[""]];
  let quoted = false;
  const plain = text.replace(/\r\n?/g, "\n").replace(/\n$/, "");
  for (let at = 0; at < plain.length; at += 1) {
    const letter = plain[at];
    const row = rows[rows.length - 1];
    const last = row.length - 1;
    if (quoted) {
      if (letter === '"' && plain[at + 1] === '"') {
        row[last] += '"';
        at += 1;
      } else if (letter === '"') quoted = false;
      else row[last] += letter === "\n" ? " " : letter;
    } else if (letter === '"' && row[last] === "") quoted = true;
    else if (letter === "\t") row.push("");
    else if (letter === "\n") rows.push([""]);
    else row[last] += letter;
  }
  return rows.map((row) => row.map((cell) => cell.trim()));
}

function begin(form) {
  const body = form.querySelector("tbody");
  const status = form.querySelector("[data-status]");
  const undo = form.querySelector("[data-undo]");
  const redo = form.querySelector("[data-redo]");
  const add = form.querySelector("[data-add]");
  const history = new History();
  const written = new WeakMap(); // each cell's text when it was last noted

  const rows = () => Array.from(body.querySelectorAll("tr[data-row]"));
  const cellsOf = (row) => Array.from(row.querySelectorAll("input[name=cell]"));
  const placeOf = (cell) => {
    const all = rows();
    const row = all.findIndex((one) => one.contains(cell));
    return [row, cellsOf(all[row]).indexOf(cell)];
  };
  const cellAt = (row, column) => {
    const found = rows()[row];
    return found ? cellsOf(found)[column] : undefined;
  };
  const noted = (cell) => (written.has(cell) ? written.get(cell) : cell.defaultValue);

  const mark = () => {
    const changed = Array.from(form.querySelectorAll("input[name=cell]")).filter((cell) => {
      const differs = cell.value.trim() !== (cell.dataset.kept ?? "");
      cell.parentElement.classList.toggle("changed", differs);
      return differs;
    });
    undo.disabled = !history.done.length;
    redo.disabled = !history.undone.length;
    status.textContent = changed.length ? `${changed.length} cell${changed.length === 1 ? "" : "s"} changed, not saved yet.` : "";
    return changed.length;
  };
  const note = (cell) => {
    const before = noted(cell);
    if (before === cell.value) return;
    history.add([{ cell, before, after: cell.value }]);
    written.set(cell, cell.value);
    mark();
  };
  const addRow = () => {
    const last = rows().at(-1);
    const fresh = last.cloneNode(true);
    const number = rows().length + 1;
    fresh.querySelector("th").textContent = number;
    for (const cell of cellsOf(fresh)) {
      cell.value = "";
      cell.setAttribute("value", "");
      cell.dataset.kept = "";
      cell.removeAttribute("aria-invalid");
      cell.removeAttribute("aria-describedby");
      cell.setAttribute("aria-label", cell.getAttribute("aria-label").replace(/\d+$/, number));
      cell.parentElement.className = "";
    }
    body.append(fresh);
  };
  const put = (first, values) => {
    const [top, left] = placeOf(first);
    const changes = [];
    values.forEach((line, down) => {
      if (!cellAt(top + down, 0) && add) addRow();
      line.forEach((value, across) => {
        const cell = cellAt(top + down, left + across);
        if (!cell || cell.value === value) return;
        changes.push({ cell, before: cell.value, after: value });
        cell.value = value;
        written.set(cell, value);
      });
    });
    history.add(changes);
    const lost = values.length && (top + values.length > rows().length || left + Math.max(...values.map((line) => line.length)) > cellsOf(rows()[0]).length);
    mark();
    if (lost) status.textContent += " What was pasted beyond the last cell was left out.";
  };
  const go = (changes) => {
    if (!changes) return;
    for (const change of changes) written.set(change.cell, change.cell.value);
    changes[0].cell.focus();
    mark();
  };
  const goBack = () => {
    if (document.activeElement?.name === "cell") note(document.activeElement);
    go(history.undo());
  };

  body.addEventListener("paste", (event) => {
    const text = event.clipboardData.getData("text/plain");
    if (event.target.name !== "cell" || !/[\t\n\r]/.test(text.replace(/[\r\n]+$/, ""))) return;
    event.preventDefault();
    note(event.target);
    put(event.target, rowsOfClipboard(text));
  });
  body.addEventListener("change", (event) => note(event.target));
  body.addEventListener("keydown", (event) => {
    if (event.target.name !== "cell") return;
    const key = event.key.toLowerCase();
    if ((event.ctrlKey || event.metaKey) && key === "z" && !event.shiftKey) {
      event.preventDefault();
      goBack();
    } else if ((event.ctrlKey || event.metaKey) && (key === "y" || (key === "z" && event.shiftKey))) {
      event.preventDefault();
      go(history.redo());
    } else if (["ArrowDown", "ArrowUp", "Enter"].includes(event.key) && !(event.target.list && event.key !== "Enter")) {
      const [row, column] = placeOf(event.target);
      const next = cellAt(row + (event.key === "ArrowUp" ? -1 : 1), column);
      event.preventDefault();
      if (next) {
        next.focus();
        next.select();
      }
    }
  });
  undo.addEventListener("click", goBack);
  redo.addEventListener("click", () => go(history.redo()));
  add?.addEventListener("click", () => {
    for (let count = 0; count < 10; count += 1) addRow();
  });
  let sending = false;
  form.addEventListener("submit", () => {
    sending = true;
  });
  window.addEventListener("beforeunload", (event) => {
    if (!sending && mark()) event.preventDefault();
  });
  form.querySelector(".with-script").hidden = false;
  mark();
  form.querySelector("[aria-invalid]")?.focus();
}

for (const form of document.querySelectorAll("form[data-grid]")) begin(form);
