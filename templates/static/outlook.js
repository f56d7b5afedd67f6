// Dragging a job's card to another day shows what the move would cost; nothing is moved before that is confirmed.
// Without this script the card's "Move" link leads to the same page.
(() => {
  const box = document.getElementById("move-box");
  if (!box) return;
  let dragged = null;

  const show = (address) => {
    htmx.ajax("GET", address, { target: box, select: "#move", swap: "innerHTML" }).then(() => {
      if (!box.open) box.showModal();
    });
  };

  const address = (job, day) => {
    const asked = new URLSearchParams({ bow: job.dataset.bow, from: job.dataset.from, by: job.dataset.by, day });
    return `${job.dataset.address}?${asked}`;
  };

  for (const job of document.querySelectorAll(".job[data-bow]")) {
    job.draggable = true;
    job.addEventListener("dragstart", (event) => {
      dragged = job;
      job.classList.add("held-by");
      event.dataTransfer.effectAllowed = "move";
      event.dataTransfer.setData("text/plain", job.dataset.bow);
    });
    job.addEventListener("dragend", () => {
      job.classList.remove("held-by");
      dragged = null;
    });
    job.querySelector(".move-link").addEventListener("click", (event) => {
      event.preventDefault();
      show(event.currentTarget.href);
    });
  }

  for (const day of document.querySelectorAll(".day[data-day]")) {
    day.addEventListener("dragover", (event) => {
      if (!dragged) return;
      event.preventDefault();
      day.classList.add("over");
    });
    day.addEventListener("dragleave", () => day.classList.remove("over"));
    day.addEventListener("drop", (event) => {
      event.preventDefault();
      day.classList.remove("over");
      if (dragged && day.dataset.day !== dragged.dataset.from) show(address(dragged, day.dataset.day));
    });
  }

  box.addEventListener("click", (event) => {
    if (event.target.closest(".close-box")) {
      event.preventDefault();
      box.close();
    }
  });
})();
