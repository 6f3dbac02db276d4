// A browser that was only talked past a warning shows the page all the same, but starts no worker for it.
const show = (which) => document.querySelectorAll('[data-check]').forEach((p) => { p.hidden = p.dataset.check !== which; });
const ask = document.querySelector('[data-check="ask"]');
if (ask && 'serviceWorker' in navigator) {
  navigator.serviceWorker.register('/trust/worker.js', { scope: '/trust/' })
    .then((worker) => { show('yes'); return worker.unregister(); })
    .catch((e) => { if (e.name === 'SecurityError') show('no'); });
}
