// Tables sort by a press on a heading; long ones can be filtered and copied into a spreadsheet. The page works without.

const LONG = 8; // rows from which a filter is worth its room

/** A cell's text as it is compared: dates in any of the page's forms, numbers with thousands apart, else words. */
export function comparable(text) {
  const words = text.trim();
  const date = words.match(/^(?:\w{3} )?(\d{1,2} \w{3} \d{4})(?:, (\d\d:\d\d))?/);
  if (date) return [0, Date.parse(`${date[1]} ${date[2] ?? "00:00"} UTC`)];
  const number = words.replace(/[\s,]/g, "").match(/^[A-Z]{0,3}([+-]?\d+(?:\.\d+)?)/);
  if (number && !/^[A-Z]{1,3}\d/.test(words)) return [1, Number(number[1])];
  return [2, words];
}

export function ascending(one, other) {
  const [kind, value] = comparable(one);
  const [otherKind, otherValue] = comparable(other);
  if (one.trim() === "" || other.trim() === "") return (one.trim() === "") - (other.trim() === ""); // blanks last
  if (kind !== otherKind) return kind - otherKind;
  return kind === 2 ? value.localeCompare(otherValue, "en", { numeric: true }) : value - otherValue;
}

function makeSortable(table, body, heads) {
  heads.forEach((head, column) => {
    if (!head.textContent.trim() || head.querySelector(".away")) return;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "sort";
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => {
      const down = head.getAttribute("aria-sort") === "ascending";
      for (const other of heads) other.removeAttribute("aria-sort");
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      const rows = Array.from(body.rows);
      const text = (row) => row.cells[column]?.innerText ?? "";
      rows.sort((one, other) => ascending(text(one), text(other)) * (down ? -1 : 1));
      body.append(...rows);
    });
  });
}

function addTools(table, body) {
  const tools = document.createElement("div");
  tools.className = "table-tools";
  const say = document.createElement("span");
  say.className = "hint";
  say.setAttribute("role", "status");
  if (body.rows.length > LONG) {
    const field = document.createElement("input");
    field.type = "search";
    field.placeholder = "Show rows with";
    field.setAttribute("aria-label", "Show only rows with these words");
    field.addEventListener("input", () => {
      const words = field.value.toLowerCase().split(/\s+/).filter(Boolean);
      let shown = 0;
      for (const row of body.rows) {
        const text = row.innerText.toLowerCase() + row.textContent.toLowerCase();
        row.hidden = !words.every((word) => text.includes(word));
        shown += !row.hidden;
      }
      say.textContent = words.length ? `${shown} of ${body.rows.length} rows` : "";
    });
    tools.append(field);
  }
  const copy = document.createElement("button");
  copy.type = "button";
  copy.className = "plain small";
  copy.textContent = "Copy table";
  copy.addEventListener("click", async () => {
    const lines = Array.from(table.rows)
      .filter((row) => !row.hidden)
      .map((row) => Array.from(row.cells, (cell) => cell.innerText.replace(/\s+/g, " ").trim()).join("\t"));
    try {
      await navigator.clipboard.writeText(lines.join("\n"));
      say.textContent = `${lines.length} rows copied, headings included.`;
    } catch {
      say.textContent = "The browser does not let this page write to the clipboard.";
    }
  });
  tools.append(copy, say);
  (table.closest(".scroll") ?? table).before(tools);
}

for (const table of document.querySelectorAll("main table:not(.cells, .costs, .ticks)")) {
  const [body] = table.tBodies;
  const heads = table.tHead ? Array.from(table.tHead.rows[0].cells) : [];
  const plain = body && heads.length && Array.from(body.rows).every((row) => row.cells.length === heads.length);
  if (!plain || body.rows.length < 3) continue;
  makeSortable(table, body, heads);
  addTools(table, body);
}
