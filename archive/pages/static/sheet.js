// The sheet page: every corner gets a handle that is dragged, or moved with the arrow keys. The corners travel in the
// text fields, which do the same without this module. A handle lies inward of its corner, so that those of neighbouring
// panels do not lie on one another and no finger hides the corner; of several under a finger the nearest is meant.

const form = document.querySelector("[data-taped]");
const over = form.querySelector(".corners");
const drawing = over.querySelector("svg");
const { width, height } = drawing.viewBox.baseVal;
const names = JSON.parse(form.dataset.corners);
const STEP = 0.25;
const STRIDE = 2;
// How far inward a handle lies, px along both sides, and at most as a share of the shorter one.
const INWARD = 16;
const SHARE = 0.28;

form.querySelector("[data-hint]").hidden = false;

// Where every panel has been read, there is nothing to read anew until a corner is moved.
const anew = form.querySelector('button[value="corners"]');
const fields = [...form.querySelectorAll("input[data-panel]")];
const allRead = document.querySelectorAll("article.panel").length === fields.length;
const offer = () => {
  anew.disabled = allRead && fields.every((field) => field.value === field.defaultValue);
};
offer();

const outlines = [...drawing.querySelectorAll("polygon.upper")];

const places = [];
let held = null;
const nearest = (x, y) => {
  const far = (button) => {
    const box = button.getBoundingClientRect();
    return Math.hypot(x - box.left - box.width / 2, y - box.top - box.height / 2);
  };
  return places.reduce((best, place) => (far(place.button) < far(best.button) ? place : best));
};

over.addEventListener("pointerdown", (event) => {
  if (event.button !== 0 || held || !event.target.closest(".corner")) return;
  event.preventDefault();
  const { button, at, corners, set } = nearest(event.clientX, event.clientY);
  button.focus({ preventScroll: true });
  over.setPointerCapture(event.pointerId);
  button.classList.add("held");
  const frame = over.getBoundingClientRect();
  const [x, y] = corners()[at];
  held = {
    pointer: event.pointerId, button, at, set,
    from: [event.clientX - (x / 100) * frame.width, event.clientY - (y / 100) * frame.height],
  };
});
over.addEventListener("pointermove", (event) => {
  if (event.pointerId !== held?.pointer) return;
  const frame = over.getBoundingClientRect();
  const [x, y] = held.from;
  held.set(held.at, (100 * (event.clientX - x)) / frame.width, (100 * (event.clientY - y)) / frame.height);
});
for (const kind of ["pointerup", "pointercancel"]) {
  over.addEventListener(kind, (event) => {
    if (event.pointerId !== held?.pointer) return;
    held.button.classList.remove("held");
    held = null;
  });
}

fields.forEach((field, number) => {
  const upper = outlines[number];
  const under = upper.previousElementSibling;
  const label = upper.nextElementSibling?.tagName === "circle" ? upper.nextElementSibling : null;
  let corners = read(field.value);
  const handles = names.map((name, at) => handle(name, at));
  over.append(...handles);
  places.push(...handles.map((button, at) => ({ button, at, corners: () => corners, set })));
  lie();
  new ResizeObserver(lie).observe(over);

  function read(text) {
    const pairs = text.trim().split(/[;\s]+/).map((pair) => pair.split(",").map(Number));
    return pairs.length === 4 && pairs.every((pair) => pair.length === 2 && pair.every(Number.isFinite)) ? pairs : null;
  }

  function handle(name, at) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "corner";
    button.addEventListener("keydown", (event) => {
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (!way) return;
      event.preventDefault();
      const far = event.shiftKey ? STRIDE : STEP;
      set(at, corners[at][0] + way[0] * far, corners[at][1] + way[1] * far);
    });
    button.dataset.name = name;
    return button;
  }

  function set(at, x, y) {
    corners[at] = [Math.min(100, Math.max(0, x)), Math.min(100, Math.max(0, y))];
    field.value = corners.map((pair) => pair.map((share) => share.toFixed(2)).join(",")).join(" ");
    lie();
    offer();
  }

  // The way inward is along both sides that meet at a corner, however the panel is turned.
  function inward(points, at) {
    const small = over.clientWidth / width;
    const sides = [points[(at + 1) % 4], points[(at + 3) % 4]].map(([x, y]) => [x - points[at][0], y - points[at][1]]);
    const long = sides.map(([x, y]) => Math.hypot(x, y));
    const far = Math.min(INWARD, SHARE * small * Math.min(...long));
    return [0, 1].map((axis) => sides.reduce((sum, side, which) => sum + (far * side[axis]) / (long[which] || 1), 0));
  }

  function lie() {
    if (!corners) return;
    const points = corners.map(([x, y]) => [(x / 100) * width, (y / 100) * height]);
    for (const outline of [under, upper]) outline.setAttribute("points", points.map((pair) => pair.join(",")).join(" "));
    if (label) {
      const middle = [0, 1].map((axis) => points.reduce((sum, pair) => sum + pair[axis], 0) / 4);
      label.setAttribute("cx", middle[0]);
      label.setAttribute("cy", middle[1]);
      label.nextElementSibling.setAttribute("x", middle[0]);
      label.nextElementSibling.setAttribute("y", middle[1]);
    }
    handles.forEach((button, at) => {
      const [x, y] = corners[at];
      const [right, down] = inward(points, at);
      button.style.left = `calc(${x}% + ${right.toFixed(1)}px)`;
      button.style.top = `calc(${y}% + ${down.toFixed(1)}px)`;
      button.setAttribute("aria-label", form.dataset.corner
        .replace("{panel}", field.dataset.panel)
        .replace("{corner}", names[at])
        .replace("{x}", Math.round(x))
        .replace("{y}", Math.round(y)));
    });
  }

  field.addEventListener("change", () => {
    corners = read(field.value) ?? corners;
    lie();
    offer();
  });
});
