// Ticks in lists of works are remembered while one turns the leaves of the book, until they are put onto a board.

const KEY = "ticked";
const form = document.getElementById("gather");
const gathered = document.querySelector("[data-gathered]");

if (gathered) gathered.addEventListener("submit", () => sessionStorage.removeItem(KEY));

if (form) {
  const ticks = () => [...document.querySelectorAll('input[name=work][form="gather"]')];
  const ticked = new Set(JSON.parse(sessionStorage.getItem(KEY) ?? "[]"));
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
    sessionStorage.setItem(KEY, JSON.stringify([...ticked]));
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
