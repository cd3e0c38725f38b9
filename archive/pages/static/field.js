// The field, drawn from small marks of all works; what is near enough is drawn from its value map. The list below, which is
// all there is without this module, follows the window, and so does the address.

const ground = document.querySelector(".ground");
const canvas = ground.querySelector("canvas");
const pointed = ground.querySelector("[data-pointed]");
const context = canvas.getContext("2d", { alpha: false });
const { across, greys, marks: marksUrl, path } = ground.dataset;
const ACROSS = Number(across);
const CLOSEST = 1 / 32;
const SIDE = 8;
const FULL = 22; // px from which a work is drawn from its value map
const SETTLED = 250;
const shades = greys.split(",").map((grey) => (255 << 24) | (grey << 16) | (grey << 8) | grey);
const view = { x: 0.5, y: 0.5, side: 1 };
let works = null;
let near = [];
let timer;
let waiting = false;
let leaving = false;

function unpack(bytes) {
  const count = bytes.byteLength / (5 + (SIDE * SIDE) / 4);
  const cells = new Uint8Array(count * SIDE * SIDE);
  const packed = new Uint8Array(bytes, 5 * count);
  for (let at = 0; at < packed.length; at += 1) {
    for (let cell = 0; cell < 4; cell += 1) cells[4 * at + cell] = (packed[at] >> (6 - 2 * cell)) & 3;
  }
  const shapes = new Uint8Array(bytes, 4 * count, count);
  return {
    count,
    x: Float32Array.from(new Uint16Array(bytes, 0, count), (value) => value / 65535),
    y: Float32Array.from(new Uint16Array(bytes, 2 * count, count), (value) => value / 65535),
    aspect: Float32Array.from(shapes, (shape) => 2 ** ((shape - 128) / 24)),
    cells,
  };
}

// Px for one side of the map, and where its corner lies on the canvas.
function frame() {
  const scale = Math.min(canvas.width, canvas.height) / view.side;
  return { scale, left: canvas.width / 2 - view.x * scale, top: canvas.height / 2 - view.y * scale };
}

function reach() {
  return Math.max(4, Math.min(110, (0.85 * frame().scale) / Math.sqrt(works.count)));
}

function inside(longest, aspect) {
  return aspect > 1 ? [longest, longest / aspect] : [longest * aspect, longest];
}

function groundShade() {
  const [red] = getComputedStyle(document.documentElement).backgroundColor.match(/\d+/g);
  return (255 << 24) | (red << 16) | (red << 8) | red;
}

function draw() {
  waiting = false;
  const { width, height } = canvas;
  if (!width || !height) return;
  const { scale, left, top } = frame();
  const picture = context.createImageData(width, height);
  const pixels = new Uint32Array(picture.data.buffer);
  pixels.fill(groundShade());
  if (works) {
    const longest = reach();
    for (let work = 0; work < works.count; work += 1) {
      const x = left + works.x[work] * scale;
      const y = top + works.y[work] * scale;
      if (x < -longest || y < -longest || x > width + longest || y > height + longest) continue;
      const [wide, tall] = inside(longest, works.aspect[work]);
      const [x0, y0] = [Math.round(x - wide / 2), Math.round(y - tall / 2)];
      const [w, h] = [Math.max(2, Math.round(wide)), Math.max(2, Math.round(tall))];
      const from = work * SIDE * SIDE;
      for (let v = Math.max(0, -y0); v < h && y0 + v < height; v += 1) {
        const row = from + SIDE * Math.floor((v * SIDE) / h);
        const line = (y0 + v) * width + x0;
        for (let u = Math.max(0, -x0); u < w && x0 + u < width; u += 1) {
          pixels[line + u] = shades[works.cells[row + Math.floor((u * SIDE) / w)]];
        }
      }
    }
    context.putImageData(picture, 0, 0);
    if (longest >= FULL) {
      for (const { x, y, image } of near) {
        if (!image.complete || !image.naturalWidth) continue;
        const [wide, tall] = inside(longest, image.naturalWidth / image.naturalHeight);
        context.drawImage(image, left + x * scale - wide / 2, top + y * scale - tall / 2, wide, tall);
      }
    }
  } else {
    context.putImageData(picture, 0, 0);
  }
}

function redraw() {
  if (waiting) return;
  waiting = true;
  requestAnimationFrame(draw);
}

function worksOf(page) {
  return [...page.querySelectorAll("#window a[data-x]")].map((link) => {
    let image = link.querySelector("img");
    if (page !== document) {
      const { src } = image;
      image = new Image();
      image.src = src;
    }
    if (!image.complete) image.addEventListener("load", redraw, { once: true });
    return { x: Number(link.dataset.x), y: Number(link.dataset.y), image, link };
  });
}

function address(x = view.x, y = view.y) {
  if (view.side === 1) return path;
  const round = (value) => Number(Math.min(1, Math.max(0, value)).toFixed(4));
  return `${path}?${new URLSearchParams({ x: round(x), y: round(y), side: round(view.side) })}`;
}

async function ask(url) {
  const answer = await fetch(url);
  if (!answer.ok) throw new Error(answer.statusText);
  return new DOMParser().parseFromString(await answer.text(), "text/html");
}

// The works of the list, and of the windows at its sides where the canvas shows more than a square.
async function gather() {
  near = worksOf(document);
  redraw();
  const url = address();
  if (!works || reach() < FULL) return;
  const ratio = canvas.width / canvas.height;
  const step = view.side;
  const sides = ratio > 1.1 ? [[-step, 0], [step, 0]] : ratio < 0.9 ? [[0, -step], [0, step]] : [];
  for (const [x, y] of sides) {
    const beside = address(view.x + x, view.y + y);
    if (beside === url) continue;
    // Without it its works are drawn from their marks.
    const page = await ask(beside).catch(() => null);
    if (!page) return;
    const more = worksOf(page);
    if (url !== address()) return;
    const known = new Set(near.map((work) => work.link.href));
    near.push(...more.filter((work) => !known.has(work.link.href)));
    redraw();
  }
}

async function follow() {
  const url = address();
  if (new URL(url, location.href).href !== location.href) history.replaceState(null, "", url);
  const page = await ask(url).catch(() => null);
  if (url !== address()) return;
  if (!page?.getElementById("window")) {
    // The page itself says what is the matter. A request that ends because one goes elsewhere holds nobody back.
    if (!leaving) location.assign(url);
    return;
  }
  for (const id of ["window", "said"]) document.getElementById(id).innerHTML = page.getElementById(id).innerHTML;
  gather();
}

function go(x, y, side) {
  view.side = Math.min(1, Math.max(CLOSEST, side));
  const half = view.side / 2;
  view.x = Math.min(1 - half, Math.max(half, x));
  view.y = Math.min(1 - half, Math.max(half, y));
  redraw();
  clearTimeout(timer);
  timer = setTimeout(follow, SETTLED);
}

// Closer or further about a place of the canvas, which stays under the finger.
function zoom(factor, px = canvas.width / 2, py = canvas.height / 2) {
  const { scale, left, top } = frame();
  const [x, y] = [(px - left) / scale, (py - top) / scale];
  const side = Math.min(1, Math.max(CLOSEST, view.side / factor));
  go(x + ((view.x - x) * side) / view.side, y + ((view.y - y) * side) / view.side, side);
}

function at(event) {
  const seen = canvas.getBoundingClientRect();
  return [
    ((event.clientX - seen.left) * canvas.width) / seen.width,
    ((event.clientY - seen.top) * canvas.height) / seen.height,
  ];
}

// The work drawn in full under a place of the canvas, if there is one.
function under(px, py) {
  if (!works || reach() < FULL) return null;
  const { scale, left, top } = frame();
  const half = reach() / 2;
  const away = ({ x, y }) => Math.max(Math.abs(left + x * scale - px), Math.abs(top + y * scale - py));
  return near.filter((work) => away(work) <= half).sort((one, other) => away(one) - away(other))[0] ?? null;
}

function open(px, py) {
  const found = under(px, py);
  if (found) location.href = found.link.href;
  else zoom(2, px, py);
}

const fingers = new Map();
let moved = 0;
canvas.addEventListener("pointerdown", (event) => {
  canvas.setPointerCapture(event.pointerId);
  if (!fingers.size) moved = 0;
  fingers.set(event.pointerId, at(event));
});
canvas.addEventListener("pointermove", (event) => {
  const here = at(event);
  const before = fingers.get(event.pointerId);
  if (!before) {
    const found = under(...here);
    pointed.textContent = found ? found.link.title : "";
    canvas.style.cursor = found ? "pointer" : "";
    return;
  }
  const other = [...fingers].find(([id]) => id !== event.pointerId)?.[1];
  const { scale } = frame();
  if (other) {
    const [far, near_] = [here, before].map((place) => Math.hypot(place[0] - other[0], place[1] - other[1]));
    zoom(far / Math.max(near_, 1), other[0], other[1]);
  } else {
    go(view.x - (here[0] - before[0]) / scale, view.y - (here[1] - before[1]) / scale, view.side);
  }
  moved += Math.hypot(here[0] - before[0], here[1] - before[1]);
  fingers.set(event.pointerId, here);
});
for (const end of ["pointerup", "pointercancel"]) {
  canvas.addEventListener(end, (event) => {
    const alone = fingers.size === 1 && fingers.delete(event.pointerId);
    fingers.delete(event.pointerId);
    if (alone && end === "pointerup" && moved < 6) open(...at(event));
  });
}
canvas.addEventListener(
  "wheel",
  (event) => {
    // A page that is scrolled past goes on scrolling; pinching, or a wheel over the field that is held, comes closer.
    if (!event.ctrlKey && document.activeElement !== canvas) return;
    event.preventDefault();
    zoom(2 ** (-event.deltaY / 240), ...at(event));
  },
  { passive: false },
);
canvas.addEventListener("keydown", (event) => {
  const step = view.side / 6;
  const acts = {
    ArrowLeft: () => go(view.x - step, view.y, view.side),
    ArrowRight: () => go(view.x + step, view.y, view.side),
    ArrowUp: () => go(view.x, view.y - step, view.side),
    ArrowDown: () => go(view.x, view.y + step, view.side),
    "+": () => zoom(1.5),
    "=": () => zoom(1.5),
    "-": () => zoom(1 / 1.5),
    Home: () => go(0.5, 0.5, 1),
    Enter: () => open(canvas.width / 2, canvas.height / 2),
  };
  if (!acts[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  acts[event.key]();
});
const DO = { closer: () => zoom(2), back: () => zoom(0.5), whole: () => go(0.5, 0.5, 1) };
for (const button of ground.querySelectorAll("[data-do]")) button.addEventListener("click", DO[button.dataset.do]);
document.addEventListener("click", (event) => {
  if (event.target.closest(".surround")) redraw();
});

window.addEventListener("beforeunload", () => {
  leaving = true;
});
window.addEventListener("pageshow", () => {
  leaving = false;
});

function read() {
  const { x, y, side } = ground.dataset;
  [view.side, view.x, view.y] = [Number(side), Number(x) + side / 2, Number(y) + side / 2];
}

new ResizeObserver(() => {
  canvas.width = Math.round(canvas.clientWidth);
  canvas.height = Math.round(canvas.clientHeight);
  redraw();
}).observe(canvas);
read();
try {
  const answer = await fetch(marksUrl);
  if (!answer.ok) throw new Error(answer.statusText);
  works = unpack(await answer.arrayBuffer());
  gather();
} catch {
  // The list below has the same works.
  ground.remove();
}
