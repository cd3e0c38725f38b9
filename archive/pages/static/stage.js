// The work page: painting, squint and value maps change in place. Without this module each way is a link.

const stage = document.getElementById("stage");
const picture = stage.querySelector("img");
const overlay = stage.querySelector(".over");
const caption = stage.parentElement.querySelector("figcaption");
const choices = [...document.querySelectorAll(".ways [data-way]")];

function look(way) {
  const chosen = choices.find((choice) => choice.dataset.way === way) ?? choices[0];
  picture.src = chosen.dataset.src;
  picture.alt = chosen.dataset.alt;
  caption.textContent = chosen.dataset.caption;
  overlay.hidden = chosen.dataset.way !== "masses";
  for (const choice of choices) {
    if (choice === chosen) choice.setAttribute("aria-current", "true");
    else choice.removeAttribute("aria-current");
  }
}

document.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-way]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button !== 0) return;
  event.preventDefault();
  history.pushState(null, "", link.href);
  look(link.dataset.way);
  if (!link.closest(".ways")) stage.scrollIntoView({ block: "nearest" });
});

document.querySelector(".ways").addEventListener("keydown", (event) => {
  const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  const at = choices.indexOf(document.activeElement);
  if (!step || at < 0) return;
  event.preventDefault();
  const next = choices[(at + step + choices.length) % choices.length];
  next.focus();
  next.click();
});

window.addEventListener("popstate", () => look(new URLSearchParams(location.search).get("as") ?? "painting"));
