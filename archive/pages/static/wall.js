// The wall: steps through the leaves of a board and their ways of showing. All pictures are in the page and are decoded
// before they are needed, so that the network may go once everything is loaded.

const WAYS = ["painting", "squint", "five", "three", "two"];
const room = document.querySelector(".room");
const rail = document.querySelector("[data-rail]");
const leaves = [...document.querySelectorAll(".plateau")];
const clock = document.querySelector("[data-clock]");
const keys = document.getElementById("keys");
const words = (template, values) => template.replace(/%\((\w+)\)s/g, (_, name) => values[name]);
const button = (what) => rail.querySelector(`[data-do="${what}"]`);

let at = Math.max(0, Math.min(leaves.length - 1, Number(location.hash.slice(1)) - 1 || 0));
let way = leaves[at]?.dataset.showing.split(" ")[0] ?? "painting";
// 0: the question alone; 1: the note with it, which may say too much before somebody asks for it; 2: no words.
let telling = 0;

document.documentElement.classList.add("live");
rail.hidden = false;
show();
load();

function show() {
  for (const [number, leaf] of leaves.entries()) leaf.toggleAttribute("data-here", number === at);
  for (const faces of leaves[at]?.querySelectorAll(".faces") ?? []) reveal([...faces.children]);
  for (const large of document.querySelectorAll(".large")) {
    const note = large.querySelector("[data-note]");
    large.hidden = telling === 2 || (telling === 0 && !large.querySelector(".question"));
    if (note) note.open = telling === 1;
    if (note) note.hidden = telling === 0;
  }
  for (const choice of rail.querySelectorAll("[data-way]")) {
    if (choice.dataset.way === way) choice.setAttribute("aria-current", "true");
    else choice.removeAttribute("aria-current");
  }
  rail.querySelector("[data-place]").textContent =
    leaves.length ? words(room.dataset.leaf, { number: at + 1, count: leaves.length }) : "";
  history.replaceState(null, "", `#${at + 1}`);
}

// A kept study has fewer ways than a work: then the one before stands for a way that is not there.
function reveal(faces) {
  const fitting = faces.filter((face) => WAYS.indexOf(face.dataset.way) <= WAYS.indexOf(way));
  const chosen = fitting.at(-1) ?? faces[0];
  for (const face of faces) face.hidden = face !== chosen;
}

function turn(step) {
  const next = Math.max(0, Math.min(leaves.length - 1, at + step));
  if (next === at) return;
  at = next;
  way = leaves[at].dataset.showing.split(" ")[0];
  show();
}

function look(wanted) {
  if (!wanted) return;
  way = wanted;
  show();
}

// As the board plans it: the ways of this leaf in their order, then the next leaf.
function onward() {
  const planned = leaves[at].dataset.showing.split(" ");
  const next = planned[planned.indexOf(way) + 1];
  if (planned.includes(way) && next) look(next);
  else turn(1);
}

async function load() {
  const pictures = [...document.images];
  const drawn = [...document.querySelectorAll("svg image")].map((image) => {
    const picture = new Image();
    picture.src = image.getAttribute("href");
    return picture;
  });
  const all = [...pictures, ...drawn];
  const said = rail.querySelector("[data-loaded]");
  let done = 0;
  let lacking = 0;
  await Promise.all(
    all.map(async (picture) => {
      await picture.decode().catch(() => (lacking += 1));
      done += 1;
      said.textContent = words(room.dataset.loading, { done, count: all.length });
    }),
  );
  said.textContent = lacking ? words(room.dataset.lacking, { count: lacking }) : room.dataset.ready;
  document.documentElement.dataset.loaded = lacking ? "partly" : "all";
}

// The timer of a timed study counts down to zero and then says that time is up.
let ends = 0;
let ticking = 0;

function timer() {
  const running = ticking !== 0;
  clearInterval(ticking);
  ticking = 0;
  button("timer").setAttribute("aria-pressed", String(!running));
  clock.hidden = running;
  if (running) return;
  ends = Date.now() + Number(rail.querySelector("[data-minutes]").value) * 60000;
  ticking = setInterval(tell, 250);
  tell();
}

function tell() {
  const left = Math.max(0, Math.ceil((ends - Date.now()) / 1000));
  clock.textContent = left ? `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")}` : room.dataset.over;
}

function screen() {
  if (document.fullscreenElement) document.exitFullscreen();
  else document.documentElement.requestFullscreen?.().catch(() => {});
}

const does = {
  before: () => turn(-1),
  after: () => turn(1),
  note: () => {
    telling = (telling + 1) % 3;
    button("note").textContent = JSON.parse(button("note").dataset.telling)[telling];
    show();
  },
  surround: () => {
    const root = document.documentElement.dataset;
    root.surround = { paper: "grey", grey: "dark", dark: "paper" }[root.surround];
  },
  timer,
  screen,
  keys: () => {
    keys.hidden = !keys.hidden;
    button("keys").setAttribute("aria-expanded", String(!keys.hidden));
  },
  rail: () => {
    rail.hidden = !rail.hidden;
  },
};

const KEYS = {
  ArrowRight: does.after, PageDown: does.after, ArrowLeft: does.before, PageUp: does.before,
  Home: () => turn(-Infinity), End: () => turn(Infinity),
  ArrowDown: () => look(WAYS[WAYS.indexOf(way) + 1]), ArrowUp: () => look(WAYS[WAYS.indexOf(way) - 1]),
  " ": onward, n: does.note, t: does.timer, g: does.surround, f: does.screen, k: does.keys, h: does.rail,
};
for (const choice of rail.querySelectorAll("[data-way]")) {
  KEYS[choice.getAttribute("aria-keyshortcuts").toLowerCase()] = () => look(choice.dataset.way);
}

addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("select")) return;
  if (event.key === "Escape" && !keys.hidden) return does.keys();
  const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  const pressed = event.target.closest("button, a") && (key === " " || key === "Enter");
  if (pressed || !(key in KEYS) || !leaves.length) return;
  event.preventDefault();
  KEYS[key]();
});

rail.addEventListener("click", (event) => {
  const pressed = event.target.closest("button");
  if (!pressed || !leaves.length) return;
  if (pressed.dataset.way) look(pressed.dataset.way);
  else does[pressed.dataset.do]();
  // Space then goes on through the board instead of pressing the same button again.
  if (event.detail) pressed.blur();
});
