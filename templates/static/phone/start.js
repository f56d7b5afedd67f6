// Starts a page of the phone: the service worker, the list of checks kept here, the form if there is one, the sending.

import { follow } from "./check.js";
import { sendAll } from "./send.js";
import { dropEntry, mendEntry, outbox } from "./store.js";

const AGAIN_MS = 20000;
const KEPT = "bracebook-turnaround";
const waiting = document.getElementById("waiting");
const words = waiting.dataset;
const person = document.body.dataset.person;
const tabs = "BroadcastChannel" in window ? new BroadcastChannel("bracebook-phone") : null;
let justSent = "";

async function show() {
  const entries = await outbox();
  const mine = entries.filter((entry) => entry.person === person);
  waiting.querySelector(":scope > ul").replaceChildren(...mine.map(lineOf));
  if (entries.length > mine.length) tell(words.other);
  hideTheBook(entries.filter((entry) => entry.state !== "answered").map((entry) => entry.tag));
  waiting.hidden = !entries.length && document.getElementById("line-told").hidden;
}

// What the book says of a bow is out of date while a check of it waits here, whoever typed it.
function hideTheBook(tags) {
  if (tags.length) localStorage.setItem("bracebook-unsent", tags.length);
  else localStorage.removeItem("bracebook-unsent");
  for (const bow of document.querySelectorAll("[data-bow]")) bow.toggleAttribute("data-unsent", tags.includes(bow.dataset.bow));
  document.documentElement.removeAttribute("data-looking");
}

function tell(text) {
  const line = document.getElementById("line-told");
  line.textContent = text;
  line.hidden = !text;
  if (text) waiting.hidden = false;
}

function lineOf(entry) {
  const kind = { waiting: "kept", refused: "refused" }[entry.state] ?? entry.answer.verdict;
  const line = document.getElementById(`one-${kind}`).content.cloneNode(true).firstElementChild;
  line.querySelector(".tag").textContent = entry.tag;
  line.querySelector(".when").textContent = new Date(entry.answeredAt).toLocaleTimeString([], { timeStyle: "short" });
  const told = line.querySelector(".told");
  const lines = entry.state === "refused" ? [words.refused, ...Object.values(entry.why)] : (entry.answer?.because ?? []);
  if (told.tagName === "UL") told.replaceChildren(...lines.map(item));
  line.querySelector(".open")?.setAttribute("href", entry.answer?.address ?? "#");
  on(line, ".open", () => dropEntry(entry.key));
  on(line, ".seen", () => dropEntry(entry.key).then(show));
  on(line, ".drop", () => dropEntry(entry.key).then(show));
  on(line, ".try", () => send());
  on(line, ".mend", async () => {
    const { key, fields, pictures } = entry;
    await mendEntry(entry, { id: `${entry.person}/${entry.tag}`, key, fields, pictures });
    location.assign(entry.address);
  });
  return line;
}

function item(text) {
  const one = document.createElement("li");
  one.textContent = text;
  return one;
}

const on = (line, selector, act) => line.querySelector(selector)?.addEventListener("click", act);

async function send() {
  const why = await sendAll(words.line, person, answered);
  if (why === "signed out") tell(words.signedOut);
  else if (why === "someone else") tell(words.someoneElse);
  else if (why === null) tell("");
  await show();
}

async function answered(entry) {
  tabs?.postMessage("changed");
  if (entry.key === justSent && entry.state === "answered") {
    await dropEntry(entry.key);
    location.assign(entry.answer.address);
  } else await show();
}

async function sent(entry) {
  if (!entry) return tell(words.used);
  justSent = entry.key;
  tabs?.postMessage("changed");
  await show();
  waiting.scrollIntoView({ block: "start" });
  return send();
}

async function keepPages() {
  if (!("serviceWorker" in navigator) || !("caches" in window)) return;
  try {
    await navigator.serviceWorker.register(words.worker);
    // Pages kept in another language go, so that none of them is shown among those of this one.
    const { lang } = document.documentElement;
    const another = (localStorage.getItem("bracebook-language") ?? lang) !== lang;
    if (another) await caches.delete(KEPT);
    localStorage.setItem("bracebook-language", lang);
    const cache = await caches.open(KEPT);
    if (another) await cache.add(location.pathname);
    if (!(await cache.match(words.noLine))) await cache.add(words.noLine);
  } catch (notAllowed) {
    // A certificate that the browser does not trust: no pages without a line, but typed checks are kept all the same.
  }
}

const form = document.getElementById("check");
if (form) await follow(form, person, words, sent);
tabs?.addEventListener("message", show);
window.addEventListener("online", send);
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && send());
setInterval(send, AGAIN_MS);
await show();
await send();
await keepPages();
