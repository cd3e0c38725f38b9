// The sheet page: every corner gets a handle that is dragged, or moved with the arrow keys. The corners travel in the
// text fields, which do the same without this module.

const form = document.querySelector("[data-taped]");
const over = form.querySelector(".corners");
const drawing = over.querySelector("svg");
const { width, height } = drawing.viewBox.baseVal;
const names = JSON.parse(form.dataset.corners);
const STEP = 0.25;
const STRIDE = 2;

form.querySelector("[data-hint]").hidden = false;

const outlines = [...drawing.querySelectorAll("polygon.upper")];

[...form.querySelectorAll("input[data-panel]")].forEach((field, number) => {
  const upper = outlines[number];
  const under = upper.previousElementSibling;
  const label = upper.nextElementSibling?.tagName === "circle" ? upper.nextElementSibling : null;
  let corners = read(field.value);
  const handles = names.map((name, at) => handle(name, at));
  over.append(...handles);
  lie();

  function read(text) {
    const pairs = text.trim().split(/[;\s]+/).map((pair) => pair.split(",").map(Number));
    return pairs.length === 4 && pairs.every((pair) => pair.length === 2 && pair.every(Number.isFinite)) ? pairs : null;
  }

  function handle(name, at) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "corner";
    let grip = null;
    button.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      event.preventDefault();
      button.focus({ preventScroll: true });
      button.setPointerCapture(event.pointerId);
      button.classList.add("held");
      const frame = over.getBoundingClientRect();
      grip = [event.clientX - (corners[at][0] / 100) * frame.width, event.clientY - (corners[at][1] / 100) * frame.height];
    });
    button.addEventListener("pointermove", (event) => {
      if (!grip) return;
      const frame = over.getBoundingClientRect();
      set(at, (100 * (event.clientX - grip[0])) / frame.width, (100 * (event.clientY - grip[1])) / frame.height);
    });
    for (const kind of ["pointerup", "pointercancel"]) {
      button.addEventListener(kind, () => {
        grip = null;
        button.classList.remove("held");
      });
    }
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
      button.style.left = `${x}%`;
      button.style.top = `${y}%`;
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
  });
});
