// Follows changes of the board. The page works without it: then it shows what was so when it was loaded.
const status = document.getElementById('live');
const say = (text) => { if (status.textContent !== text) status.textContent = text; };

let waiting = false, again = false;

// Fetches what changes on the page, and keeps what is open and what has the focus.
async function refresh() {
  if (waiting) { again = true; return; }
  waiting = true;
  try {
    const answer = await fetch('/?part=board', { headers: { accept: 'text/html' }, signal: AbortSignal.timeout(10000) });
    if (answer.status === 401) return location.reload(); // signed out: what is on the screen goes too
    if (!answer.ok) throw new Error(answer.statusText);
    const fresh = new DOMParser().parseFromString(await answer.text(), 'text/html').getElementById('board');
    const old = document.getElementById('board');
    const open = [...old.querySelectorAll('details')].filter((d) => d.open).map((d) => key(d));
    for (const d of fresh.querySelectorAll('details')) d.open = open.includes(key(d));
    const focus = old.contains(document.activeElement) ? document.activeElement.getAttribute('href') : null;
    old.replaceWith(fresh);
    if (focus) fresh.querySelector(`a[href="${CSS.escape(focus)}"]`)?.focus({ preventScroll: true });
    say(`live: ${fresh.dataset.wrong}`);
  } catch {
    say('not live: trying again');
  } finally {
    waiting = false;
    if (again) { again = false; setTimeout(refresh, 500); }
  }
}

const key = (d) => (d.closest('.place')?.querySelector('h4')?.firstChild.textContent ?? d.className);

let pending = 0;
const soon = () => { if (!pending) pending = setTimeout(() => { pending = 0; refresh(); }, 250); };

const stream = new EventSource('/v1/live');
stream.addEventListener('board', soon);
stream.addEventListener('error', () => { say('not live: trying again'); if (stream.readyState === EventSource.CLOSED) setTimeout(soon, 5000); });
stream.addEventListener('signed-out', () => location.reload());
// Ages on the page grow without an event.
setInterval(soon, 60000);
