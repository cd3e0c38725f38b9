// The drawing pad. The sheet is an array of steps, one to a cell, as fine as the largest number of values has them;
// it is shown in the number chosen, so that fewer values take nothing away. Brush, ground and views work on it. All
// sentences come from the page.

const pad = document.querySelector("[data-pad]");
const setting = JSON.parse(pad.dataset.setting);
const words = setting.words;
const box = pad.querySelector(".sheetbox");
const canvas = box.querySelector("canvas");
const squinted = box.querySelector("[data-squinted]");
const brush = box.querySelector(".brush");
const status = pad.querySelector("[data-status]");
const hint = pad.querySelector("[data-hint]");
const swatches = pad.querySelector("[data-swatches]");
const form = pad.querySelector("[data-show]");
const mirror = pad.querySelector("[data-mirror]");
const squint = pad.querySelector("[data-squint]");
const undoes = pad.querySelector("[data-undo]");
const redoes = pad.querySelector("[data-redo]");
const STORE = "blotbook sheet";
const MOST_STEPS = 60;
const LIGHTEST = Math.max(...Object.keys(setting.values).map(Number)) - 1;

let width = 0;
let height = 0;
let values = 3;
let chosen = 1;
let step = "ground";
let sheet = new Uint8Array(0);
let past = [];
let future = [];
let at = { x: 0, y: 0 };
let down = false;
let drawing = null;
let asked = 0;

const context = canvas.getContext("2d", { willReadFrequently: true });
const one = (name) => pad.querySelector(`input[name=${name}]:checked`);
const all = (name) => [...pad.querySelectorAll(`input[name=${name}]`)];
const greys = () => setting.values[values];
const seen = (fine) => Math.round((fine * (values - 1)) / LIGHTEST);
const bare = () => sheet.every((value) => seen(value) === seen(sheet[0]));
const laid = () => Math.round((chosen * LIGHTEST) / (values - 1));
const fill = (sentence, parts) => sentence.replace(/\{(\w+)\}/g, (_, name) => parts[name] ?? "");
const say = (sentence, parts = {}) => {
  status.textContent = fill(sentence, parts);
};

// -- the sheet -------------------------------------------------------------------------------------------------

function size(format) {
  const [wide, tall] = format.split("x").map(Number);
  const scale = setting.side / Math.max(wide, tall);
  return [Math.round(wide * scale), Math.round(tall * scale)];
}

function cut(format) {
  const [wide, tall] = size(format);
  const fresh = new Uint8Array(wide * tall).fill(LIGHTEST);
  if (sheet.length) {
    for (let y = 0; y < tall; y += 1) {
      const row = Math.floor(((y + 0.5) * height) / tall) * width;
      for (let x = 0; x < wide; x += 1) fresh[y * wide + x] = sheet[row + Math.floor(((x + 0.5) * width) / wide)];
    }
  }
  at = width ? { x: (at.x * wide) / width, y: (at.y * tall) / height } : { x: wide / 2, y: tall / 2 };
  [width, height, sheet] = [wide, tall, fresh];
  canvas.width = wide;
  canvas.height = tall;
  brush.setAttribute("viewBox", `0 0 ${wide} ${tall}`);
  show();
}

function show(x0 = 0, y0 = 0, x1 = width, y1 = height) {
  const [left, top] = [Math.max(0, Math.floor(x0)), Math.max(0, Math.floor(y0))];
  const [wide, tall] = [Math.min(width, Math.ceil(x1)) - left, Math.min(height, Math.ceil(y1)) - top];
  if (wide <= 0 || tall <= 0) return;
  const codes = Array.from({ length: LIGHTEST + 1 }, (_, fine) => parseInt(greys()[seen(fine)].grey.slice(1, 3), 16));
  const pixels = context.createImageData(wide, tall);
  for (let y = 0, to = 0; y < tall; y += 1) {
    for (let x = 0, from = (top + y) * width + left; x < wide; x += 1, from += 1, to += 4) {
      const code = codes[sheet[from]];
      pixels.data[to] = code;
      pixels.data[to + 1] = code;
      pixels.data[to + 2] = code;
      pixels.data[to + 3] = 255;
    }
  }
  context.putImageData(pixels, left, top);
}

function remember() {
  past.push({ sheet: sheet.slice(), width, height, values });
  if (past.length > MOST_STEPS) past.shift();
  future = [];
  ways();
}

// A way back that leads nowhere is no button; whoever stood on it stands on the other one then.
function ways() {
  const here = document.activeElement;
  undoes.disabled = !past.length;
  redoes.disabled = !future.length;
  if ((here === undoes || here === redoes) && here.disabled) {
    [undoes, redoes, canvas].find((each) => !each.disabled).focus({ preventScroll: true });
  }
}

function settle() {
  keep();
  if (squint.checked) look();
}

// A stroke is one step, however it is drawn: the hand ends its own first, and a brush that is down by key is lifted.
function back(from, to, sentence, nothing) {
  if (drawing !== null) return;
  if (down) {
    set();
    mark();
  }
  const then = from.pop();
  if (!then) return say(nothing);
  to.push({ sheet: sheet.slice(), width, height, values });
  sheet = then.sheet;
  [width, height] = [then.width, then.height];
  if (values !== then.values) {
    values = then.values;
    all("values").find((field) => Number(field.value) === values).checked = true;
    offer(Math.min(chosen, values - 1));
    advise();
  }
  canvas.width = width;
  canvas.height = height;
  brush.setAttribute("viewBox", `0 0 ${width} ${height}`);
  all("format").forEach((field) => {
    const [wide, tall] = size(field.value);
    if (wide === width && tall === height) field.checked = true;
  });
  show();
  mark();
  ways();
  say(sentence);
  settle();
}

const undo = () => back(past, future, words.undone, words.nothing);
const redo = () => back(future, past, words.redone, words.nothing_back);

function lay() {
  remember();
  sheet.fill(laid());
  show();
  say(words.ground, { value: greys()[chosen].name });
  settle();
}

// -- the brush -------------------------------------------------------------------------------------------------

const radius = (pressure = 0.5) => (Number(one("brush").value) * setting.side * (0.5 + pressure)) / 2;

function dab(x, y, reach) {
  const [top, bottom] = [Math.max(0, Math.ceil(y - reach)), Math.min(height - 1, Math.floor(y + reach))];
  for (let row = top; row <= bottom; row += 1) {
    const half = Math.sqrt(Math.max(0, reach * reach - (row - y) * (row - y)));
    const from = Math.max(0, Math.ceil(x - half));
    const to = Math.min(width - 1, Math.floor(x + half));
    if (to >= from) sheet.fill(laid(), row * width + from, row * width + to + 1);
  }
}

function stroke(from, to, reach) {
  const far = Math.hypot(to.x - from.x, to.y - from.y);
  const steps = Math.max(1, Math.ceil(far / Math.max(1, reach / 3)));
  for (let number = 0; number <= steps; number += 1) {
    const share = number / steps;
    dab(from.x + (to.x - from.x) * share, from.y + (to.y - from.y) * share, reach);
  }
  show(Math.min(from.x, to.x) - reach, Math.min(from.y, to.y) - reach, Math.max(from.x, to.x) + reach + 1,
    Math.max(from.y, to.y) + reach + 1);
}

function mark() {
  for (const ring of brush.children) {
    ring.setAttribute("cx", mirror.checked ? width - at.x : at.x);
    ring.setAttribute("cy", at.y);
    ring.setAttribute("r", radius());
  }
  brush.classList.toggle("set", down);
}

function place(event) {
  const frame = canvas.getBoundingClientRect();
  const across = (event.clientX - frame.left) / frame.width;
  return {
    x: (mirror.checked ? 1 - across : across) * width,
    y: ((event.clientY - frame.top) / frame.height) * height,
  };
}

canvas.addEventListener("pointerdown", (event) => {
  if (event.button !== 0) return;
  event.preventDefault();
  canvas.focus({ preventScroll: true });
  canvas.setPointerCapture(event.pointerId);
  remember();
  if (status.textContent) say("");
  down = false;
  drawing = event.pointerId;
  squinted.hidden = true;
  at = place(event);
  stroke(at, at, radius(event.pointerType === "pen" ? event.pressure : 0.5));
  mark();
});
canvas.addEventListener("pointermove", (event) => {
  if (drawing !== event.pointerId) {
    if (!down && event.pointerType === "mouse") {
      at = place(event);
      mark();
    }
    return;
  }
  const along = event.getCoalescedEvents?.() ?? [];
  for (const each of along.length ? along : [event]) {
    const next = place(each);
    stroke(at, next, radius(each.pointerType === "pen" ? each.pressure : 0.5));
    at = next;
  }
  mark();
});
for (const kind of ["pointerup", "pointercancel"]) {
  canvas.addEventListener(kind, (event) => {
    if (drawing !== event.pointerId) return;
    drawing = null;
    settle();
  });
}

// -- the keyboard ----------------------------------------------------------------------------------------------

const MOVES = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

function tell() {
  say(down ? words.down : words.up, {
    value: greys()[chosen].name,
    brush: one("brush").dataset.name,
    x: Math.round((100 * (mirror.checked ? width - at.x : at.x)) / width),
    y: Math.round((100 * at.y) / height),
  });
}

function move(event, [across, along]) {
  const far = event.shiftKey ? 2 : Math.max(4, radius() * 0.7);
  const next = {
    x: Math.min(width, Math.max(0, at.x + across * far * (mirror.checked ? -1 : 1))),
    y: Math.min(height, Math.max(0, at.y + along * far)),
  };
  if (down) stroke(at, next, radius());
  at = next;
}

function set() {
  down = !down;
  if (down) {
    remember();
    squinted.hidden = true;
    stroke(at, at, radius());
  } else settle();
}

function another(step) {
  const fields = all("brush");
  const next = fields[fields.findIndex((field) => field.checked) + step];
  if (next) next.checked = true;
}

canvas.addEventListener("keydown", (event) => {
  const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  const held = event.ctrlKey || event.metaKey;
  if (event.altKey || (held && !"zy".includes(key))) return;
  if (MOVES[key]) move(event, MOVES[key]);
  else if (key === " " || key === "Enter") set();
  else if (key >= "1" && key <= String(values) && key.length === 1) offer(Number(key) - 1);
  else if (key === "[" || key === "]") another(key === "[" ? -1 : 1);
  else if (key === "g") return event.preventDefault(), lay();
  else if (key === "z") return event.preventDefault(), event.shiftKey ? redo() : undo();
  else if (key === "y") return event.preventDefault(), redo();
  else if (key === "m") mirror.click();
  else if (key === "s") return event.preventDefault(), squint.click();
  else return;
  event.preventDefault();
  mark();
  tell();
});
canvas.addEventListener("blur", () => {
  if (!down) return;
  set();
  mark();
});

// -- tools -----------------------------------------------------------------------------------------------------

function offer(value) {
  chosen = value;
  const made = greys().map((each, number) => {
    const label = document.createElement("label");
    const field = Object.assign(document.createElement("input"), { type: "radio", name: "value", value: number });
    field.checked = number === chosen;
    const patch = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    const tone = document.createElementNS("http://www.w3.org/2000/svg", "rect");
    for (const [name, text] of Object.entries({ width: "100%", height: "100%", fill: each.grey })) tone.setAttribute(name, text);
    patch.setAttribute("aria-hidden", "true");
    patch.append(tone);
    const name = document.createElement("span");
    name.textContent = each.name;
    label.append(field, patch, name);
    return label;
  });
  const held = swatches.contains(document.activeElement);
  swatches.replaceChildren(...made.reverse());
  if (held) swatches.querySelector("input:checked").focus();
}

swatches.addEventListener("change", (event) => {
  chosen = Number(event.target.value);
});

function advise() {
  hint.textContent = words[`${step}${values}`];
  pad.querySelector("[data-lay]").hidden = step !== "ground" || values === 2;
}

function teach(name) {
  step = name;
  for (const button of pad.querySelectorAll("[data-step]")) {
    button.setAttribute("aria-pressed", String(button.dataset.step === step));
  }
  offer(step === "lights" ? values - 1 : step === "darks" ? 0 : values === 2 ? 1 : (values - 1) / 2);
  advise();
}

pad.querySelector(".order").addEventListener("click", (event) => {
  const button = event.target.closest("[data-step]");
  if (button) teach(button.dataset.step);
});
pad.querySelector("[data-lay]").addEventListener("click", () => {
  lay();
  teach("lights");
});
undoes.addEventListener("click", undo);
redoes.addEventListener("click", redo);

pad.addEventListener("change", (event) => {
  if (event.target.name === "format") {
    remember();
    cut(event.target.value);
    settle();
  } else if (event.target.name === "values") {
    remember();
    const count = Number(event.target.value);
    say(count < values ? words.fewer : "");
    values = count;
    teach(step);
    show();
    settle();
  }
  mark();
});
mirror.addEventListener("change", () => box.classList.toggle("turned", mirror.checked));

// -- the squint, made where every picture is read --------------------------------------------------------------

async function look() {
  const mine = (asked += 1);
  say(words.squinting);
  try {
    const sent = new FormData();
    sent.set("study", await new Promise((done) => canvas.toBlob(done, "image/png")), "study.png");
    sent.set("as_is", "1");
    const answer = await fetch(pad.dataset.reading, { method: "POST", body: sent });
    const read = await answer.json();
    if (mine !== asked || drawing !== null || down) return;
    if (!read.ok) throw new Error(read.error);
    squinted.src = read.squint;
    squinted.hidden = !squint.checked;
    // Such a reading calls the sheet one even tone, while the marks on it are there to be seen in the squint as well.
    if (read.even && !bare()) say(words.too_small);
    else say(words.squinted, { sentence: read.sentence });
  } catch {
    if (mine === asked) say(words.failed);
  }
}

squint.addEventListener("change", () => {
  if (squint.checked) look();
  else {
    asked += 1;
    squinted.hidden = true;
    say("");
  }
});

// -- to the find page, and back --------------------------------------------------------------------------------

form.addEventListener("submit", (event) => {
  if (bare()) {
    event.preventDefault();
    say(words.empty);
    canvas.focus();
    return;
  }
  form.elements.carried.value = canvas.toDataURL("image/png").split(",")[1];
});

function keep() {
  const runs = [];
  for (let from = 0; from < sheet.length; ) {
    let to = from;
    while (to < sheet.length && sheet[to] === sheet[from]) to += 1;
    runs.push(`${sheet[from]}x${to - from}`);
    from = to;
  }
  try {
    sessionStorage.setItem(STORE, JSON.stringify({ values, format: one("format").value, runs: runs.join(" ") }));
  } catch {
    // A full or forbidden store only means that the drawing is gone when the page is left.
  }
}

function restore() {
  try {
    const held = JSON.parse(sessionStorage.getItem(STORE) ?? "null");
    const field = held && all("format").find((each) => each.value === held.format);
    if (!field || !setting.values[held.values]) return false;
    const [wide, tall] = size(held.format);
    const drawn = held.runs.split(" ").flatMap((run) => {
      const [value, count] = run.split("x").map(Number);
      return new Array(count).fill(value);
    });
    if (drawn.length !== wide * tall) return false;
    field.checked = true;
    values = held.values;
    all("values").find((each) => Number(each.value) === values).checked = true;
    cut(held.format);
    sheet = Uint8Array.from(drawn, (value) => Math.min(LIGHTEST, Math.max(0, value)));
    return true;
  } catch {
    return false;
  }
}

document.querySelector("[data-nopad]").hidden = true;
pad.hidden = false;
const drawn = restore();
if (!drawn) {
  values = Number(one("values").value);
  cut(one("format").value);
}
show();
teach(drawn ? "lights" : "ground");
ways();
mark();
