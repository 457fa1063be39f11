// Says the values of a chart where the pointer rests, or where the arrow keys lead on a chart that has the focus. The
// table under the chart has the same values.

function readable(picture, line) {
  const spots = [...picture.querySelectorAll("rect > title")].map((title) => {
    const spot = { at: title.parentNode, text: title.textContent };
    title.remove(); // a browser's own hint would say it a second time
    return spot;
  });
  if (spots.length === 0) return;
  let here = -1;
  const show = (i) => {
    spots[here]?.at.classList.remove("here");
    here = i;
    spots[here]?.at.classList.add("here");
    line.textContent = spots[here]?.text ?? line.dataset.hint;
  };
  spots.forEach(({ at }, i) => at.addEventListener("pointerenter", () => show(i)));
  picture.addEventListener("pointerleave", () => show(-1));
  picture.tabIndex = 0;
  picture.addEventListener("focus", () => { if (here < 0) line.textContent = help; });
  picture.addEventListener("blur", () => show(-1));
  picture.addEventListener("keydown", (event) => {
    const to = { ArrowRight: here + 1, ArrowDown: here + 1, ArrowLeft: here < 0 ? spots.length - 1 : here - 1,
      ArrowUp: here < 0 ? spots.length - 1 : here - 1, Home: 0, End: spots.length - 1, Escape: -1 }[event.key];
    if (to === undefined) return;
    event.preventDefault();
    show(event.key === "Escape" ? -1 : Math.max(0, Math.min(spots.length - 1, to)));
    if (here < 0) line.textContent = help;
  });
}

const help = "Point at the chart, or press the arrow keys on it, to read its values.";

// A small picture says how it is read only once it has the focus: many stand side by side.
for (const chart of document.querySelectorAll(".chart, .figures.small > figure")) {
  const small = !chart.matches(".chart");
  const line = document.createElement("p");
  line.className = "chart-value no-print";
  line.setAttribute("aria-live", "polite");
  line.dataset.hint = small ? "" : help;
  line.textContent = line.dataset.hint;
  for (const picture of chart.querySelectorAll(":scope > svg")) readable(picture, line);
  const last = chart.querySelector(":scope > svg[tabindex]");
  if (small) last?.after(line);
  else if (last) chart.append(line);
}
