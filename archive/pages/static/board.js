// The board page: leaves are reordered by dragging their number, or with the arrow keys on it. Without this module the
// buttons Earlier and Later do the same.

const list = document.querySelector("[data-order]");

if (list) {
  const status = document.querySelector("[data-status]");
  const words = (template, values) => template.replace(/%\((\w+)\)s/g, (_, name) => values[name]);
  const entries = () => [...list.children];
  const order = () => entries().map((entry) => entry.dataset.leaf);
  let version = list.dataset.version;
  let kept = order().join();
  let waiting = 0;
  let sending = Promise.resolve();

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
    waiting = setTimeout(() => {
      sending = sending.then(send);
    }, pause);
  }

  async function send() {
    const wanted = order().join();
    if (wanted === kept) return;
    try {
      const body = new URLSearchParams({ do: "order", version, order: wanted });
      const answer = await fetch(list.dataset.order, { method: "POST", body });
      const said = await answer.json();
      if (!said.ok) throw new Error(said.error);
      kept = wanted;
      version = String(said.board.version);
      for (const field of document.querySelectorAll("input[name=version]")) field.value = version;
      status.textContent = list.dataset.kept;
    } catch (error) {
      status.classList.remove("unseen");
      status.classList.add("note");
      status.textContent = error instanceof TypeError ? list.dataset.failed : error.message;
    }
  }

  function place(entry, at) {
    const others = entries().filter((other) => other !== entry);
    list.insertBefore(entry, others[at] ?? null);
    count();
    status.textContent = words(list.dataset.moved, { place: entries().indexOf(entry) + 1, count: entries().length });
  }

  list.addEventListener("keydown", (event) => {
    const handle = event.target.closest("[data-number]");
    const steps = { ArrowUp: -1, ArrowDown: 1, Home: -Infinity, End: Infinity };
    if (!handle || !(event.key in steps)) return;
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
    if (!handle || event.button !== 0) return;
    const entry = handle.closest(".entry");
    // The list holds the pointer: an element that is moved in the page would lose it.
    list.setPointerCapture(event.pointerId);
    let started = false;

    const move = (moved) => {
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
    const end = () => {
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
