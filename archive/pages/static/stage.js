// The work page: painting, squint and value maps change in place, masses answer to pointing, works like it come later.
// Without this module each way, each mass and the works like it are links.

const stage = document.getElementById("stage");
const picture = stage.querySelector("img");
const overlay = stage.querySelector(".over");
const caption = stage.parentElement.querySelector("figcaption");
const choices = [...document.querySelectorAll(".ways [data-way]")];
const masses = [...document.querySelectorAll("[data-mass]")];
const MAP = choices.find((choice) => choice.dataset.way === "masses").dataset.src;
const VALUES = ["dark", "mid", "light"];
const VEIL = 200;
let shapes;

function look(way) {
  const chosen = choices.find((choice) => choice.dataset.way === way) ?? choices[0];
  picture.src = chosen.dataset.src;
  picture.alt = chosen.dataset.alt;
  caption.textContent = chosen.dataset.caption;
  overlay.hidden = chosen.dataset.way !== "masses";
  light(null);
  for (const choice of choices) {
    if (choice === chosen) choice.setAttribute("aria-current", "true");
    else choice.removeAttribute("aria-current");
  }
}

// Every connected shape of the map, with its value and its box, from the map's own pixels.
async function findShapes() {
  const map = new Image();
  map.src = MAP;
  await map.decode();
  const canvas = document.createElement("canvas");
  const [width, height] = [(canvas.width = map.naturalWidth), (canvas.height = map.naturalHeight)];
  const context = canvas.getContext("2d", { willReadFrequently: true });
  context.drawImage(map, 0, 0);
  const pixels = context.getImageData(0, 0, width, height).data;
  const greys = stage.dataset.greys.split(",").map(Number);
  const values = Uint8Array.from({ length: width * height }, (_, at) => {
    const away = greys.map((grey) => Math.abs(grey - pixels[4 * at]));
    return away.indexOf(Math.min(...away));
  });
  const labels = new Int32Array(width * height).fill(-1);
  const found = [];
  const open = new Int32Array(width * height);
  for (let seed = 0; seed < labels.length; seed += 1) {
    if (labels[seed] >= 0) continue;
    const shape = { value: VALUES[values[seed]], box: [width, height, 0, 0] };
    let count = 0;
    open[count++] = seed;
    labels[seed] = found.length;
    while (count) {
      const at = open[--count];
      const [x, y] = [at % width, Math.floor(at / width)];
      shape.box = [
        Math.min(shape.box[0], x),
        Math.min(shape.box[1], y),
        Math.max(shape.box[2], x + 1),
        Math.max(shape.box[3], y + 1),
      ];
      for (const [next, inside] of [
        [at - 1, x > 0],
        [at + 1, x < width - 1],
        [at - width, y > 0],
        [at + width, y < height - 1],
      ]) {
        if (inside && labels[next] < 0 && values[next] === values[seed]) {
          labels[next] = found.length;
          open[count++] = next;
        }
      }
    }
    shape.box = shape.box.map((edge, place) => edge / (place % 2 ? height : width));
    found.push(shape);
  }
  for (const shape of found) shape.mass = fellow(shape);
  return { width, height, labels, found };
}

// Null when the map could not be loaded: it is asked for again the next time.
function known() {
  shapes ??= findShapes().catch(() => (shapes = null));
  return shapes;
}

// The mass of the list that a shape is: of its value, with the nearest box.
function fellow(shape) {
  let best = null;
  let least = 0.12;
  for (const mass of masses) {
    if (mass.dataset.value !== shape.value) continue;
    const box = mass.dataset.shares.split(",").map(Number);
    const away = box.reduce((sum, edge, at) => sum + Math.abs(edge - shape.box[at]), 0);
    if (away < least) [best, least] = [mass, away];
  }
  return best;
}

async function light(mass) {
  stage.querySelector("canvas")?.remove();
  delete stage.dataset.pointed;
  for (const other of masses) {
    if (other === mass) other.setAttribute("aria-current", "true");
    else other.removeAttribute("aria-current");
  }
  document.querySelectorAll(".boxed").forEach((box, at) => box.classList.toggle("lit", masses[at] === mass));
  if (!mass) return;
  caption.textContent = mass.textContent;
  const map = await known();
  if (!map) return;
  const { width, height, labels, found } = map;
  const wanted = found.findIndex((shape) => shape.mass === mass);
  if (wanted < 0 || mass.getAttribute("aria-current") !== "true") return;
  const canvas = document.createElement("canvas");
  canvas.width = width;
  canvas.height = height;
  const context = canvas.getContext("2d");
  const veil = context.createImageData(width, height);
  const shade = mass.dataset.value === "dark" ? 255 : 0;
  for (let at = 0; at < labels.length; at += 1) {
    if (labels[at] === wanted) continue;
    veil.data.fill(shade, 4 * at, 4 * at + 3);
    veil.data[4 * at + 3] = VEIL;
  }
  context.putImageData(veil, 0, 0);
  stage.querySelector("canvas")?.remove();
  stage.append(canvas);
  stage.dataset.pointed = "";
}

async function pointAt(event) {
  const seen = picture.getBoundingClientRect();
  const x = (event.clientX - seen.left) / seen.width;
  const y = (event.clientY - seen.top) / seen.height;
  if (overlay.hidden || x < 0 || y < 0 || x >= 1 || y >= 1) return;
  const map = await known();
  if (!map) return;
  const { width, height, labels, found } = map;
  const mass = found[labels[Math.floor(y * height) * width + Math.floor(x * width)]].mass;
  if (mass && mass.getAttribute("aria-current") !== "true") light(mass);
}

stage.addEventListener("pointermove", (event) => event.pointerType === "mouse" && pointAt(event));
stage.addEventListener("click", pointAt);
stage.addEventListener("pointerleave", (event) => event.pointerType === "mouse" && !overlay.hidden && look("masses"));

document.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-way], a[data-mass]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button !== 0) return;
  event.preventDefault();
  history.pushState(null, "", link.href.split("#")[0]);
  look(link.dataset.way ?? "masses");
  if (link.dataset.mass) light(link);
  if (!link.closest(".ways")) stage.scrollIntoView({ block: "nearest" });
});
for (const mass of masses) {
  mass.addEventListener("pointerenter", () => !overlay.hidden && light(mass));
  mass.addEventListener("focus", () => !overlay.hidden && light(mass));
}

document.querySelector(".ways").addEventListener("keydown", (event) => {
  const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  const at = choices.indexOf(document.activeElement);
  if (!step || at < 0) return;
  event.preventDefault();
  const next = choices[(at + step + choices.length) % choices.length];
  next.focus();
  next.click();
});

function show() {
  const asked = new URLSearchParams(location.search);
  look(asked.get("as") ?? "painting");
  if (asked.get("mass")) light(masses[Number(asked.get("mass")) - 1] ?? null);
}
window.addEventListener("popstate", show);
if (new URLSearchParams(location.search).get("mass")) show();

const like = document.getElementById("like");
if (like.dataset.from) {
  try {
    const answer = await fetch(like.dataset.from.split("#")[0]);
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const found = answer.ok && page.getElementById("like");
    if (found) like.replaceWith(document.adoptNode(found));
    document.dispatchEvent(new Event("leaves"));
  } catch {
    // The link that stands there still leads to them.
  }
}
