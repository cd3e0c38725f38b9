// The board page: leaves are reordered by dragging their number, or with the arrow keys on it. Without this module the
// buttons Earlier and Later do the same.

const list = document.querySelector("[data-order]");

// Works that have come here from the lists are ticked there no longer.
try {
  if (sessionStorage.getItem("putting") && location.hash.startsWith("#leaf-")) sessionStorage.removeItem("ticked");
  sessionStorage.removeItem("putting");
} catch {
  // Where nothing may be stored, no ticks are.
}

if (list) {
  const status = document.querySelector("[data-status]");
  const words = (template, values) => template.replace(/%\((\w+)\)s/g, (_, name) => values[name]);
  const entries = () => [...list.children];
  const order = () => entries().map((entry) => entry.dataset.leaf);
  let version = list.dataset.version;
  let kept = order().join();
  let waiting = 0;
  let sending = Promise.resolve();
  let underway = "";
  let clashed = false;
  let held = null;
  const pending = () => !clashed && order().join() !== kept;

  document.querySelector("[data-hint]").hidden = false;
  for (const entry of entries()) {
    const number = entry.querySelector("[data-number]");
    const handle = document.createElement("button");
    handle.type = "button";
    handle.className = number.className;
    handle.dataset.number = "";
    handle.textContent = number.textContent;
    number.replaceWith(handle);
  }
  count();

  function count() {
    const all = entries();
    for (const [at, entry] of all.entries()) {
      const handle = entry.querySelector("[data-number]");
      const title = entry.querySelector(".called")?.textContent ?? "";
      handle.textContent = at + 1;
      handle.setAttribute("aria-label", words(list.dataset.handle, { number: at + 1, title }));
      const [earlier, later] = entry.querySelectorAll("button[name=place]");
      earlier.value = at - 1;
      earlier.disabled = at === 0;
      later.value = at + 1;
      later.disabled = at === all.length - 1;
    }
  }

  // Keys come in bursts: the order is sent when they pause, one request after another.
  function keep(pause) {
    clearTimeout(waiting);
    waiting = setTimeout(queue, pause);
  }

  function queue() {
    clearTimeout(waiting);
    sending = sending.then(send);
    return sending;
  }

  async function send() {
    if (!pending()) return;
    const wanted = order().join();
    underway = wanted;
    try {
      const body = new URLSearchParams({ do: "order", version, order: wanted });
      const answer = await fetch(list.dataset.order, { method: "POST", body, keepalive: true });
      const said = await answer.json();
      if (said.kept_url) return clash(said);
      if (!said.ok) throw new Error(said.error);
      kept = wanted;
      // The forms keep the version that their words are from: others may have written since.
      version = String(said.board.version);
      status.textContent = list.dataset.kept;
    } catch (error) {
      warn(error instanceof TypeError ? list.dataset.failed : error.message);
    } finally {
      underway = "";
    }
  }

  function warn(...said) {
    status.classList.remove("unseen");
    status.classList.add("note");
    status.replaceChildren(...said);
  }

  // The leaves lie here as somebody else has put them. What this page would send from now on would be one more board each
  // time: it has to be loaded again first.
  function clash({ error, board, kept: other, kept_url: url }) {
    clashed = true;
    for (const { leaf } of board.leaves) {
      const entry = entries().find((each) => each.dataset.leaf === leaf);
      if (entry) list.append(entry);
    }
    count();
    const link = (text, href) => Object.assign(document.createElement("a"), { href, textContent: text });
    const lost = list.contains(document.activeElement) || document.activeElement === document.body;
    for (const handle of list.querySelectorAll("[data-number]")) handle.disabled = true;
    warn(error, " ", link(other.title, url), " · ", link(board.title, location.pathname));
    if (lost) status.querySelector("a").focus();
  }

  // What waits is sent before the page is left. A form waits for it, since it is about the order that one sees.
  addEventListener("pagehide", () => {
    clearTimeout(waiting);
    if (pending() && underway !== order().join()) send();
  });
  document.addEventListener("click", (event) => {
    if (event.target.closest("a[href]") && pending()) queue();
  });
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (form === held || !pending()) return;
    event.preventDefault();
    if (held) return;
    held = form;
    await queue();
    if (!clashed) form.requestSubmit(event.submitter);
    held = null;
  });

  function place(entry, at) {
    const others = entries().filter((other) => other !== entry);
    list.insertBefore(entry, others[at] ?? null);
    count();
    status.textContent = words(list.dataset.moved, { place: entries().indexOf(entry) + 1, count: entries().length });
  }

  list.addEventListener("keydown", (event) => {
    const handle = event.target.closest("[data-number]");
    const steps = { ArrowUp: -1, ArrowDown: 1, Home: -Infinity, End: Infinity };
    if (!handle || clashed || !(event.key in steps)) return;
    event.preventDefault();
    const entry = handle.closest(".entry");
    const last = entries().length - 1;
    const at = Math.max(0, Math.min(last, entries().indexOf(entry) + steps[event.key]));
    if (at === entries().indexOf(entry)) return;
    place(entry, at);
    handle.focus();
    entry.scrollIntoView({ block: "nearest" });
    keep(500);
  });

  list.addEventListener("pointerdown", (event) => {
    const handle = event.target.closest("[data-number]");
    if (!handle || clashed || event.button !== 0) return;
    const entry = handle.closest(".entry");
    // The list holds the pointer: an element that is moved in the page would lose it.
    list.setPointerCapture(event.pointerId);
    let started = false;

    const move = (moved) => {
      if (moved.pointerId !== event.pointerId || clashed) return;
      if (!started && Math.abs(moved.clientY - event.clientY) < 6) return;
      started = true;
      entry.dataset.held = "";
      const others = entries().filter((other) => other !== entry);
      const at = others.filter((other) => {
        const box = other.getBoundingClientRect();
        return moved.clientY > box.top + box.height / 2;
      }).length;
      if (at !== entries().indexOf(entry)) place(entry, at);
      if (moved.clientY < 60) scrollBy(0, -20);
      if (moved.clientY > innerHeight - 60) scrollBy(0, 20);
    };
    const end = (ended) => {
      if (ended.pointerId !== event.pointerId) return;
      delete entry.dataset.held;
      list.removeEventListener("pointermove", move);
      list.removeEventListener("pointerup", end);
      list.removeEventListener("pointercancel", end);
      if (started) keep(0);
    };
    list.addEventListener("pointermove", move);
    list.addEventListener("pointerup", end);
    list.addEventListener("pointercancel", end);
  });
}
