// Small things every page shares: the form token on requests, and news of background work.

const token = () => document.querySelector('meta[name="form-token"]')?.content ?? "";

// Says something to the keeper, and to a screen reader.
export function say(text, kind = "said") {
  const place = document.getElementById("said");
  if (!place) return;
  const line = document.createElement("p");
  line.className = kind;
  line.textContent = text;
  place.replaceChildren(line);
}

// A UUID without crypto.randomUUID, which plain HTTP on a home network does not have.
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
}

// While work runs in the background one stream tells how far it is. Parts that only show are
// renewed as tanks are done; where something may be half typed, the page offers to be renewed.
function follow(place) {
  const news = new EventSource(place.dataset.follow);
  const text = place.querySelector("[data-progress-text]");
  const bar = place.querySelector("progress");
  const part = place.dataset.renew;
  let open = Infinity;
  const renew = () => part && htmx.ajax("GET", location.href, { target: part, select: part, swap: "outerHTML" });
  news.onmessage = (event) => {
    const at = JSON.parse(event.data);
    text.textContent = at.message;
    bar.value = at.progress;
    if (at.open < open && open !== Infinity) renew();
    open = at.open;
  };
  news.addEventListener("done", () => {
    news.close();
    renew();
    place.hidden = Boolean(part);
    if (!part) {
      bar.remove();
      text.innerHTML = 'The new answers are there. <a href="">Show them</a>';
    }
  });
  addEventListener("pagehide", () => news.close(), { once: true });
}

// Calls a function once for each element that matches, now and after every renewal of the page.
export function each(selector, wakeUp) {
  const awake = new WeakSet();
  const look = () => {
    for (const found of document.querySelectorAll(selector)) {
      if (!awake.has(found)) {
        awake.add(found);
        wakeUp(found);
      }
    }
  };
  document.addEventListener("htmx:after:swap", look);
  look();
}

each("[data-follow]", follow);
each("form[data-send-on-change]", (form) => form.addEventListener("change", () => form.requestSubmit()));
export { token };
