// Files that are chosen in a form, or dropped anywhere on its page.

export function takeFiles(drop, send) {
  drop.querySelector("#files").addEventListener("change", (event) => {
    send([...event.target.files]);
    event.target.value = "";
  });
  drop.addEventListener("submit", (event) => event.preventDefault());
  for (const kind of ["dragenter", "dragover"]) {
    document.addEventListener(kind, (event) => {
      event.preventDefault();
      drop.classList.add("over");
    });
  }
  document.addEventListener("dragleave", (event) => {
    if (!event.relatedTarget) drop.classList.remove("over");
  });
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    drop.classList.remove("over");
    send([...event.dataTransfer.files]);
  });
}
