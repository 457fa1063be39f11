// Lets a reader sort a table by its headings, look for words in it, and download it as CSV. Without scripts the server
// does the same by a form beside the table (tables.go), with the same rules.

const months = "JanFebMarAprMayJunJulAugSepOctNovDec";

// bare is a copy of a cell without its pictures and what is hidden from a screen reader.
function bare(cell) {
  const copy = cell.cloneNode(true);
  copy.querySelectorAll('svg, [aria-hidden="true"]').forEach((e) => e.remove());
  return copy;
}

// value is what a cell is sorted by: a date, a number or words. Its second line does not count.
function value(cell) {
  if (!cell) return "";
  const copy = bare(cell);
  copy.querySelectorAll("small").forEach((e) => e.remove());
  const text = copy.textContent.replace(/\s+/g, " ").trim();
  const date = /^(?:\w{3} )?(\d{1,2}) (\w{3}) (\d{4})/.exec(text);
  if (date) return date[3] * 10000 + (months.indexOf(date[2]) / 3 + 1) * 100 + Number(date[1]);
  const number = /^[▲▼+]?\s*([−-]?\d[\d,]*(?:\.\d+)?)/.exec(text);
  return number ? Number(number[1].replace("−", "-").replaceAll(",", "")) : text;
}

// order puts rows in the order of a column. What has no value comes last either way.
function order(rows, column, down) {
  const keyed = rows.map((row) => [value(row.cells[column]), row]);
  const compare = (a, b) => typeof a === "number" && typeof b === "number" ? a - b
    : String(a).localeCompare(String(b), "en", { numeric: true, sensitivity: "base" });
  keyed.sort(([a], [b]) => (a === "") - (b === "") || (down ? compare(b, a) : compare(a, b)));
  return keyed.map(([, row]) => row);
}

// csv is a table's shown rows. A text that a spreadsheet would calculate is kept a text by an apostrophe.
function csv(table) {
  const field = (text) => {
    text = text.replace(/\s+/g, " ").trim();
    if (/^[=+@-]/.test(text) && !/^[+-]?\d[\d,]*(\.\d+)?$/.test(text)) text = "'" + text;
    return /[",]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
  };
  const words = (cell) => [...bare(cell.querySelector("button.sort") ?? cell).childNodes]
    .map((n) => n.textContent).join(" ");
  return [...table.rows].filter((row) => !row.hidden)
    .map((row) => [...row.cells].map((cell) => field(words(cell))).join(",") + "\r\n").join("");
}

function button(text, press) {
  const b = document.createElement("button");
  b.type = "button";
  b.className = "plain";
  b.textContent = text;
  b.addEventListener("click", press);
  return b;
}

function sortable(table, body) {
  for (const head of table.tHead.rows[0].cells) {
    if (!head.textContent.trim()) continue;
    const press = button("", () => {
      const down = head.ariaSort === "ascending";
      for (const other of table.tHead.rows[0].cells) other.ariaSort = null;
      head.ariaSort = down ? "descending" : "ascending";
      body.append(...order([...body.rows], head.cellIndex, down));
    });
    press.classList.add("sort");
    press.title = [head.title, "Sort"].filter(Boolean).join(". ");
    press.append(...head.childNodes);
    head.append(press);
  }
}

function search(table, body) {
  const label = document.createElement("label");
  const input = document.createElement("input");
  const count = document.createElement("output");
  label.append("Show rows with ", input);
  input.type = "search";
  input.addEventListener("input", () => {
    const words = input.value.toLocaleLowerCase().split(/\s+/);
    let shown = 0;
    for (const row of body.rows) {
      const text = row.textContent.toLocaleLowerCase();
      row.hidden = !words.every((w) => text.includes(w));
      shown += !row.hidden;
    }
    count.textContent = input.value.trim() ? `${shown} of ${body.rows.length}` : "";
  });
  return [label, count];
}

for (const table of document.querySelectorAll("main table:not(:has(input, select))")) {
  const body = table.tBodies[0];
  if (!table.tHead || !body || body.rows.length < 2) continue;
  sortable(table, body);
  const ways = document.createElement("div");
  ways.className = "table-ways no-print";
  if (body.rows.length > 8) ways.append(...search(table, body));
  ways.append(button("Download as CSV", () => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob(["\ufeff" + csv(table)], { type: "text/csv" }));
    link.download = (table.caption?.textContent.trim() || document.title)
      .replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-|-$/g, "") + ".csv";
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  }));
  (table.closest(".scroll") ?? table).before(ways);
}
