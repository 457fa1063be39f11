// Moves between the cells of a grid by Enter and the arrow keys, and spreads what is pasted from a spreadsheet over
// them. Without this file the grid is a form like others.

const table = document.querySelector("table.totals");

// cells are the fields by row and column; null where there is nothing to type.
const cells = [...(table?.tBodies[0].rows ?? [])].map((row) =>
  [...row.cells].slice(1).map((cell) => cell.querySelector("input")));

const all = (input) => input.selectionStart === 0 && input.selectionEnd === input.value.length;

// place finds a field's row and column.
function place(input) {
  const row = cells.findIndex((r) => r.includes(input));
  return [row, row < 0 ? -1 : cells[row].indexOf(input)];
}

function enter(input) {
  input.focus();
  input.select();
}

// step is the next field of a column or row; undefined at the end.
function step([row, column], down, right) {
  do {
    row += down;
    column += right;
  } while (cells[row]?.[column] === null);
  return cells[row]?.[column];
}

// onward is the next field down the column, then at the top of the next one.
function onward([row, column], by) {
  const columns = cells[0].length;
  for (let n = row + column * cells.length + by; n >= 0 && n < columns * cells.length; n += by) {
    const next = cells[n % cells.length][Math.floor(n / cells.length)];
    if (next) return next;
  }
}

// moving says that the key that is down has moved on: it does nothing more, such as press the button it led to.
let moving = false;

function key(e) {
  moving = false;
  const at = place(e.target);
  if (at[0] < 0 || e.altKey || e.ctrlKey || e.metaKey || e.isComposing) return;
  const input = e.target;
  let next;
  if (e.key === "Enter") next = onward(at, e.shiftKey ? -1 : 1) ?? table.closest("form").querySelector("button");
  else if (e.shiftKey) return;
  else if (e.key === "ArrowDown") next = step(at, 1, 0);
  else if (e.key === "ArrowUp") next = step(at, -1, 0);
  else if (e.key === "ArrowLeft" && (all(input) || input.selectionEnd === 0)) next = step(at, 0, -1);
  else if (e.key === "ArrowRight" && (all(input) || input.selectionStart === input.value.length)) next = step(at, 0, 1);
  else return;
  e.preventDefault();
  moving = true;
  if (next instanceof HTMLInputElement) enter(next);
  else next?.focus();
}

// paste spreads lines and their tabs over the cells from the one that has the focus.
function paste(e) {
  const [row, column] = place(e.target);
  const text = e.clipboardData.getData("text/plain").replace(/\r\n?/g, "\n").replace(/\n$/, "");
  if (row < 0 || !/[\n\t]/.test(text)) return;
  e.preventDefault();
  let filled = 0;
  let logged = 0;
  let beyond = 0;
  text.split("\n").forEach((line, down) => line.split("\t").forEach((word, right) => {
    const input = cells[row + down]?.[column + right];
    if (input) {
      input.value = word.trim();
      filled++;
    } else if (input === null) logged++;
    else if (word.trim()) beyond++;
  }));
  e.target.dispatchEvent(new Event("input", { bubbles: true }));
  const said = [`${filled} cells filled. Nothing is saved yet.`];
  if (logged) said.push(`${logged} cells come from a log and stayed as they were.`);
  if (beyond) said.push(`${beyond} did not fit into the grid: check that you began in the right cell.`);
  table.closest("form").querySelector(".pasted").textContent = said.join(" ");
}

if (cells.length) {
  table.addEventListener("keydown", key);
  table.addEventListener("paste", paste);
  document.addEventListener("keypress", (e) => moving && e.preventDefault());
  document.addEventListener("keyup", () => { moving = false; });
  document.querySelector(".keys").hidden = false;
}
