// The check's form: keeps what is typed through a reload, says what is still to answer, hands the check over to be sent.

import { draftOf, keepDraft, sendDraft } from "./store.js";
import { smaller } from "./picture.js";

const BELONG_TO_THE_PAGE = new Set(["csrfmiddlewaretoken", "key", "typed_by", "waited_s"]);
const SAVE_AFTER_MS = 150;

// randomUUID is only there over HTTPS and on the machine itself; the form is also served in a plain local network.
function newKey() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

export async function follow(form, person, words, onSent) {
  const tag = form.dataset.tag;
  const draft = (await draftOf(person, tag)) ?? { id: `${person}/${tag}`, key: newKey(), fields: [], pictures: {} };
  fill(form, draft, words);
  progress(form, words);
  let timer = 0;
  const save = () => {
    draft.fields = typed(form);
    return keepDraft(draft);
  };
  form.addEventListener("input", () => {
    progress(form, words);
    clearTimeout(timer);
    timer = setTimeout(save, SAVE_AFTER_MS);
  });
  window.addEventListener("pagehide", save);
  form.addEventListener("change", async (event) => {
    if (event.target.type !== "file" || !event.target.files.length) return;
    draft.pictures[event.target.name] = await smaller(event.target.files[0]);
    await save();
    showPictures(form, draft, words);
  });
  let sending = false;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (sending || !complete(form, words)) return;
    sending = true;
    clearTimeout(timer);
    window.removeEventListener("pagehide", save);
    draft.fields = typed(form);
    const entry = {
      ...{ key: draft.key, person, tag, address: form.getAttribute("action"), fields: draft.fields },
      ...{ pictures: draft.pictures, answeredAt: Date.now(), state: "waiting" },
    };
    const isFirst = await sendDraft(draft, entry);
    form.hidden = true;
    onSent(isFirst ? entry : null);
  });
}

function typed(form) {
  const entries = [...new FormData(form)];
  return entries.filter(([name, value]) => typeof value === "string" && !BELONG_TO_THE_PAGE.has(name));
}

function fill(form, draft, words) {
  for (const [name, value] of draft.fields) {
    for (const control of form.querySelectorAll(`[name="${CSS.escape(name)}"]`)) {
      if (control.type === "radio" || control.type === "checkbox") control.checked ||= control.value === value;
      else if (control.type !== "file" && control.type !== "hidden") control.value = value;
    }
  }
  for (const details of form.querySelectorAll("details")) {
    if ([...details.querySelectorAll("input, textarea")].some((control) => control.value)) details.open = true;
  }
  showPictures(form, draft, words);
}

function showPictures(form, draft, words) {
  for (const [name, picture] of Object.entries(draft.pictures)) {
    const line = form.querySelector(`[name="${CSS.escape(name)}"]`)?.parentElement.querySelector(".kept-picture");
    if (!line) continue;
    line.textContent = `${words.picture} ${picture.name}, ${Math.ceil(picture.blob.size / 1024)} kB`;
    line.hidden = false;
  }
}

const chosen = (form, name) => form.querySelector(`[name="${name}"]:checked`)?.value;

// What must be answered now. Once something holds the bow anyway, nobody is asked to handle it further.
function open(form) {
  const held =
    chosen(form, "dropped") === "yes" ||
    chosen(form, "dry_fired") === "yes" ||
    form.querySelector('[data-ask^="topic-"]:not([data-timing]) [value="not_fine"]:checked');
  return [...form.querySelectorAll("[data-ask]")].filter((ask) => {
    const name = ask.dataset.ask;
    if (held && name.startsWith("topic-")) return false;
    if (!chosen(form, name)) return true;
    if (name === "vehicle" && chosen(form, name) === "yes") return !chosen(form, "parked") || !chosen(form, "outside");
    if (name === "use" && chosen(form, name) === "shots") return !form.elements.shots.value.trim();
    return name === "use" && chosen(form, name) === "hours" && !form.elements.hours.value.trim();
  });
}

function progress(form, words) {
  const asks = form.querySelectorAll("[data-ask]").length;
  document.getElementById("progress").textContent = `${asks - open(form).length}/${asks} ${words.progress}`;
  for (const ask of form.querySelectorAll(".open-question")) if (!open(form).includes(ask)) ask.classList.remove("open-question");
  const quick = document.getElementById("quick");
  if (form.querySelector("[data-timing] .bad :checked") && !quick.dataset.shown) quick.open = quick.dataset.shown = true;
}

function complete(form, words) {
  const missing = open(form);
  for (const ask of missing) ask.classList.add("open-question");
  const told = document.getElementById("missing");
  told.hidden = !missing.length;
  told.textContent = `${words.missing} ${missing.map((ask) => ask.querySelector("legend").firstChild.textContent.trim()).join(", ")}`;
  missing[0]?.scrollIntoView({ block: "start" });
  return !missing.length;
}
