// The find page: a study can be dropped or pasted. Without this module the file field does the same.

const slip = document.querySelector("[data-drop]");

if (slip) {
  const field = slip.querySelector("input[type=file]");
  slip.querySelector("[data-hint]").hidden = false;

  const take = (files) => {
    const pictures = [...files].filter((file) => file.type.startsWith("image/") || /\.(heic|heif|avif)$/i.test(file.name));
    if (!pictures.length) return false;
    const carrier = new DataTransfer();
    carrier.items.add(pictures[0]);
    field.files = carrier.files;
    field.focus();
    return true;
  };

  slip.querySelector("[data-camera]")?.addEventListener("change", (event) => take(event.target.files));

  for (const kind of ["dragenter", "dragover"]) {
    slip.addEventListener(kind, (event) => {
      event.preventDefault();
      slip.dataset.over = "";
    });
  }
  for (const kind of ["dragleave", "drop"]) slip.addEventListener(kind, () => delete slip.dataset.over);
  slip.addEventListener("drop", (event) => {
    event.preventDefault();
    take(event.dataTransfer.files);
  });
  document.addEventListener("paste", (event) => {
    if (take(event.clipboardData.files)) event.preventDefault();
  });
}
