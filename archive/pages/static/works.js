// The list of works changes while one chooses, and so does its address. Without this module the button asks for it.

const form = document.getElementById("sought");
const told = document.getElementById("told");
const LIVE = ["told", "works", "turning"];
const WAIT = 140;
let timer;
let asked = 0;
let leaving = false;

function address() {
  const query = new URLSearchParams();
  for (const [name, value] of new FormData(form)) {
    const idle = value === "" || (name.endsWith("_from") && value === "0") || (name.endsWith("_to") && value === "100");
    if (!idle && !(name === "sort" && value === (form.q.value.trim() ? "fit" : "painter"))) query.set(name, value);
  }
  const text = query.toString();
  return form.action + (text ? `?${text}` : "");
}

function say() {
  for (const input of form.querySelectorAll("input[type=range]")) {
    input.nextElementSibling.textContent = `${input.value} %`;
  }
}

function lay(page, restore) {
  for (const id of LIVE) document.getElementById(id).innerHTML = page.getElementById(id).innerHTML;
  for (const graph of form.querySelectorAll(".graph")) {
    const share = graph.dataset.share;
    const [here, there] = [document, page].map((source) => source.getElementById(`graph-${share}`));
    here.innerHTML = there.innerHTML;
    here.setAttribute("aria-label", there.getAttribute("aria-label"));
    document.getElementById(`said-${share}`).textContent = page.getElementById(`said-${share}`).textContent;
  }
  for (const select of form.querySelectorAll("select")) {
    const value = select.value;
    select.innerHTML = page.getElementById(select.id).innerHTML;
    if (!restore && [...select.options].some((option) => option.value === value)) select.value = value;
  }
  if (restore) {
    for (const input of page.querySelectorAll("#sought input")) form.elements[input.name].value = input.value;
    say();
  }
  document.dispatchEvent(new Event("leaves"));
}

async function turn(url, restore = false) {
  const mine = ++asked;
  told.setAttribute("aria-busy", "true");
  try {
    const answer = await fetch(url);
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (!answer.ok || !page.getElementById("told")) throw new Error(answer.statusText);
    if (mine === asked) lay(page, restore);
  } catch {
    // The page itself says what is the matter. A request that ends because one goes elsewhere holds nobody back.
    if (mine === asked && !leaving) location.assign(url);
  } finally {
    if (mine === asked) told.removeAttribute("aria-busy");
  }
}

function look(event) {
  clearTimeout(timer);
  timer = setTimeout(() => {
    const url = address();
    if (url === location.href) return;
    history[event.type === "change" ? "pushState" : "replaceState"](null, "", url);
    turn(url);
  }, WAIT);
}

form.addEventListener("input", (event) => {
  const bound = event.target;
  if (bound.type === "range") {
    const [from, to] = bound.closest(".graph").querySelectorAll("input");
    if (Number(from.value) > Number(to.value)) (bound === from ? to : from).value = bound.value;
    say();
  }
  if (bound.type !== "search") look(event);
});
form.addEventListener("change", look);
form.addEventListener("submit", (event) => {
  event.preventDefault();
  look({ type: "change" });
});
window.addEventListener("beforeunload", () => {
  leaving = true;
});
window.addEventListener("pageshow", () => {
  leaving = false;
});
window.addEventListener("popstate", () => turn(location.href, true));
