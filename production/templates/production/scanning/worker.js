// Answers for the site where it cannot be reached: keeps the files and the page below on the device,
// and nothing that names anybody.
const KEPT = "muster-{{ mark }}";
const PAGE = "{% url 'production:scan_offline' %}";
const FILES = [{% for file in files %}
  "{{ file|escapejs }}",{% endfor %}
];
const TAGS = /^\/(j\/[^/]+|scan)\/$/;

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const store = await caches.open(KEPT);
    await store.addAll(FILES);
    // Without the cookies: it is the page of nobody.
    await store.put(PAGE, await fetch(PAGE, { credentials: "omit" }));
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith("muster-") && name !== KEPT) await caches.delete(name);
    }
    await self.clients.claim();
  })());
});

async function orKept(request, name) {
  try {
    return await fetch(request);
  } catch (error) {
    const kept = await (await caches.open(KEPT)).match(name);
    if (kept) return kept;
    throw error;
  }
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  if (request.mode === "navigate" && TAGS.test(address.pathname)) event.respondWith(orKept(request, PAGE));
  else if (FILES.includes(address.pathname)) event.respondWith(orKept(request, address.pathname));
});
