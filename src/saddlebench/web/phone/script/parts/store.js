// What is kept on the phone. A thing counts as kept only when its transaction is complete and on the disk.
import { told } from "../../../base/script/parts/told.js";

const NAME = "saddlebench-phone";
const VERSION = 1;

export class NotKept extends Error {
  constructor(cause) {
    const full = cause?.name === "QuotaExceededError";
    super(
      full
        ? told("There is no room left on this phone, so this was NOT kept. What was kept before is safe. Save the unsent as a file, send it, or make room on the phone; then enter this again.")
        : told("This could NOT be kept on the phone. What was kept before is safe. Write it down, load this page again, and enter it once more."),
    );
    this.full = full;
    this.cause = cause;
  }
}

export function openStore(version = VERSION) {
  return new Promise((resolve, reject) => {
    const asked = version ? indexedDB.open(NAME, version) : indexedDB.open(NAME);
    asked.onupgradeneeded = () => {
      const db = asked.result;
      db.createObjectStore("journal", { keyPath: "seq", autoIncrement: true });
      db.createObjectStore("values", { keyPath: ["uuid", "saddle", "field"] });
      db.createObjectStore("things", { keyPath: "uuid" });
      db.createObjectStore("photos", { keyPath: "uuid" });
      db.createObjectStore("bytes");
      db.createObjectStore("meta");
    };
    asked.onsuccess = () => {
      const db = asked.result;
      // Another tab of a newer program: let it go on.
      db.onversionchange = () => db.close();
      resolve(new Store(db));
    };
    asked.onerror = () => {
      // Newer pages were here before these: stores are only ever added, so theirs serve.
      if (asked.error?.name === "VersionError" && version) openStore(0).then(resolve, reject);
      else reject(new NotKept(asked.error));
    };
    asked.onblocked = () => reject(new NotKept(new Error("blocked")));
  });
}

export class Store {
  constructor(db) {
    this.db = db;
  }

  // Writes several things whole or not at all: `work` gets the transaction's stores by name.
  write(names, work) {
    return new Promise((resolve, reject) => {
      let made;
      let transaction;
      try {
        transaction = this.db.transaction(names, "readwrite", { durability: "strict" });
      } catch (error) {
        reject(new NotKept(error));
        return;
      }
      transaction.oncomplete = () => resolve(made);
      transaction.onabort = () => reject(new NotKept(transaction.error));
      try {
        made = work(Object.fromEntries(names.map((name) => [name, transaction.objectStore(name)])));
      } catch (error) {
        transaction.abort();
        reject(new NotKept(error));
      }
    });
  }

  all(name) {
    return this.read(name, (store) => store.getAll());
  }

  get(name, key) {
    return this.read(name, (store) => store.get(key));
  }

  read(name, ask) {
    return new Promise((resolve, reject) => {
      const asked = ask(this.db.transaction(name).objectStore(name));
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error);
    });
  }
}

// How much room is left, and whether the browser promised not to clear it by itself.
export async function room() {
  const storage = navigator.storage;
  if (!storage?.estimate) return { left: null, persisted: false };
  const [{ quota = 0, usage = 0 }, persisted] = await Promise.all([storage.estimate(), storage.persisted?.() ?? false]);
  return { left: Math.max(0, quota - usage), used: usage, persisted };
}

export async function askToStay() {
  return (await navigator.storage?.persist?.()) || false;
}
