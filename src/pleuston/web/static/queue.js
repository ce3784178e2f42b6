// Entries on their way to the rack. Each batch is kept on this device until the server has
// said that it holds it; sending it twice adds nothing, as every entry carries its own id.

const ADDRESS = "/api/v1/entries", UNDO = "/log/undo";
const FIRST_WAIT = 2000, LONGEST_WAIT = 60000, PATIENCE = 15000;

let kept = null;
let wait = FIRST_WAIT, timer = 0, sending = null;
const listeners = new Set();

function opened() {
  kept ??= new Promise((done) => {
    const nothing = () => done(null);
    try {
      const asked = indexedDB.open("pleuston", 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore("waiting", { keyPath: "id" });
      asked.onsuccess = () => {
        asked.result.onclose = () => { kept = null; };
        done(asked.result);
      };
      asked.onerror = asked.onblocked = nothing;
    } catch {
      nothing();
    }
  });
  return kept;
}

const memory = new Map(); // where the browser keeps nothing, for as long as the page lives

async function store(way, change) {
  const base = await opened();
  if (!base) throw new Error("this browser keeps nothing");
  return new Promise((done, failed) => {
    const deal = base.transaction("waiting", way);
    const asked = change(deal.objectStore("waiting"));
    deal.oncomplete = () => done(asked.result);
    deal.onerror = deal.onabort = () => failed(deal.error);
  });
}

const put = (item) => store("readwrite", (s) => s.put(item)).then(() => memory.delete(item.id), () => memory.set(item.id, item));
const drop = (id) => {
  memory.delete(id);
  return store("readwrite", (s) => s.delete(id)).catch(() => {});
};

// All that waits on this device, oldest first.
export async function waiting() {
  const all = await store("readonly", (s) => s.getAll()).catch(() => []);
  return [...all.filter((item) => !memory.has(item.id)), ...memory.values()].sort((a, b) => a.noted - b.noted);
}

export const onChange = (call) => listeners.add(call);
const changed = async () => {
  const all = await waiting();
  for (const call of listeners) call(all);
};

// Takes entries back; those that never arrived need no undoing.
async function sendUndo(item) {
  const token = document.querySelector('meta[name="form-token"]')?.content ?? "";
  const body = new URLSearchParams({ token, entry_ids: item.undo.join(",") });
  try {
    const answer = await fetch(UNDO, { method: "POST", body, credentials: "same-origin", signal: AbortSignal.timeout(PATIENCE) });
    if (new URL(answer.url).pathname === "/sign-in") return { state: "sign in" };
    return { state: answer.ok || answer.status === 404 ? "saved" : "away" };
  } catch {
    return { state: "away" };
  }
}

// Sends one batch: "saved", "refused" with the reasons, "sign in", or "away".
async function send(item) {
  if (item.undo) return sendUndo(item);
  let answer;
  try {
    answer = await fetch(ADDRESS, {
      method: "POST",
      headers: { "Content-Type": "application/json", Accept: "application/json" },
      body: JSON.stringify({ entries: item.entries }),
      credentials: "same-origin",
      redirect: "manual",
      signal: AbortSignal.timeout(PATIENCE),
    });
  } catch {
    return { state: "away" };
  }
  if (answer.ok) return { state: "saved", body: await answer.json().catch(() => ({})), date: answer.headers.get("Date") };
  if (answer.status === 401 || answer.type === "opaqueredirect") return { state: "sign in" };
  if (answer.status >= 500 || answer.status === 429 || answer.status === 408) return { state: "away" };
  const told = await answer.json().catch(() => ({}));
  const reasons = told.problems?.length ? told.problems : [told.detail ?? `The rack refused it (${answer.status}).`];
  return { state: "refused", reasons: reasons.map(plain) };
}

// A reason without the place in the file that only an import has.
const plain = (reason) => reason.replace(/^entry:\d+:(\w+: )?/, "$1");

// Keeps a batch and sends it at once; gives what became of it.
export async function note(entries, said) {
  const item = { id: entries[0].id, entries, said, noted: Date.now(), reasons: null };
  await put(item);
  const answer = await send(item);
  await settle(item, answer);
  return { ...answer, item };
}

// Takes a batch back, now or when the server can be reached; gives what became of it.
export async function undo(entries, said) {
  const ids = entries.map((entry) => entry.id);
  await drop(ids[0]);
  const item = { id: `undo ${ids[0]}`, undo: ids, entries: [], said: `take back ${said}`, noted: Date.now(), reasons: null };
  await put(item);
  const answer = await sendUndo(item);
  await settle(item, answer);
  return answer.state;
}

async function settle(item, answer) {
  if (answer.state === "saved") {
    await drop(item.id);
    wait = FIRST_WAIT;
  } else {
    await put({ ...item, reasons: answer.reasons ?? null, sign_in: answer.state === "sign in" });
    if (answer.state === "away") later();
  }
  await changed();
}

function later() {
  clearTimeout(timer);
  timer = setTimeout(flush, wait);
  wait = Math.min(wait * 2, LONGEST_WAIT);
}

// Sends what waits, oldest first; stops when the server is away. One at a time.
export function flush() {
  sending ??= (async () => {
    try {
      for (const item of await waiting()) {
        if (item.reasons) continue;
        const answer = await send(item);
        const held = (await waiting()).some((other) => other.id === item.id);
        if (!held) continue;
        await settle(item, answer);
        if (answer.state === "away" || answer.state === "sign in") break;
      }
    } finally {
      sending = null;
    }
  })();
  return sending;
}

// Puts a mended batch in place of a refused one and sends it.
export async function mend(item, entries) {
  await drop(item.id);
  return note(entries, item.said);
}

export async function discard(id) {
  await drop(id);
  await changed();
}

addEventListener("online", () => { wait = FIRST_WAIT; flush(); });
document.addEventListener("visibilitychange", () => { if (!document.hidden) flush(); });
changed().then(flush);
