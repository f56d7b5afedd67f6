// Sends the kept checks, each until the book has answered it. The book takes a check's number once: sending again
// after a lost answer brings the first answer.

import { keepEntry, outbox } from "./store.js";

const ASK_MS = 8000;
const SEND_MS = 30000;

// Who is signed in on the line, with the token that a form needs now: {person, token}, "signed out" or "no line".
async function line(address) {
  try {
    const answer = await fetch(address, {
      cache: "no-store",
      redirect: "manual",
      headers: { Accept: "application/json" },
      signal: AbortSignal.timeout(ASK_MS),
    });
    if (answer.type === "opaqueredirect") return "signed out";
    return answer.ok ? await answer.json() : "no line";
  } catch (noLine) {
    return "no line";
  }
}

function formOf(entry) {
  const form = new FormData();
  for (const [name, value] of entry.fields) form.append(name, value);
  for (const [name, picture] of Object.entries(entry.pictures)) form.set(name, picture.blob, picture.name);
  form.set("key", entry.key);
  form.set("typed_by", entry.person);
  form.set("waited_s", Math.max(0, (Date.now() - entry.answeredAt) / 1000));
  return form;
}

async function post(entry, token) {
  try {
    const answer = await fetch(entry.address, {
      method: "POST",
      body: formOf(entry),
      redirect: "manual",
      headers: { Accept: "application/json", "X-CSRFToken": token },
      signal: AbortSignal.timeout(SEND_MS),
    });
    return await taken(entry, answer);
  } catch (noLine) {
    return entry; // sent or not, nobody knows: it stays, and is sent again under the same number
  }
}

async function taken(entry, answer) {
  if (answer.ok) return { ...entry, state: "answered", answer: await answer.json() };
  if (answer.status === 409 || answer.type === "opaqueredirect" || answer.status >= 500) return entry;
  if (answer.status === 422) return { ...entry, state: "refused", why: (await answer.json()).problems };
  return { ...entry, state: "refused", why: { "": `${answer.status} ${answer.statusText}` } };
}

// Sends what this person typed; `told` hears of each change. One tab at a time where the browser has locks.
export async function sendAll(address, person, told) {
  const run = () => sendEach(address, person, told);
  if (!navigator.locks) return run();
  return navigator.locks.request("bracebook-sending", { ifAvailable: true }, (lock) => (lock ? run() : null));
}

async function sendEach(address, person, told) {
  const waiting = (await outbox()).filter((entry) => entry.state === "waiting" && entry.person === person);
  if (!waiting.length) return null;
  const found = await line(address);
  if (typeof found === "string") return found;
  if (String(found.person) !== person) return "someone else";
  for (const entry of waiting) {
    const after = await post(entry, found.token);
    if (after !== entry) {
      await keepEntry(after);
      await told(after);
    }
  }
  return null;
}
