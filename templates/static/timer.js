// Bench minutes of one order: a start kept in this browser, so that a reload or a walk to the press costs nothing.
"use strict";
(() => {
  const line = document.getElementById("timer");
  const note = document.getElementById("note");
  if (!line || !note) return;
  const name = `bench-time/${line.dataset.order}`;
  const MINUTE_MS = 60000;
  const kept = () => JSON.parse(localStorage.getItem(name) ?? '{"ran": 0, "since": null}');
  const keep = (time) => localStorage.setItem(name, JSON.stringify(time));
  const ran = (time) => time.ran + (time.since ? Date.now() - time.since : 0);
  const run = line.querySelector(".run");

  function show() {
    const time = kept();
    const seconds = Math.floor(ran(time) / 1000);
    line.querySelector("b").textContent = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
    run.textContent = time.since ? run.dataset.stop : run.dataset.start;
  }

  run.addEventListener("click", () => {
    const time = kept();
    keep(time.since ? { ran: ran(time), since: null } : { ran: time.ran, since: Date.now() });
    show();
  });
  line.querySelector(".note").addEventListener("click", () => {
    const minutes = Math.max(1, Math.round(ran(kept()) / MINUTE_MS));
    const told = line.dataset.told.replace("{minutes}", minutes);
    note.value = [note.value.trim(), told].filter(Boolean).join("\n");
    keep({ ran: 0, since: null });
    note.dispatchEvent(new Event("change", { bubbles: true }));
    show();
  });
  line.hidden = false;
  show();
  setInterval(show, 1000);
})();
