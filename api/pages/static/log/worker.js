// The service worker of the involvement log alone. The server writes before it what is kept: the shell, which names no
// one, and files that are the same for everybody. Nothing else is.

const cache = `throughline-log-${edition}`;

self.addEventListener("install", (event) => {
	event.waitUntil(caches.open(cache).then((c) => c.addAll(kept)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
	const old = (names) => names.filter((n) => n.startsWith("throughline-log-") && n !== cache);
	event.waitUntil(caches.keys().then((names) => Promise.all(old(names).map((n) => caches.delete(n))))
		.then(() => self.clients.claim()));
});

self.addEventListener("fetch", (event) => {
	const { request } = event;
	const { pathname } = new URL(request.url);
	if (request.method !== "GET") return;
	if (request.mode === "navigate" && /^\/log\/\d+\/\d+$/.test(pathname)) {
		event.respondWith(fetch(request).then((answer) => (answer.status >= 502 ? shell() : answer), shell));
	} else if (pathname.startsWith("/static/")) {
		event.respondWith(caches.match(pathname).then((found) => found ?? fetch(request)));
	}
});

const shell = () => caches.match(kept[0]);
