// Changes the surround in place, so that what is on the page (an uploaded study) stays there.

const form = document.querySelector(".surround");

form.addEventListener("submit", (event) => {
  const button = event.submitter;
  if (!button) return;
  event.preventDefault();
  const body = new URLSearchParams({ surround: button.value, back: form.elements.back.value });
  fetch(form.action, { method: "POST", body, redirect: "manual" });
  document.documentElement.dataset.surround = button.value;
  for (const other of form.querySelectorAll("button")) other.setAttribute("aria-pressed", String(other === button));
});
