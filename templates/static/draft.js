// What is typed into a form and not yet kept stays on this device until it is kept or forgotten.
(() => {
  const form = document.querySelector("form[data-draft]");
  const notice = document.getElementById("draft");
  if (!form || !notice) return;
  const key = `draft ${form.dataset.draft}`;
  const fields = () => [...form.elements].filter((field) => field.name && !["hidden", "submit"].includes(field.type));
  const nameOf = (field) => (field.name === "step" ? `step ${field.value}` : field.name);
  const ticks = (field) => field.type === "checkbox" || field.type === "radio";
  const now = (field) => (ticks(field) ? field.checked : field.value);

  function asServed(field) {
    if (ticks(field)) return field.defaultChecked;
    if (field.tagName !== "SELECT") return field.defaultValue;
    return ([...field.options].find((option) => option.defaultSelected) || field.options[0] || { value: "" }).value;
  }

  function typed() {
    return Object.fromEntries(fields().filter((field) => now(field) !== asServed(field)).map((field) => [nameOf(field), now(field)]));
  }

  function keep() {
    const open = { ...waiting, ...typed() };
    if (Object.keys(open).length) localStorage.setItem(key, JSON.stringify(open));
    else localStorage.removeItem(key);
  }

  function putBack() {
    const draft = waiting;
    settle();
    for (const field of fields()) {
      const value = draft[nameOf(field)];
      if (value === undefined) continue;
      if (ticks(field)) field.checked = value;
      else field.value = value;
      field.dispatchEvent(new Event("change", { bubbles: true }));
    }
    keep();
  }

  function settle() {
    waiting = {};
    notice.hidden = true;
  }

  // An answer to what was sent: the book has it, or it stands on the page with what is wrong with it.
  if (form.dataset.answered) localStorage.removeItem(key);
  // What waits to be put back is not overwritten by what is typed meanwhile.
  let waiting = JSON.parse(localStorage.getItem(key) || "{}");
  notice.hidden = !Object.keys(waiting).length;
  document.getElementById("draft-back").addEventListener("click", putBack);
  document.getElementById("draft-forget").addEventListener("click", () => {
    settle();
    keep();
  });
  form.addEventListener("input", keep);
  form.addEventListener("change", keep);
})();
