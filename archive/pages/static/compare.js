// The compare page: the wiper follows its slider and the pointer, a press on the picture flips. Choosing what is laid
// and how needs no script.

const table = document.querySelector("[data-table]");
const both = table.querySelector(".both");
const wiper = table.querySelector("[data-wiper]");
const flip = table.querySelector("[data-flip]");
const chosen = () => table.querySelector("input[name=laying]:checked").value;

function wipe(share) {
  wiper.value = share;
  both.style.setProperty("--wiped", `${share}%`);
}

wiper.addEventListener("input", () => wipe(wiper.value));

both.addEventListener("pointerdown", (event) => {
  if (chosen() !== "wipe" || !event.target.closest(".lay")) return;
  event.preventDefault();
  both.setPointerCapture(event.pointerId);
  follow(event);
});
both.addEventListener("pointermove", (event) => {
  if (both.hasPointerCapture(event.pointerId)) follow(event);
});

function follow(event) {
  const box = both.querySelector(".theirs .lay").getBoundingClientRect();
  wipe(Math.round(Math.min(100, Math.max(0, ((event.clientX - box.left) / box.width) * 100))));
}

both.addEventListener("click", (event) => {
  if (chosen() === "flip" && event.target.closest(".lay")) flip.checked = !flip.checked;
});
