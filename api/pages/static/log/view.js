// What the page draws. Text goes in as text, never as markup.

import { at } from "./clock.js";
import { detailsOf } from "./filling.js";

export const byId = (id) => document.getElementById(id);

// h makes an element with attributes and children.
export function h(name, attributes = {}, ...children) {
	const e = document.createElement(name);
	for (const [key, v] of Object.entries(attributes)) if (v !== undefined) e.setAttribute(key, v);
	e.append(...children.flat(9).filter((c) => c || c === 0));
	return e;
}

// stepLegend is the step that is open.
export function stepLegend(catalogue, filling, title) {
	const { inv, step } = filling;
	const all = detailsOf(step).map((code) => catalogue.detail(inv.kind, code));
	const parts = [];
	if (!title) {
		const place = filling.at < filling.flow ? `${filling.at + 1} of ${filling.flow}` : "carried by the possession";
		title = `${catalogue.kinds.get(inv.kind).label}: ${all.map((d) => d.label).join(", ")} (${place})`;
		parts.push(h("p", { class: "filled" }, catalogue.words(inv)));
	}
	parts.unshift(h("h2", {}, title));
	if (step.measure) {
		const { unit } = all[0].measure;
		parts.push(h("p", { class: "measure" }, (filling.number ?? null) === null ?
			`0 to 9; a is 10, b is 11, up to z for 35 (${unit}).` : `Number: ${filling.number}_ ${unit}. Then Enter.`));
	} else parts.push(board(catalogue, filling));
	return parts;
}

// meanings are the definitions of the step that is open.
export function meanings(catalogue, { inv, step }) {
	const all = detailsOf(step).map((code) => catalogue.detail(inv.kind, code));
	return all.map((d) => h("dl", { class: "meanings" }, [d, ...(d.options ?? [])].map((x) =>
		[h("dt", {}, x.label), h("dd", {}, x.definition)])));
}

function board(catalogue, filling) {
	const { step, inv } = filling;
	const codes = detailsOf(step);
	const down = step.down ?? [];
	const across = step.across ?? [];
	const label = (all, values) => all.map((code, n) => catalogue.label(inv.kind, code, values[n])).join(", ");
	const meaning = (values) => codes.map((c, n) =>
		catalogue.option(inv.kind, c, values[n])?.definition ?? label([c], [values[n]])).join(" ");
	const chosen = (values) => values.some((v) => v) &&
		codes.every((c, n) => String(inv.details[c] ?? inv.measures[c] ?? "") === values[n]);
	const cell = ({ key, values }) => h("td", {}, h("button", { type: "button", class: "logkey", "data-key": key,
		"aria-pressed": String(chosen(values)), "aria-label": `${key}: ${label(codes, values)}`,
		"data-about": meaning(values) }, h("kbd", {}, key)));
	const rows = filling.cells().map((row, r) => h("tr", {},
		down.length > 0 && h("th", { scope: "row" }, label(down, step.rows[r])), row.map(cell)));
	const columns = step.columns.map((values) => h("th", { scope: "col" }, label(across, values)));
	const table = h("table", { class: "board" },
		h("thead", {}, h("tr", {}, down.length > 0 && h("td", {}), columns)), h("tbody", {}, rows));
	return h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Board" }, table);
}

const keyed = (key, label) =>
	h("button", { type: "button", class: "logkey", "data-key": key }, h("kbd", {}, key), " ", label);

// question shows what the catalogue questions and how to answer.
export function question(asked) {
	const yes = !asked.never && keyed("y", "Yes, both are as I saw them");
	return [h("h2", {}, "Are both right?"), h("p", { class: "said" }, asked.why.replaceAll("_", " ") + "."),
		h("div", { class: "logkeys" }, yes, keyed("n", "No, change it"))];
}

const states = { new: "not sent", changed: "change not sent", deleted: "deletion not sent", refused: "refused",
	conflict: "changed by another user" };

// list draws the rows in the order of the clock.
export function list(catalogue, rows, chosen, choose) {
	return rows.map((row) => {
		const linked = row.linked || row.inv.linked_to;
		const tags = [row.inv.moment && "moment", row.inv.head_contact && "head contact", linked && "out of a carry",
			states[row.state]].filter(Boolean);
		const place = row.inv.possession ? ` (possession ${row.inv.possession}, phase ${row.inv.phase})` : "";
		const button = h("button", { type: "button", class: "plain", "aria-pressed": String(row.key === chosen) },
			`${at(row.inv.clock)} ${catalogue.words(row.inv, true)}${place}`);
		button.addEventListener("click", () => choose(row.key));
		return h("li", { "data-key-of": row.key, "data-state": row.state }, button,
			tags.flatMap((t) => [" ", h("span", { class: "tag" }, t)]),
			(row.wrong ?? []).map((w) => h("p", { class: "wrong" }, w)));
	});
}

export const many = (n, word) => `${n} ${word}${n === 1 ? "" : "s"}`;

// counts says how many of each kind there are.
export function counts(catalogue, rows) {
	const by = new Map();
	for (const { inv } of rows) by.set(inv.kind, (by.get(inv.kind) ?? 0) + 1);
	const moments = rows.filter((r) => r.inv.moment).length;
	const said = catalogue.table.kinds.filter((k) => by.has(k.code)).map((k) => `${k.label} ${by.get(k.code)}`);
	return h("p", {}, h("b", {}, many(rows.length, "involvement")), said.length ? ": " + said.join(", ") : "",
		moments ? `; ${many(moments, "moment")}` : "");
}
