// Sends rows in the background. A row leaves this browser once the server has it as it is.

import * as store from "./store.js";

const api = "/api/v1";

export class SignedOut extends Error {}
export class Away extends Error {}

// ask sends a request. A server that cannot answer is away.
async function ask(method, path, body, headers = {}) {
	let res;
	try {
		res = await fetch(path, {
			method, redirect: "manual", cache: "no-store", credentials: "same-origin",
			headers: body ? { "Content-Type": "application/json", ...headers } : headers,
			body: body && JSON.stringify(body),
		});
	} catch {
		throw new Away();
	}
	if (res.type === "opaqueredirect" || res.status === 401) throw new SignedOut();
	if (res.status === 429 || res.status >= 500) throw new Away();
	const text = await res.text();
	let said = null;
	try {
		said = text ? JSON.parse(text) : null;
	} catch {
		if (res.ok) throw new Away(); // not our server's answer
	}
	return { status: res.status, ok: res.ok, said };
}

// about asks for the log of a player's match.
export const about = (of) => ask("GET", `/log/${of.replace(".", "/")}/about`);

// pair are the ids of a log's match and player.
function pair(log) {
	const [match_id, player_id] = log.of.split(".").map(Number);
	return { match_id, player_id };
}

// versions are the entity tags that a record of a version may have.
const versions = (v) => ["", "-stop", "-proposal", "-stop-proposal"].map((s) => `"${v}${s}"`).join(", ");

const one = (row) => `${api}/involvements/${row.id}`;
const batch = (log) => `${api}/logs/${log.id}/involvements/batch`;

const sentences = (said) => (said?.errors?.length ? said.errors.map((e) => e.message) : [said?.detail ?? "refused"]);

// wire is a row as the resource reads it. Free text that the server has stays as it is there.
function wire(row, linked, now = {}) {
	const { details, measures, results, dangers, ...rest } = row.inv;
	const sent = { ...rest, key: row.inv.key, details, measures, results, dangers };
	for (const [name, v] of Object.entries(sent)) {
		if (v === null || v === undefined || (typeof v === "object" && !Object.keys(v).length)) delete sent[name];
	}
	if (linked) sent.linked_to = linked;
	for (const text of ["options", "note", "video_file"]) if (now[text] && !sent[text]) sent[text] = now[text];
	return sent;
}

// Sender sends one user's rows of every match, and calls changed to show them anew.
export class Sender {
	constructor(owner, rows, logs, changed) {
		Object.assign(this, { owner, rows, logs, changed, state: "", running: null, again: false, ids: new Map() });
	}

	// soon sends what there is, once what runs now has ended.
	soon() {
		if (this.running) {
			this.again = true;
			return this.running;
		}
		this.running = this.run().finally(() => {
			this.running = null;
			this.changed();
			if (this.again) {
				this.again = false;
				this.soon();
			}
		});
		return this.running;
	}

	async run() {
		try {
			await this.check();
			for (const log of this.logs.values()) await this.sendLog(log);
			this.state = "";
		} catch (err) {
			if (err instanceof SignedOut) this.state = "signed out";
			else if (err instanceof Away) this.state = "away";
			else throw err;
		}
	}

	// check asks whose rows may be sent.
	async check() {
		const { said } = await ask("GET", "/log/who");
		if (said?.owner !== this.owner) throw new SignedOut();
	}

	waiting(log) {
		return [...this.rows.values()].filter((r) => r.of === log.of && ["new", "changed", "deleted"].includes(r.state));
	}

	async sendLog(log) {
		if (!this.waiting(log).length && !log.declared) return;
		if (!log.id && !(await this.createLog(log))) return;
		const waiting = this.waiting(log);
		await this.recall(log, waiting.filter((r) => !r.id && r.first && (r.state === "deleted" || r.rev !== r.first)));
		for (const row of waiting.filter((r) => r.state === "deleted")) {
			if (row.id || !row.first) await this.sendDeleted(row);
			else this.again = true; // deleted since it was asked for
		}
		await this.know(log, waiting);
		for (let times = 0; times < 2; times++) { // carries first, then what came out of them
			await this.sendNew(log, waiting.filter((r) => r.state === "new" && this.ready(r)));
		}
		for (const row of waiting.filter((r) => r.state === "changed" && this.ready(r))) await this.sendChanged(row);
		if (log.declared && !this.waiting(log).length) await this.sendDeclared(log);
	}

	// recall asks for rows changed or deleted after a lost answer: they may have arrived.
	async recall(log, rows) {
		if (!rows.length) return;
		const { ok, said } = await about(log.of);
		if (!ok) throw new Away();
		for (const row of rows) {
			const { id, version } = said.involvements.find((i) => i.key === row.key) ?? {};
			Object.assign(row, id ? { id, version } : { first: undefined });
			if (id && row.state === "new") row.state = "changed";
		}
	}

	// know asks for the ids of carries that were sent before this page was opened.
	async know(log, rows) {
		if (!rows.some((r) => r.linked && !this.rows.has(r.linked) && !this.ids.has(r.linked))) return;
		const { said } = await about(log.of);
		for (const i of said?.involvements ?? []) if (i.key) this.ids.set(i.key, i.id);
	}

	// linkedID is the id of a pass's carry.
	linkedID(row) {
		return this.rows.get(row.linked)?.id ?? this.ids.get(row.linked);
	}

	// ready: a pass waits for its carry, as long as there is one.
	ready(row) {
		return !row.linked || !this.rows.has(row.linked) || this.linkedID(row) !== undefined;
	}

	// createLog makes a log, once the player has minutes.
	async createLog(log) {
		log.appears ||= (await about(log.of)).said?.appears;
		if (!log.appears) return;
		const made = await ask("POST", api + "/logs", {
			...pair(log), depth: log.depth, kinds: log.kinds, finished: false, key: log.logKey,
		});
		if (made.ok) log.id = made.said.id;
		else log.id = (await about(log.of)).said?.log?.id; // made from another browser of the same user
		log.wrong = log.id ? [] : sentences(made.said);
		await store.put("logs", plain(log));
		return log.id;
	}

	// sendNew creates rows, without those that the server refuses.
	async sendNew(log, rows) {
		rows = rows.slice(0, 200);
		while (rows.length) {
			for (const row of rows) row.first ??= row.rev; // what the server has, if an answer is lost
			const made = await ask("POST", batch(log), { items: rows.map((r) => wire(r, this.linkedID(r))) });
			if (made.ok) {
				for (const [n, row] of rows.entries()) await this.acknowledged(row, made.said.items[n], row.first);
				return;
			}
			const refused = new Map();
			for (const e of made.said?.errors ?? []) {
				const n = Number(/items\[(\d+)\]/.exec(e.location)?.[1] ?? NaN);
				if (rows[n]) refused.set(rows[n], [...(refused.get(rows[n]) ?? []), e.message]);
			}
			if (!refused.size) for (const row of rows) refused.set(row, sentences(made.said));
			for (const [row, wrong] of refused) await this.setAside(row, "refused", wrong);
			rows = rows.filter((r) => !refused.has(r));
		}
	}

	// acknowledged notes what the server has. A row changed meanwhile is sent again.
	async acknowledged(row, got, rev) {
		row.id = got.id;
		row.version = got.version;
		row.wrong = [];
		if (row.state === "deleted") {
			await store.put("rows", plain(row));
			this.again = true;
		} else if (row.rev !== rev) {
			row.state = "changed";
			await store.put("rows", plain(row));
			this.again = true;
		} else {
			row.state = "sent";
			row.inv = { ...own(got), key: row.inv.key };
			await store.remove("rows", row.key);
		}
		this.changed();
	}

	async setAside(row, state, wrong) {
		Object.assign(row, { state, wrong });
		await store.put("rows", plain(row));
		this.changed();
	}

	async sendChanged(row) {
		const now = await ask("GET", one(row));
		if (now.status === 404) return this.conflict(row, null);
		if (!now.ok) return this.setAside(row, "refused", sentences(now.said));
		if (now.said.version !== row.version) return this.conflict(row, now.said);
		const rev = row.rev;
		const sent = await ask("PUT", one(row), wire(row, this.linkedID(row), now.said),
			{ "If-Match": versions(row.version) });
		if (sent.ok) return this.acknowledged(row, sent.said, rev);
		if (sent.status === 412 || sent.status === 404) return this.overtaken(row);
		return this.setAside(row, "refused", sentences(sent.said));
	}

	async sendDeleted(row) {
		if (row.id) {
			const sent = await ask("DELETE", one(row), null, { "If-Match": versions(row.version) });
			if (sent.status === 412) return this.overtaken(row);
			if (!sent.ok && sent.status !== 404) return this.setAside(row, "refused", sentences(sent.said));
		}
		this.rows.delete(row.key);
		await store.remove("rows", row.key);
		this.changed();
	}

	async overtaken(row) {
		const other = await ask("GET", one(row));
		return this.conflict(row, other.ok ? other.said : null);
	}

	// conflict sets a row aside that another user changed too: the logger decides.
	conflict(row, theirs) {
		row.wanted = row.state === "deleted" ? "deleted" : "changed";
		row.theirs = theirs;
		return this.setAside(row, "conflict", []);
	}

	// sendDeclared says what the log covers.
	async sendDeclared(log) {
		const now = await ask("GET", `${api}/logs/${log.id}`);
		if (!now.ok) return;
		const { depth, kinds, covers } = log.declared;
		const body = { ...pair(log), logger_id: now.said.logger_id, depth, kinds, covers, finished: true };
		for (const text of ["key", "logged_on_because"]) if (now.said[text]) body[text] = now.said[text];
		if (log.because) body.logged_on_because = log.because;
		const sent = await ask("PUT", `${api}/logs/${log.id}`, body, { "If-Match": versions(now.said.version) });
		log.wrong = sent.ok ? [] : sentences(sent.said);
		log.finished = sent.ok || log.finished;
		log.declared = null;
		for (const row of sent.ok ? this.rows.values() : []) {
			if (row.of === log.of && row.state === "refused") row.state = row.id ? "changed" : "new";
		}
		this.again = true;
		await store.put("logs", plain(log));
		this.changed();
	}
}

// own are the parts of an involvement that the log writes: no free text.
export function own(inv) {
	const { clock, kind, possession, phase, video_from, video_to, video_file, moment, head_contact, confirmed } = inv;
	return structuredClone({
		clock, kind, key: inv.key, details: inv.details ?? {}, measures: inv.measures ?? {}, results: inv.results ?? [],
		dangers: inv.dangers ?? [], possession, phase, video_from, video_to, video_file, linked_to: inv.linked_to,
		moment: !!moment, head_contact: !!head_contact, confirmed: !!confirmed,
	});
}

// plain is a row or a log as the database keeps it: without what the server said, which may name people.
export function plain({ theirs, wrong, because, ...kept }) {
	return kept;
}
