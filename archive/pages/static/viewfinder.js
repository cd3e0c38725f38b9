// The viewfinder: the window follows the sliders, the pointer and two fingers; when it rests, the crop is read by the
// server. Without this module the form reads it.

const form = document.querySelector("[data-finder]");
const picture = form.querySelector(".place img");
const lay = form.querySelector(".place .lay");
const veil = form.querySelector(".veil");
const rims = form.querySelectorAll(".window rect");
const framed = form.querySelector(".framed");
const map = form.querySelector("[data-map]");
const sentence = form.querySelector("[data-sentence]");
const shares = form.querySelector("[data-shares]");
const state = form.querySelector("[data-state]");
const onward = document.getElementById("onward");
const { across, down, size } = form.elements;
const SIDE = 480;
const REST = 300;

let waiting = 0;
let asked = 0;
const fingers = new Map();

form.querySelector("[data-plain]").hidden = true;
// A slow hand moves by less than the sliders' steps.
for (const field of [across, down, size]) field.step = "any";

function hole() {
  const chosen = form.querySelector("input[name=format]:checked");
  const aspect = Number(chosen.dataset.width) / Number(chosen.dataset.height);
  const [wide, tall] = [picture.naturalWidth, picture.naturalHeight];
  const share = Number(size.value) / 100;
  const width = Math.min(wide, tall * aspect) * share;
  const height = Math.min(tall, wide / aspect) * share;
  return {
    x: ((wide - width) * Number(across.value)) / 100,
    y: ((tall - height) * Number(down.value)) / 100,
    width,
    height,
  };
}

function lie() {
  const { x, y, width, height } = hole();
  const [wide, tall] = [picture.naturalWidth, picture.naturalHeight];
  veil.setAttribute("d", `M0 0H${wide}V${tall}H0Z M${x} ${y}h${width}v${height}h${-width}Z`);
  for (const rim of rims) {
    for (const [name, value] of Object.entries({ x, y, width, height })) rim.setAttribute(name, value);
  }
  clearTimeout(waiting);
  waiting = setTimeout(read, REST);
}

function cut() {
  const { x, y, width, height } = hole();
  const scale = Math.min(1, SIDE / Math.max(width, height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(16, Math.round(width * scale));
  canvas.height = Math.max(16, Math.round(height * scale));
  const context = canvas.getContext("2d");
  context.imageSmoothingQuality = "high";
  context.drawImage(picture, x, y, width, height, 0, 0, canvas.width, canvas.height);
  return canvas;
}

async function read() {
  const mine = (asked += 1);
  framed.setAttribute("aria-busy", "true");
  state.textContent = form.dataset.looking;
  try {
    const canvas = cut();
    const sent = new FormData();
    sent.set("study", await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.9)), "crop.jpg");
    sent.set("as_is", "1");
    const answer = await (await fetch(form.dataset.reading, { method: "POST", body: sent })).json();
    if (mine !== asked) return;
    if (!answer.ok) throw new Error(answer.error);
    map.src = answer.map3;
    map.width = canvas.width;
    map.height = canvas.height;
    map.alt = answer.sentence;
    sentence.textContent = answer.sentence;
    shares.textContent = answer.shares;
    state.textContent = "";
  } catch {
    if (mine === asked) state.textContent = form.dataset.failed;
  }
  if (mine === asked) framed.removeAttribute("aria-busy");
}

function slide(right, below) {
  const { width, height } = hole();
  const frame = picture.getBoundingClientRect();
  const [wide, tall] = [picture.naturalWidth, picture.naturalHeight];
  const roomAcross = wide - width;
  const roomDown = tall - height;
  if (roomAcross > 0.5) across.value = Number(across.value) + (100 * right * (wide / frame.width)) / roomAcross;
  if (roomDown > 0.5) down.value = Number(down.value) + (100 * below * (tall / frame.height)) / roomDown;
}

const apart = () => {
  const [one, other] = [...fingers.values()];
  return Math.hypot(one.x - other.x, one.y - other.y);
};

lay.addEventListener("pointerdown", (event) => {
  if (event.button !== 0) return;
  event.preventDefault();
  lay.setPointerCapture(event.pointerId);
  fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
});
lay.addEventListener("pointermove", (event) => {
  const before = fingers.get(event.pointerId);
  if (!before) return;
  const wide = fingers.size === 2 ? apart() : 0;
  fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
  if (fingers.size === 2) size.value = Number(size.value) * (apart() / Math.max(1, wide));
  else slide(event.clientX - before.x, event.clientY - before.y);
  lie();
});
for (const kind of ["pointerup", "pointercancel"]) lay.addEventListener(kind, (event) => fingers.delete(event.pointerId));

form.addEventListener("input", (event) => {
  if (event.target.matches("[type=range], [name=format]")) lie();
});

document.addEventListener("submit", (event) => {
  if (!event.target.matches("[data-set]")) return;
  event.preventDefault();
  for (const field of [across, down, size]) field.value = event.target.elements[field.name].value;
  lie();
  lay.scrollIntoView({ block: "nearest" });
});

// What goes on is what the window frames at that moment, read or not.
onward.addEventListener("submit", () => {
  if (picture.naturalWidth) onward.elements.carried.value = cut().toDataURL("image/jpeg", 0.9).split(",")[1];
});

if (picture.complete) lie();
else picture.addEventListener("load", lie);
