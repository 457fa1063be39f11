// An involvement while it is filled in: its steps, one after the other, and what the catalogue questions.

// Catalogue looks things up in the table of the page.
export class Catalogue {
	constructor(table) {
		this.table = table;
		this.kinds = new Map(table.kinds.map((k) => [k.code, k]));
		this.keys = new Map(table.keys.kinds.map((k) => [k.kind, k]));
	}

	detail(kind, code) {
		return this.table.details.find((d) => d.code === code && d.kinds.includes(kind));
	}

	option(kind, code, value) {
		return this.detail(kind, code)?.options?.find((o) => o.code === value);
	}

	// label is a value in words; an empty one leaves the detail out.
	label(kind, code, value) {
		if (value === "") return "not recorded";
		return this.option(kind, code, value)?.label ?? String(value);
	}

	// words is an involvement in a line: all of it, or only its core.
	words(inv, core) {
		const { details, results, dangers } = this.table;
		const value = (d) => inv.details?.[d.code] ?? inv.measures?.[d.code];
		const has = details.filter((d) => d.kinds.includes(inv.kind) && value(d) !== undefined);
		const said = has.filter((d) => !core || d.depth === "core").map((d) =>
			(core ? "" : d.label + " ") + this.label(inv.kind, d.code, value(d)).toLowerCase());
		for (const [all, codes] of [[results, inv.results], [dangers, inv.dangers]]) {
			said.push(...(codes ?? []).map((code) => all.find((x) => x.code === code).label.toLowerCase()));
		}
		const more = core ? has.filter((d) => d.depth !== "core").length : 0;
		if (more) said.push(`${more} more`);
		return this.kinds.get(inv.kind).label + (said.length ? ": " + said.join(", ") : "");
	}

	// questioned is the first pair of values that do not go together, unless the logger confirmed both.
	questioned(inv) {
		return this.table.contradictions.find((c) =>
			c.kinds.includes(inv.kind) && !(inv.confirmed && !c.never) && has(inv, c.this) && has(inv, c.that));
	}

	// ruledOut says whether no value of a step goes with what is filled in: it is not asked then.
	ruledOut(inv, step) {
		const codes = detailsOf(step);
		return codes.every((code) => this.table.contradictions.some((c) =>
			c.kinds.includes(inv.kind) && has(inv, c.this) && !c.that.values && !c.that.above_zero &&
			c.that.at_least === undefined && c.that.below === undefined &&
			(c.that.detail === code || c.that.measure === code)));
	}
}

function has(inv, mark) {
	if (mark.detail) {
		const value = inv.details?.[mark.detail];
		return value !== undefined && (!mark.values || mark.values.includes(value));
	}
	if (mark.measure) {
		const v = inv.measures?.[mark.measure];
		return v !== undefined && (!mark.above_zero || v > 0) && (mark.at_least === undefined || v >= mark.at_least) &&
			(mark.below === undefined || v < mark.below);
	}
	return (inv.results ?? []).includes(mark.result);
}

export const detailsOf = (step) => (step.measure ? [step.measure] : [...(step.down ?? []), ...(step.across ?? [])]);

// Filling is one involvement that is open.
export class Filling {
	constructor(catalogue, inv, depth) {
		this.catalogue = catalogue;
		this.inv = inv;
		const keys = catalogue.keys.get(inv.kind);
		this.steps = keys.steps.filter((s) => depth === "full" || s.depth === "core");
		this.flow = this.steps.length;
		if (depth === "full") this.steps = [...this.steps, ...keys.carried];
		this.at = 0;
		this.past = [];
		this.number = null; // a number that is being typed
		this.done = false;
	}

	get step() {
		return this.steps[this.at];
	}

	// cells are the places of the step's board with their keys.
	cells() {
		const rows = this.catalogue.table.keys.rows;
		return this.step.rows.map((row, r) =>
			this.step.columns.map((column, c) => ({ key: rows[r][c], values: [...row, ...column] })));
	}

	// choose fills what a key means, and says whether it means anything.
	choose(key) {
		if (this.step.measure) {
			const value = this.catalogue.table.keys.single.indexOf(key);
			return value >= 0 && this.measure(value);
		}
		const cell = this.cells().flat().find((c) => c.key === key);
		if (!cell) return false;
		this.remember();
		detailsOf(this.step).forEach((code, n) => this.set(code, cell.values[n]));
		this.next();
		return true;
	}

	// measure fills a number, if the measure allows it.
	measure(value) {
		const m = this.catalogue.detail(this.inv.kind, this.step.measure).measure;
		if (!(value >= m.min && value <= m.max) || (m.whole && value % 1 !== 0)) return false;
		this.remember();
		this.inv.measures[this.step.measure] = value;
		this.next();
		return true;
	}

	set(code, value) {
		if (this.step.measures) {
			this.inv.measures[code] = Number(value);
			return;
		}
		const { details, kind } = this.inv;
		const without = this.catalogue.option(kind, code, details[code])?.result;
		if (without) this.inv.results = this.inv.results.filter((r) => r !== without);
		delete details[code];
		if (value === "") return;
		details[code] = value;
		const result = this.catalogue.option(kind, code, value).result;
		if (result && !this.inv.results.includes(result)) this.inv.results.push(result);
	}

	next() {
		this.number = null;
		const carried = this.at >= this.flow;
		do this.at++;
		while (this.at < this.flow && this.catalogue.ruledOut(this.inv, this.step));
		if (carried ? this.at >= this.steps.length : this.at >= this.flow) {
			this.done = true;
			this.at = Math.min(this.at, this.steps.length - 1);
		}
	}

	// move goes to another step and fills nothing.
	move(direction) {
		this.number = null;
		this.at = (this.at + direction + this.steps.length) % this.steps.length;
	}

	// alone splits a board into its details.
	alone() {
		const codes = detailsOf(this.step);
		if (codes.length < 2) return;
		const single = codes.map((code) => {
			const d = this.catalogue.detail(this.inv.kind, code);
			return d.measure ? { depth: d.depth, measure: code } :
				{ depth: d.depth, down: [], across: [code], rows: [[]], columns: d.options.map((o) => [o.code]) };
		});
		this.steps.splice(this.at, 1, ...single);
		if (this.at < this.flow) this.flow += single.length - 1;
	}

	remember() {
		this.past.push({ inv: structuredClone(this.inv), at: this.at });
	}

	// takeBack undoes the last key; false where there was none.
	takeBack() {
		if (this.number !== null) {
			this.number = this.number.length ? this.number.slice(0, -1) : null;
			return true;
		}
		const before = this.past.pop();
		if (!before) return false;
		Object.assign(this.inv, before.inv);
		this.at = Math.min(before.at, this.steps.length - 1);
		this.done = false;
		return true;
	}

	// goToDetail opens the step that fills a detail.
	goToDetail(code) {
		const at = this.steps.findIndex((s) => detailsOf(s).includes(code));
		if (at >= 0) this.at = at;
		this.done = false;
	}
}
