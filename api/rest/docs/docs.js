// Shows only the operations that have all the words in the filter field, and opens the one that the address names.
// Without this script the whole list shows.
const form = document.getElementById("filter");
const wanted = document.getElementById("wanted");
const operations = [...document.querySelectorAll(".operation")];

function filter() {
  const words = wanted.value.toLowerCase().split(/\s+/).filter(Boolean);
  let shown = 0;
  for (const operation of operations) {
    const text = operation.dataset.words;
    operation.hidden = !words.every((word) => text.includes(word));
    if (!operation.hidden) shown++;
  }
  form.querySelector("[role=status]").textContent = words.length ? `${shown} of ${operations.length} operations` : "";
  document.getElementById("none").hidden = shown > 0;
}

function openNamed() {
  const named = operations.find((operation) => "#" + operation.id === location.hash);
  if (!named) return;
  named.open = true;
  named.scrollIntoView();
}

form.hidden = false;
form.addEventListener("submit", (event) => event.preventDefault());
wanted.addEventListener("input", filter);
wanted.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  wanted.value = "";
  filter();
});
addEventListener("hashchange", openNamed);
filter(); // a browser keeps what was typed when it goes back
openNamed();
