// Where the match is: a video, a running clock or typed times give a position in seconds, and the kick-offs of the
// halves turn it into the match clock.

const speeds = [0.25, 0.5, 0.75, 1, 1.25, 1.5, 2, 3, 4];
const frame = 1 / 25;

export class Clock {
	// kept is what survives a reload: source, position, kick-offs by half, the half of typed times.
	constructor(video, match, kept = {}) {
		Object.assign(this, { video, match, source: "running", position: 0, kickoffs: {}, half: 1, speed: 1 }, kept);
		this.since = 0; // when the running clock was started, 0 for a stopped one
	}

	kept() {
		return { source: this.source, position: this.now(), kickoffs: this.kickoffs, half: this.half };
	}

	get film() {
		return this.source === "video" && this.video.src;
	}

	get playing() {
		return this.source === "video" ? !this.video.paused && !this.video.ended : this.since > 0;
	}

	now() {
		if (this.film) return this.video.currentTime;
		return this.position + (this.since ? ((performance.now() - this.since) / 1000) * this.speed : 0);
	}

	seek(to) {
		to = Math.max(0, to);
		this.position = to;
		if (this.since) this.since = performance.now();
		if (this.film) this.video.currentTime = to;
	}

	use(source) {
		this.pause();
		this.position = this.now();
		this.source = source;
	}

	pause() {
		this.position = this.now();
		this.since = 0;
		if (this.source === "video") this.video.pause();
	}

	toggle() {
		if (this.source === "typed") return;
		if (this.playing) return this.pause();
		if (this.source === "video") {
			if (this.video.src) this.video.play().catch(() => {});
		} else this.since = performance.now();
	}

	step(direction) {
		this.pause();
		this.seek(this.now() + direction * (this.source === "video" ? frame : 1));
	}

	jump(seconds) {
		this.seek(this.now() + seconds);
	}

	faster(direction) {
		this.position = this.now();
		if (this.since) this.since = performance.now();
		const at = speeds.indexOf(this.speed) + direction;
		this.speed = speeds[Math.min(speeds.length - 1, Math.max(0, at))];
		this.video.playbackRate = this.speed;
	}

	// starts is the match clock, in seconds, at which a half begins.
	starts(half) {
		return (half - 1) * this.match.half_minutes * 60;
	}

	kickoff(half) {
		return this.kickoffs[half] ?? (half === 1 ? 0 : undefined);
	}

	// began notes that the next half kicks off here, and returns it; 0 after the last.
	began() {
		if (this.source === "typed") {
			this.half = (this.half % this.match.halves) + 1;
			this.position = this.starts(this.half);
			return this.half;
		}
		const half = this.kickoffs[1] === undefined ? 1 : this.read().half + 1;
		if (half > this.match.halves) return 0;
		this.kickoffs = { ...this.kickoffs, [half]: this.now() };
		return half;
	}

	// read is the match clock now.
	read() {
		if (this.source === "typed") return { half: this.half, second: Math.floor(this.position) };
		const now = this.now();
		let half = 1;
		for (let h = 2; h <= this.match.halves; h++) if (this.kickoffs[h] <= now) half = h;
		return { half, second: this.starts(half) + Math.max(0, Math.floor(now - this.kickoff(half))) };
	}

	// goTo moves to a match clock, as far as its half has a kick-off.
	goTo(clock) {
		if (this.source === "typed") {
			this.half = clock.half;
			this.position = clock.second;
			return;
		}
		const from = this.kickoff(clock.half);
		if (from !== undefined) this.seek(from + clock.second - this.starts(clock.half));
	}

	// write moves to a time of the match clock that was typed: 1234 is 12:34. It stays in the half where it can.
	write(digits) {
		const second = 60 * Number(digits.slice(0, -2)) + Number(digits.slice(-2));
		let { half } = this.read();
		while (half > 1 && second < this.starts(half)) half--;
		this.goTo({ half, second: Math.max(second, this.starts(half)) });
	}
}

const two = (n) => String(Math.floor(n)).padStart(2, "0");
export const shown = (second) => `${two(second / 60)}:${two(second % 60)}`;

export const at = ({ half, second }) => `Half ${half}, ${shown(second)}`;

// Pace is how long the work takes: minutes of work per minute of match. Breaks of more than a minute do not count.
export class Pace {
	constructor(kept = {}) {
		Object.assign(this, { work: 0, seen: {} }, kept);
		this.ticked = this.acted = performance.now();
	}

	acts() {
		this.acted = performance.now();
	}

	// tick counts the time since the last tick, if the page was in use, and what of the match was seen.
	tick(clock, playing) {
		const now = performance.now();
		const used = !document.hidden && (playing || now - this.acted < 60000);
		if (used) this.work += Math.min(now - this.ticked, 60000) / 1000;
		this.ticked = now;
		const seen = (this.seen[clock.half] ??= [clock.second, clock.second]);
		seen[0] = Math.min(seen[0], clock.second);
		seen[1] = Math.max(seen[1], clock.second);
	}

	kept() {
		return { work: this.work, seen: this.seen };
	}

	get match() {
		return Object.values(this.seen).reduce((sum, [from, to]) => sum + to - from, 0);
	}

	words() {
		const match = this.match;
		if (match < 60) return "Pace: shown after a minute of the match.";
		return `Pace: ${(this.work / match).toFixed(2)} minutes of work per minute of match ` +
			`(${shown(this.work)} for ${shown(match)}).`;
	}
}
