// The involvement log: keys in, rows kept in this browser, rows sent in the background.

import * as store from "./store.js";
import { Clock, Pace, at, shown } from "./clock.js";
import { Catalogue, Filling } from "./filling.js";
import { Away, Sender, SignedOut, about, own, plain } from "./send.js";
import { byId, counts, h, list, many, meanings, question, stepLegend } from "./view.js";
import { drawPlace, watchPitch } from "./pitch.js";

const table = JSON.parse(byId("table").textContent);
const catalogue = new Catalogue(table);
const [, , match, player] = location.pathname.split("/");
const of = `${Number(match)}.${Number(player)}`;
const stage = byId("stage");

let owner = ""; // whose log it is
let log = null; // what is kept about it
let rows = new Map();
let clock, pace, sender;
let filling = null; // the involvement that is open
let editing = null; // the row that it belongs to, if there was one
let asked = null; // what is questioned about it
let ending = null; // what is asked about a new possession
let typed = null; // digits of a time
let chosen = "";
let writing = 0; // how many rows are on their way to the disk
let known = null; // what the server said about the match, names included: never kept
const undos = [];

const on = (id, type, act) => byId(id).addEventListener(type, act);
const cookieOwner = () => /(?:^|; )throughline-log=([\d.]+)/.exec(document.cookie)?.[1] ?? "";

start().catch((err) => {
	notice("failed", "The log could not be opened: " + err.message);
});

async function start() {
	if (!isSecureContext) return notice("http", true);
	await navigator.serviceWorker?.register("/log/worker.js", { scope: "/log/" }).catch(() => {});
	byId("again").href = "/sign-in?next=" + encodeURIComponent(location.pathname);
	const waiting = setTimeout(() => notice("tab", true), 700);
	await new Promise((held) => navigator.locks.request("throughline-log", () => (held(), new Promise(() => {}))));
	clearTimeout(waiting);
	notice("tab", "");
	try {
		const { ok, said } = await about(of);
		if (!ok) return notice("refused", said?.detail ?? "This match cannot be logged.");
		known = said;
	} catch (err) {
		if (err instanceof SignedOut) return lock();
		if (!(err instanceof Away)) throw err;
	}
	owner = known ? known.owner : cookieOwner();
	if (!owner) return lock();
	await openLog();
}

// openLog reads what this user keeps here, and joins it with what the server has.
async function openLog() {
	const logs = new Map((await store.ofOwner("logs", owner)).map((l) => [l.of, l]));
	log = logs.get(of);
	if (!log && !known) return notice("away", true);
	log ??= { key: `${owner}|${of}`, owner, of, logKey: crypto.randomUUID(), depth: "core",
		kinds: table.kinds.map((k) => k.code), possession: 0, phase: 0 };
	logs.set(of, log);
	for (const row of await store.ofOwner("rows", owner)) {
		if (row.state === "refused") row.state = row.id ? "changed" : "new"; // the reason may be gone
		rows.set(row.key, row);
	}
	if (known) join();
	await keepLog();
	clock = new Clock(byId("video"), { halves: log.halves, half_minutes: log.halfMinutes }, log.clock);
	pace = new Pace(log.pace);
	sender = new Sender(owner, rows, logs, () => draw());
	restoreDraft();
	wire();
	byId("open").hidden = false;
	stage.focus();
	draw();
	sync();
}

// join takes over what the server said.
function join() {
	Object.assign(log, { halves: known.halves, halfMinutes: known.half_minutes, appears: known.appears });
	if (known.log) {
		if (!log.id) log.depth = known.log.depth;
		log.id = known.log.id;
		log.finished = known.log.finished;
	}
	byId("whose").textContent = `${known.player}, ${known.match}`;
	const here = new Map([...rows.values()].filter((r) => r.id).map((r) => [r.id, r]));
	const sent = new Set();
	for (const i of known.involvements) {
		const key = i.key || `id-${i.id}`;
		sent.add(key);
		const row = here.get(i.id) ?? rows.get(key);
		if (row) {
			row.id = i.id;
			if (row.state === "new") Object.assign(row, { version: i.version, state: "changed" }); // it had arrived
			if (row.state === "conflict") row.theirs = i;
		} else rows.set(key, { key, owner, of, state: "sent", id: i.id, version: i.version, rev: 0, inv: own(i) });
	}
	for (const row of mine()) if (row.state === "sent" && !sent.has(row.key)) rows.delete(row.key);
}

const keepLog = () => {
	if (clock) log.clock = clock.kept();
	if (pace) log.pace = pace.kept();
	return store.put("logs", plain(log));
};

// notice shows a line at the top, the page's own text for true, or takes it back.
function notice(name, text, ...more) {
	document.querySelector(`[data-notice="${name}"]`)?.remove();
	if (!text) return;
	if (text === true) text = byId(`text-${name}`).textContent;
	byId("notices").append(h("div", { class: "said", "data-notice": name }, h("p", {}, text), ...more));
	byId("open").hidden = false;
}

// lock hides everything: another user may be at this browser.
function lock() {
	rows = new Map();
	for (const id of ["rows", "counts", "step", "whose", "notices", "said"]) byId(id).replaceChildren();
	byId("open").hidden = true;
	byId("locked").hidden = false;
	log = null;
}

// sync sends what there is, and reads what the server has once it is back.
async function sync() {
	if (!log) return;
	if (cookieOwner() !== owner) return lock();
	if (!known) {
		try {
			const { said } = await about(of);
			if (said?.owner !== owner) return lock();
			known = said;
			join();
			await keepLog();
		} catch (err) {
			if (err instanceof SignedOut) return lock();
		}
	}
	await sender.soon();
	if (sender.state === "signed out") return lock();
	draw();
}

const copy = ({ inv, linked }) => structuredClone({ inv, linked });
const mine = () => [...rows.values()].filter((r) => r.of === of);
const shownRows = () => mine().filter((r) => r.state !== "deleted" || r.wrong?.length).sort((a, b) =>
	a.inv.clock.half - b.inv.clock.half || a.inv.clock.second - b.inv.clock.second || (a.seq ?? 0) - (b.seq ?? 0));
const pending = () => [...rows.values()].filter((r) => r.state !== "sent");

// keep puts a row into the database and sends it. What it did is said once the row is on the disk.
async function keep(row, state = row.id ? "changed" : "new", did = "") {
	row.state = state;
	row.rev = (row.rev ?? 0) + 1;
	row.wrong = [];
	rows.set(row.key, row);
	writing++;
	draw();
	try {
		await store.put("rows", plain(row));
		await keepLog();
		if (did) say(did);
	} catch (err) {
		notice("unkept", `This browser keeps nothing. Leave this page open until everything is sent. ${err.message}`);
	}
	writing--;
	draw();
	sync();
}

// noteUnsent tells the server's sign-out how much is still here: a number and ids.
function noteUnsent() {
	const all = pending();
	const name = `throughline-unsent-${owner}`;
	const where = (all.find((r) => r.of === of) ?? all[0])?.of;
	const value = all.length ? `${all.length}.${where}; max-age=34560000` : "; max-age=0";
	document.cookie = `${name}=${value}; path=/sign-out; samesite=strict`;
}

// ---- starting and filling an involvement

function begin(kind) {
	if (typed) clock.write(typed);
	typed = null;
	const now = clock.now();
	pace.tick(clock.read(), clock.playing);
	const inv = { clock: clock.read(), kind, details: {}, measures: {}, results: [], dangers: [], moment: false,
		head_contact: false, confirmed: false, key: crypto.randomUUID() };
	if (log.possession) {
		inv.possession = log.possession;
		inv.phase = log.phase;
		if (log.depth === "full") {
			for (const [code, value] of Object.entries(log.carried ?? {})) if (value) inv.details[code] = value;
		}
	}
	if (clock.source === "video" && log.video && byId("note-video").checked) {
		inv.video_file = log.video;
		inv.video_from = Math.round(now * 10) / 10;
	}
	editing = null;
	open(inv);
}

function open(inv) {
	filling = new Filling(catalogue, inv, log.depth);
	asked = null;
	saveDraft();
	draw();
}

// saveDraft keeps the open involvement as it is typed.
function saveDraft() {
	const { inv, linked } = filling ?? {};
	log.draft = filling && { inv: structuredClone(inv), at: filling.at, linked, of: editing?.key };
	return keepLog();
}

function restoreDraft() {
	const draft = log.draft;
	if (!draft) return;
	editing = rows.get(draft.of) ?? null;
	filling = new Filling(catalogue, draft.inv, log.depth);
	filling.at = Math.min(draft.at, filling.steps.length - 1);
	filling.linked = draft.linked;
}

// keepFilled keeps what is open, unless it is questioned.
function keepFilled() {
	asked = catalogue.questioned(filling.inv);
	if (asked) return draw();
	const { inv, linked } = filling;
	if (inv.video_from !== undefined && clock.source === "video" && !editing && clock.now() > inv.video_from) {
		inv.video_to = Math.round(clock.now() * 10) / 10;
	}
	const row = editing ?? { key: inv.key, owner, of, seq: Date.now(), state: "new", rev: 0 };
	const before = editing && copy(editing);
	row.inv = inv;
	if (linked) row.linked = linked;
	undos.push(before ? () => restore(row.key, before) : () => take(row.key));
	const did = `${editing ? "Changed" : "Kept"}: ${at(inv.clock)} ${catalogue.words(inv, true)}`;
	filling = editing = null;
	log.draft = null;
	chosen = row.key;
	caution(row);
	return keep(row, undefined, did);
}

// caution says what to do after a head contact, in the store's words.
function caution(row) {
	if (row.inv.head_contact) {
		notice("caution", table.caution,
			h("p", {}, h("a", { href: "/safety#head-contacts" }, "Record who you told, and set the stand-down")));
	}
}

function take(key, did) {
	const row = rows.get(key);
	return row && keep(row, "deleted", did);
}

function restore(key, before) {
	const row = rows.get(key);
	return row && keep(Object.assign(row, copy(before)));
}

const say = (text) => (byId("said").textContent = text);

// ---- possessions

function possessed(change) {
	const { possession, phase, carried } = log;
	undos.push(() => (Object.assign(log, { possession, phase, carried }), keepLog()));
	Object.assign(log, change);
	keepLog();
}

function newPossession() {
	ending = new Filling(catalogue, { kind: "carry", details: {}, measures: {}, results: [] }, "full");
	const step = (code) => ending.steps.find((s) => s.across?.[0] === code && !s.down);
	ending.steps = [...(log.possession ? [step("possession_end")] : []), step("possession_start")];
	ending.flow = ending.steps.length;
	const last = Math.max(log.possession, ...mine().map((r) => r.inv.possession ?? 0));
	possessed({ possession: last + 1, phase: 1, carried: {} });
}

// began carries forward how a possession began, and writes how the last one ended to all of it.
function began({ possession_start, possession_end }) {
	ending = null;
	log.carried = { possession_start, source: table.keys.source_of[possession_start] };
	for (const row of possession_end ? mine() : []) {
		if (row.inv.possession !== log.possession - 1 || ["deleted", "conflict"].includes(row.state)) continue;
		row.inv.details.possession_end = possession_end;
		keep(row);
	}
	keepLog();
}

function nextPhase(speed) {
	possessed({ possession: log.possession || 1, phase: (log.phase || 1) + 1,
		carried: { ...log.carried, source: "ruck", speed } });
}

// ---- keys

const commands = {
	play: () => clock.toggle(),
	step_back: () => clock.step(-1),
	step_on: () => clock.step(1),
	jump_back: (shift) => clock.jump(shift ? -30 : -5),
	jump_on: (shift) => clock.jump(shift ? 30 : 5),
	slower: () => clock.faster(-1),
	faster: () => clock.faster(1),
	half: () => {
		const { kickoffs, half, position } = clock;
		undos.push(() => Object.assign(clock, { kickoffs, half }, clock.source === "typed" && { position }));
		const began = clock.began();
		say(began ? `Half ${began} begins here.` : "The match has no further half.");
		keepLog();
	},
	time: () => (typed = ""),
	possession: newPossession,
	phase: () => nextPhase(),
	quick: () => nextPhase("quick"),
	slow: () => nextPhase("slow"),
	before: () => choose(-1),
	after: () => choose(1),
	edit: () => {
		const row = picked();
		if (!row) return;
		if (row.state === "conflict") return say("Say first which of the two is right.");
		editing = row;
		open(structuredClone(row.inv));
	},
	delete: () => {
		const row = picked();
		if (!row) return;
		const before = copy(row);
		undos.push(() => (rows.has(row.key) ? restore(row.key, before) : anew(before)));
		chosen = "";
		take(row.key, "Deleted: " + catalogue.words(row.inv, true));
	},
	undo: () => {
		const last = undos.pop();
		say(last ? "Taken back." : "There is nothing to take back.");
		last?.();
	},
	view: () => {
		const row = picked();
		if (!row) return;
		const { video_from } = row.inv;
		if (clock.source === "video" && video_from !== undefined) clock.seek(video_from);
		else clock.goTo(row.inv.clock);
	},
	finish: () => showFinish(),
	guide: () => byId("guide").toggleAttribute("hidden"),
};

// anew makes a deleted involvement again: its key is spent.
function anew({ inv, linked }) {
	const key = crypto.randomUUID();
	return keep({ key, owner, of, seq: Date.now(), rev: 0, linked, inv: { ...inv, key } });
}

function picked() {
	const row = rows.get(chosen);
	return row?.state === "deleted" ? null : row;
}

const clockCommands = ["play", "step_back", "step_on", "jump_back", "jump_on", "slower", "faster"];

function choose(direction) {
	const all = shownRows();
	const now = all.findIndex((r) => r.key === chosen);
	const next = now < 0 ? (direction < 0 ? all.length - 1 : 0) : Math.min(all.length - 1, Math.max(0, now + direction));
	chosen = all[next]?.key ?? "";
	if (chosen) say(catalogue.words(rows.get(chosen).inv));
}

// press does what a key does, and says whether it does anything.
function press(key, shift) {
	pace.acts();
	const done = shift && /^[a-z]$/.test(key) ? mark(key) :
		asked ? answer(key) : ending ? pressPossession(key) : filling ? pressFilling(key, shift) : pressIdle(key, shift);
	if (done) draw();
	return done;
}

function command(key, shift, only) {
	const found = table.keys.commands.find((c) => c.key === key || (c.code === "faster" && key === "="));
	if (!found || (only && !only.includes(found.code))) return false;
	commands[found.code](shift);
	return true;
}

function pressIdle(key, shift) {
	if (typed !== null || clock.source === "typed") {
		if (/^\d$/.test(key)) {
			typed = ((typed ?? "") + key).slice(-5);
			return true;
		}
		if (typed && key === "Backspace") {
			typed = typed.slice(0, -1) || null;
			return true;
		}
		if (typed !== null && (key === "Enter" || key === "Escape")) {
			if (typed && key === "Enter") clock.write(typed);
			typed = null;
			return true;
		}
	}
	const kind = table.keys.kinds.find((k) => k.key === key);
	if (!kind || shift) return command(key, shift);
	begin(kind.kind);
	return true;
}

function pressFilling(key, shift) {
	const f = filling;
	if (f.number !== null) {
		if (/^[\d.]$/.test(key)) f.number += key;
		else if (key === "Enter") {
			if (f.number === "" || !f.measure(Number(f.number))) {
				say("That number is not allowed here.");
				f.number = "";
			}
		} else if (key === "Backspace") f.takeBack();
		else if (key === "Escape") f.number = null;
		else return false;
		return filled();
	}
	switch (key) {
		case "Enter":
			keepFilled();
			return true;
		case "Escape":
			filling = editing = null;
			saveDraft();
			say("Nothing was kept.");
			return true;
		case "ArrowDown":
		case "ArrowUp":
			f.move(key === "ArrowDown" ? 1 : -1);
			return true;
		case "Backspace":
			if (!f.takeBack()) f.move(-1);
			return filled();
	}
	if (f.step.measure && key === "-") {
		f.number = "";
		return true;
	}
	if (!f.step.measure && key === "7") {
		f.alone();
		return true;
	}
	if (f.choose(key)) return filled();
	return command(key, shift, f.step.measure ? ["play", "jump_back", "jump_on"] : clockCommands);
}

// filled follows a key that filled something.
function filled() {
	asked = catalogue.questioned(filling.inv);
	if (!asked && filling.done) keepFilled();
	else saveDraft();
	return true;
}

function answer(key) {
	if (key === "y" && !asked.never) {
		filling.inv.confirmed = true;
		return filled();
	}
	if (key !== "n") return false;
	const { detail, measure, result } = asked.that;
	if (result) filling.inv.results = filling.inv.results.filter((r) => r !== result);
	else {
		delete filling.inv.details[detail];
		delete filling.inv.measures[measure];
		filling.goToDetail(detail ?? measure);
	}
	asked = null;
	saveDraft();
	return true;
}

function pressPossession(key) {
	if (["Enter", "ArrowDown", "Escape"].includes(key)) ending.next();
	else if (!ending.choose(key)) return command(key, false, clockCommands);
	if (ending.done) began(ending.inv.details);
	return true;
}

// mark sets or takes back a mark: of what is open, else of the chosen involvement.
function mark(key) {
	const found = table.keys.marks.find((m) => m.key === key);
	const row = picked();
	if (!found || (!filling && (!row || row.state === "conflict"))) return false;
	const target = filling ?? copy(row);
	if (!markOn(target, found)) return true;
	if (filling) {
		asked = catalogue.questioned(filling.inv);
		saveDraft();
		if (filling.inv.head_contact) caution(filling);
		return true;
	}
	const before = copy(row);
	undos.push(() => restore(row.key, before));
	row.inv = target.inv;
	row.linked = target.linked;
	caution(row);
	keep(row, undefined, `${found.name}: ${catalogue.words(row.inv)}`);
	return true;
}

function markOn(target, { code, name }) {
	const { inv } = target;
	const flip = (all) => (all.includes(code) ? all.filter((x) => x !== code) : [...all, code]);
	const danger = table.dangers.find((d) => d.code === code);
	if (code === "moment" || code === "head_contact") inv[code] = !inv[code];
	else if (danger) {
		if (!danger.kinds.includes(inv.kind)) return say(`${name} does not fit this kind.`);
		inv.dangers = flip(inv.dangers);
	} else if (code === "linked_to") {
		if (inv.kind !== "pass" && inv.kind !== "offload") return say("Only a pass or an offload comes out of a carry.");
		const later = (c) => c.half > inv.clock.half || (c.half === inv.clock.half && c.second > inv.clock.second);
		const carry = shownRows().filter((r) => r.inv.kind === "carry" && !later(r.inv.clock)).pop();
		if (!carry) return say("There is no carry before it.");
		target.linked = target.linked === carry.key ? undefined : carry.key;
		if (!target.linked) delete inv.linked_to;
	} else inv.results = flip(inv.results);
	return true;
}

// ---- what the log covers

function showFinish() {
	for (let n = 1; n <= 4; n++) {
		const seen = mine().filter((r) => r.inv.clock.half === n).map((r) => r.inv.clock.second);
		seen.push(...(pace.seen[n] ?? []));
		byId(`half-${n}`).hidden = n > log.halves;
		byId(`from-${n}`).value = seen.length ? shown(Math.min(...seen)) : "";
		byId(`to-${n}`).value = seen.length ? shown(Math.max(...seen) + 1) : "";
	}
	byId("finish").hidden = false;
	byId("finish-title").focus();
}

function hideFinish() {
	byId("finish").hidden = true;
	stage.focus();
}

async function declare(event) {
	event.preventDefault();
	const seconds = (text) => {
		const [, m, s] = /^(\d{1,3}):([0-5]\d)$/.exec(text) ?? [];
		return 60 * m + Number(s);
	};
	const wrong = (text) => Object.assign(byId("finish-wrong"), { textContent: text, hidden: !text });
	wrong("");
	const covers = [];
	let whole = true;
	for (let n = 1; n <= log.halves; n++) {
		const from = byId(`from-${n}`).value.trim();
		const to = byId(`to-${n}`).value.trim();
		if (!from && !to) {
			whole = false;
			continue;
		}
		if (!(seconds(from) < seconds(to))) {
			byId(`from-${n}`).focus();
			return wrong(`Half ${n}: write two times such as 00:00 and 35:00, the first one earlier.`);
		}
		whole &&= seconds(from) <= clock.starts(n) && seconds(to) >= clock.starts(n + 1);
		covers.push({ from: { half: n, second: seconds(from) }, to: { half: n, second: seconds(to) } });
	}
	const kinds = table.kinds.map((k) => k.code).filter((k) => byId(`covers-${k}`).checked);
	if (!covers.length || !kinds.length) {
		return wrong("Name at least one half that you watched, and one kind.");
	}
	log.declared = { depth: log.depth, kinds, covers: whole ? [] : covers };
	log.because = byId("because").value.trim();
	await keepLog();
	say("Declared. It is sent last.");
	hideFinish();
	draw();
	sync();
}

// ---- conflicts with another user

function conflictNotice(row) {
	const told = (inv) => (inv ? `${catalogue.words(inv)}, ${at(inv.clock)}` : "deleted");
	const pick = (id, label, act) => {
		const b = h("button", { type: "button", id }, label);
		b.addEventListener("click", () => (act(), stage.focus()));
		return b;
	};
	return h("div", { class: "said conflict", "data-conflict": row.key },
		h("p", {}, "Another user changed this involvement while you did. Nothing was overwritten."),
		h("p", {}, "Yours: " + told(row.wanted !== "deleted" && row.inv)), h("p", {}, "On file now: " + told(row.theirs)),
		h("p", {}, pick(`mine-${row.key}`, "Keep yours", () => keepYours(row)), " ",
			pick(`theirs-${row.key}`, "Keep what is on file", () => keepTheirs(row))));
}

function keepYours(row) {
	if (row.theirs) {
		row.version = row.theirs.version;
		return keep(row, row.wanted === "deleted" ? "deleted" : "changed");
	}
	rows.delete(row.key);
	store.remove("rows", row.key);
	return row.wanted === "deleted" ? draw() : anew(row);
}

async function keepTheirs(row) {
	await store.remove("rows", row.key);
	if (row.theirs) Object.assign(row, { state: "sent", version: row.theirs.version, inv: own(row.theirs), wrong: [] });
	else rows.delete(row.key);
	draw();
}

// ---- drawing

const sending = () => {
	const n = pending().length;
	const left = writing ? "Keeping it" : n ? `${n} not sent, kept in this browser` : "Everything is sent";
	return sender.state === "away" ? "The server is away. It keeps what you sent. " + left : left;
};

function draw() {
	if (!log || !clock) return;
	noteUnsent();
	const all = shownRows();
	byId("step").replaceChildren(...(asked ? question(asked) : ending ? stepLegend(catalogue, ending, possessionTitle()) :
		filling ? stepLegend(catalogue, filling) : []));
	byId("idle").hidden = asked || ending || filling;
	byId("fill").hidden = !filling || asked;
	const open = ending ?? filling;
	byId("meanings").replaceChildren(...(open && !asked ? meanings(catalogue, open) : []));
	byId("counts").replaceChildren(counts(catalogue, all), h("p", { id: "pace" }, pace.words()));
	byId("rows").replaceChildren(...list(catalogue, all, chosen, (key) => {
		chosen = key;
		stage.focus();
		draw();
	}));
	byId("carried").textContent = log.possession ? `Possession ${log.possession}, phase ${log.phase}` : "";
	byId("sending").textContent = sending();
	drawPlace(table.pitch, filling?.inv.details ?? {});
	drawNotices();
	drawClock();
}

const possessionTitle = () =>
	`Possession ${log.possession}: ${catalogue.detail("carry", ending.step.across[0]).label}. Enter leaves it out.`;

function drawNotices() {
	notice("log", (log.wrong ?? []).join(" "));
	notice("appears", known && !known.appears && !log.id);
	document.querySelectorAll("[data-conflict]").forEach((e) => e.remove());
	byId("notices").append(...mine().filter((r) => known && r.state === "conflict").map(conflictNotice));
	const others = (known?.others ?? []).map((o) =>
		h("p", {}, `${o.by}: ${many(o.involvements, "involvement")}${o.finished ? ", finished" : ""}. `,
			o.compared && h("a", { href: o.compared }, "Compare the two logs")));
	notice("others", others.length > 0, ...others);
	notice("finished", !!log.finished);
}

function drawClock() {
	if (!log || !clock) return;
	byId("clock").textContent = typed !== null ? typed || "…" : at(clock.read());
	const source = { running: "running clock", video: "video", typed: "typed times" }[clock.source];
	const state = clock.source === "typed" ? "" : `, ${clock.playing ? "playing" : "paused"}, ×${clock.speed}`;
	byId("state").textContent = source + state;
}

// ---- wiring

function wire() {
	document.addEventListener("keydown", onKey);
	on("legend", "click", (e) => {
		const { key, shift } = e.target.closest("[data-key]")?.dataset ?? {};
		if (!key) return;
		press(key, shift === "yes");
		stage.focus();
	});
	for (const name of ["focusin", "mouseover"]) {
		on("legend", name, (e) => {
			const about = e.target.closest("[data-about]")?.dataset.about;
			if (about) byId("meaning").textContent = about;
		});
	}
	on("finish", "submit", declare);
	on("not-yet", "click", hideFinish);
	setUp();
	watchPitch(table.pitch, (place) => {
		if (!filling || log.depth !== "full") return;
		filling.remember();
		Object.assign(filling.inv.details, place);
		if (!place.width) delete filling.inv.details.width;
		saveDraft();
		stage.focus();
		draw();
	});
	setInterval(() => {
		if (!log) return;
		pace.tick(clock.read(), clock.playing);
		drawClock();
		byId("pace")?.replaceChildren(pace.words());
	}, 500);
	setInterval(() => {
		if (!log) return;
		keepLog();
		if (pending().length || log.declared || sender.state === "away") sync();
	}, 3000);
	addEventListener("online", sync);
	addEventListener("pagehide", () => log && keepLog());
	document.addEventListener("visibilitychange", () => log && !document.hidden && sync());
}

function onKey(e) {
	if (!log || !stage.contains(e.target) || e.ctrlKey || e.metaKey || e.altKey) return;
	if (e.target !== stage && (e.key === "Enter" || e.key === " ")) return; // a focused button
	let key = e.key.length === 1 ? e.key.toLowerCase() : e.key;
	const digit = /^(?:Digit|Numpad)(\d)$/.exec(e.code);
	if (digit && !e.shiftKey) key = digit[1]; // on keyboards where digits need Shift
	if (press(key, e.shiftKey && (/^[a-z]$/.test(key) || key.startsWith("Arrow")))) e.preventDefault();
	else if (e.key.length === 1) say(`${e.key} does nothing here.`);
}

function setUp() {
	byId("depth").value = log.depth;
	on("depth", "change", (e) => ((log.depth = e.target.value), keepLog()));
	const radios = [...document.querySelectorAll("[name=source]")];
	const use = (source) => {
		clock.use(source);
		for (const r of radios) r.checked = r.value === source;
		byId("video").hidden = source !== "video" || !byId("video").src;
		keepLog();
		draw();
	};
	for (const r of radios) r.addEventListener("change", () => use(r.value));
	use(clock.source);
	on("file", "change", (e) => {
		const [file] = e.target.files;
		if (!file) return;
		const video = byId("video");
		if (video.src) URL.revokeObjectURL(video.src);
		const back = clock.source === "video" ? clock.position : 0;
		video.src = URL.createObjectURL(file);
		video.addEventListener("loadedmetadata", () => {
			const long = Number.isFinite(video.duration) ? `, ${shown(video.duration)} long` : "";
			log.video = `video of ${new Date(file.lastModified).toISOString().slice(0, 10)}${long}`;
			if (back) clock.seek(back);
			use("video");
			stage.focus();
		}, { once: true });
		video.addEventListener("error", () => notice("video", true), { once: true });
	});
	on("note-video", "change", (e) => {
		for (const row of e.target.checked ? [] : mine().filter((r) => r.state === "refused")) {
			for (const name of ["video_file", "video_from", "video_to"]) delete row.inv[name];
			keep(row);
		}
	});
	on("discard", "click", async ({ target: discard }) => {
		const all = pending();
		if (!all.length) return void (discard.textContent = "There is nothing to discard");
		if (discard.dataset.sure !== String(all.length)) {
			discard.dataset.sure = all.length;
			discard.textContent = `Discard for good what is not sent: ${all.length}?`;
			return;
		}
		for (const row of all) {
			await store.remove("rows", row.key);
			rows.delete(row.key);
		}
		known = null; // read again what the server has of them
		discard.textContent = "Discarded";
		sync();
	});
}
