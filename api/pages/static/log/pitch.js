// The drawing of the pitch: a click says where it began, a click with Shift where the ball was last brought into play.
// The player's side attacks upwards.

import { byId } from "./view.js";

let ball = null; // metres across, from the left touchline

// placeOf is the place of a spot: metres across from the left touchline and along from the opponents' goal line.
export function placeOf(pitch, across, along) {
	const place = { side: across < pitch.width / 2 ? "left" : "right" };
	const fromOwn = pitch.length - along;
	if (fromOwn < pitch.from_goal_line) place.zone = "own_22";
	else if (fromOwn < pitch.length / 2) place.zone = "own_22_to_half";
	else if (along > pitch.from_goal_line) place.zone = "half_to_their_22";
	else place.zone = "their_22";
	if (ball !== null) {
		const edge = Math.min(across, pitch.width - across);
		place.width = Math.abs(across - ball) < pitch.close ? "close" : edge > pitch.wide ? "midfield" : "wide";
	}
	return place;
}

export function watchPitch(pitch, placed) {
	const svg = byId("pitch");
	svg.addEventListener("click", (e) => {
		const at = new DOMPoint(e.clientX, e.clientY).matrixTransform(svg.getScreenCTM().inverse());
		const across = Math.min(pitch.width, Math.max(0, at.x));
		const dot = byId(e.shiftKey ? "ball" : "spot");
		dot.setAttribute("cx", across);
		dot.setAttribute("cy", at.y);
		if (e.shiftKey) ball = across;
		else placed(placeOf(pitch, across, at.y - pitch.in_goal));
	});
}

const zones = ["their_22", "half_to_their_22", "own_22_to_half", "own_22"];

// drawPlace shows the zone and the side that are recorded.
export function drawPlace(pitch, { zone, side }) {
	const half = pitch.length / 2;
	const from = [0, pitch.from_goal_line, half, pitch.length - pitch.from_goal_line, pitch.length];
	const at = zones.indexOf(zone);
	const band = byId("band");
	const set = (x, y, width, height) => {
		for (const [name, v] of Object.entries({ x, y, width, height })) band.setAttribute(name, v);
	};
	if (at < 0) return set(0, 0, 0, 0);
	const middle = pitch.width / 2;
	set(side === "right" ? middle : 0, pitch.in_goal + from[at], side ? middle : pitch.width, from[at + 1] - from[at]);
}
