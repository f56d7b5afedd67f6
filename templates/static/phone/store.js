// What the phone keeps: drafts of checks, checks not answered yet, and the numbers of checks already sent.
// IndexedDB, because a draft may hold pictures. Every entry names the person who typed it.

const NAME = "bracebook-phone";
const VERSION = 1;
let opened = null;

function open() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("drafts", { keyPath: "id" });
      request.result.createObjectStore("outbox", { keyPath: "key" });
      request.result.createObjectStore("used", { keyPath: "key" });
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  return opened;
}

async function during(stores, mode, work) {
  const database = await open();
  return new Promise((resolve, reject) => {
    const transaction = database.transaction(stores, mode);
    const result = work((name) => transaction.objectStore(name));
    transaction.oncomplete = () => resolve(result.value ?? result.result);
    transaction.onabort = transaction.onerror = () => reject(transaction.error);
  });
}

export const draftOf = (person, tag) => during(["drafts"], "readonly", (of) => of("drafts").get(`${person}/${tag}`));

export const keepDraft = (draft) => during(["drafts"], "readwrite", (of) => of("drafts").put(draft));

export const outbox = () => during(["outbox"], "readonly", (of) => of("outbox").getAll());

export const keepEntry = (entry) => during(["outbox"], "readwrite", (of) => of("outbox").put(entry));

export const dropEntry = (key) => during(["outbox"], "readwrite", (of) => of("outbox").delete(key));

// The draft becomes a check to send, in one transaction; false where another tab has sent that draft already.
export const sendDraft = (draft, entry) =>
  during(["drafts", "outbox", "used"], "readwrite", (of) => {
    const answer = { value: false };
    of("used").get(entry.key).onsuccess = (event) => {
      if (event.target.result) return;
      of("used").put({ key: entry.key });
      of("outbox").put(entry);
      of("drafts").delete(draft.id);
      answer.value = true;
    };
    return answer;
  });

// A check that was not taken becomes a draft again, under the number that the book does not know.
export const mendEntry = (entry, draft) =>
  during(["drafts", "outbox", "used"], "readwrite", (of) => {
    of("drafts").put(draft);
    of("outbox").delete(entry.key);
    return of("used").delete(entry.key);
  });
