// Ticks in lists of works are remembered while one turns the leaves of the book, until they are put onto a board.

const KEY = "ticked";
const form = document.getElementById("gather");
const gathered = document.querySelector("[data-gathered]");

const store = (key, value) => {
  try {
    sessionStorage.setItem(key, value);
  } catch {
    // A full or forbidden store only means that ticks are forgotten when the leaf is turned.
  }
};
const stored = () => {
  try {
    const values = JSON.parse(sessionStorage.getItem(KEY) ?? "[]");
    return Array.isArray(values) ? values : [];
  } catch {
    return [];
  }
};

// They are forgotten where they arrive, on the page of the board: a form that is refused costs nobody the ticks.
gathered?.addEventListener("submit", () => store("putting", "1"));

if (form) {
  const ticks = () => [...document.querySelectorAll('input[name=work][form="gather"]')];
  const ticked = new Set(stored());
  const said = form.querySelector("[data-ticked]");
  const none = form.querySelector("[data-none]");

  const mark = () => {
    for (const tick of ticks()) if (ticked.has(tick.value)) tick.checked = true;
  };
  mark();
  for (const tick of ticks()) if (tick.checked) ticked.add(tick.value);
  form.dataset.live = "";
  none.hidden = false;

  const show = () => {
    store(KEY, JSON.stringify([...ticked]));
    const here = new Set(ticks().map((tick) => tick.value));
    const others = [...ticked].filter((value) => !here.has(value));
    for (const carried of form.querySelectorAll("input")) carried.remove();
    for (const value of others) {
      const carried = document.createElement("input");
      carried.type = "hidden";
      carried.name = "work";
      carried.value = value;
      form.append(carried);
    }
    form.hidden = ticked.size === 0;
    const count = ticked.size === 1 ? form.dataset.one : form.dataset.many.replace("%(count)s", ticked.size);
    said.textContent = count + (others.length ? form.dataset.elsewhere.replace("%(count)s", others.length) : "");
  };

  document.addEventListener("change", (event) => {
    const tick = event.target;
    if (tick.name !== "work" || tick.getAttribute("form") !== "gather") return;
    if (tick.checked) ticked.add(tick.value);
    else ticked.delete(tick.value);
    show();
  });
  // A list that changes in place says so.
  document.addEventListener("leaves", () => {
    mark();
    show();
  });
  none.addEventListener("click", () => {
    ticked.clear();
    for (const tick of ticks()) tick.checked = false;
    show();
  });
  show();
}
