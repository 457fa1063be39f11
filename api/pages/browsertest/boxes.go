package browsertest

// CutOrCovered returns the texts of the main part of a page that lie over each other, that a box cuts off, or that
// leave the page; at most five of them. It looks at lines of text as they are drawn. In print nothing scrolls: there a
// box that would be scrolled cuts.
func (b *Browser) CutOrCovered(print bool) string {
	b.t.Helper()
	cuts := `["hidden", "clip"]`
	if print {
		cuts = `["hidden", "clip", "auto", "scroll"]`
	}
	return Eval[string](b, `(`+cutOrCovered+`)(`+cuts+`)`)
}

const cutOrCovered = `cuts => {
	const boxes = [], bad = [], main = document.querySelector("main"), wide = document.documentElement.clientWidth
	const clipped = new Map() // of each element, the nearest box about it that cuts
	const clipper = e => {
		if (!e || e === document.body) return null
		if (!clipped.has(e)) clipped.set(e, cuts.includes(getComputedStyle(e).overflowX) ? e : clipper(e.parentElement))
		return clipped.get(e)
	}
	const scrolls = e => e && e !== document.body &&
		(["auto", "scroll"].includes(getComputedStyle(e).overflowX) || scrolls(e.parentElement))
	const walker = document.createTreeWalker(main, NodeFilter.SHOW_TEXT)
	while (walker.nextNode()) {
		const node = walker.currentNode, text = node.data.trim().slice(0, 30)
		if (!text || !node.parentElement.checkVisibility() || node.parentElement.closest("svg")) continue
		const range = document.createRange()
		range.selectNodeContents(node)
		const rects = [...range.getClientRects()].filter(r => r.width > 1 && r.height > 1)
		const by = clipper(node.parentElement)
		if (by && getComputedStyle(by).clipPath !== "none") continue // for those who hear the page
		const edge = by && by.getBoundingClientRect()
		for (const r of rects) {
			boxes.push({r, text})
			if (edge && (r.right > edge.right + 1 || r.left < edge.left - 1 || r.bottom > edge.bottom + 3))
				bad.push("cut: " + text)
			else if (!edge && (r.right > wide + 1 || r.left < -1) && !scrolls(node.parentElement))
				bad.push("off the page: " + text)
		}
	}
	boxes.sort((a, b) => a.r.top - b.r.top)
	for (let i = 0; i < boxes.length; i++) for (let j = i + 1; j < boxes.length; j++) {
		const a = boxes[i].r, b = boxes[j].r, slack = 6
		if (b.top > a.bottom - slack) break
		if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > 2 &&
			Math.min(a.bottom, b.bottom) - b.top > slack) bad.push(boxes[i].text + " / " + boxes[j].text)
	}
	return [...new Set(bad)].slice(0, 5).join("; ")
}`
