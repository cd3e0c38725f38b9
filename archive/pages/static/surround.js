// Changes the surround in place, so that what is on the page (an uploaded study) stays there.

const form = document.querySelector(".surround");
const home = new URL(form.action).pathname.replace(/-\/surround$/, "");

form.addEventListener("submit", (event) => {
  const button = event.submitter;
  if (!button) return;
  event.preventDefault();
  document.cookie = `surround=${button.value}; path=${home}; max-age=31536000; samesite=lax`;
  document.documentElement.dataset.surround = button.value;
  for (const other of form.querySelectorAll("button")) other.setAttribute("aria-pressed", String(other === button));
});
