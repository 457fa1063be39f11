// What this browser keeps until the server has acknowledged it: ids and codes, never a name or free text. Each row has
// its owner, a user by ids, and only that user's rows are read.

const answer = (asked) => new Promise((resolve, reject) => {
	asked.onsuccess = () => resolve(asked.result);
	asked.onerror = () => reject(asked.error);
});

const asked = indexedDB.open("throughline-log", 1);
asked.onupgradeneeded = () => {
	for (const name of ["rows", "logs"]) {
		asked.result.createObjectStore(name, { keyPath: "key" }).createIndex("owner", "owner");
	}
};
const opened = answer(asked);

// change runs one transaction and returns once it is on the disk.
async function change(store, act) {
	const db = await opened;
	return new Promise((resolve, reject) => {
		const tx = db.transaction(store, "readwrite", { durability: "strict" });
		tx.oncomplete = () => resolve();
		tx.onerror = tx.onabort = () => reject(tx.error);
		act(tx.objectStore(store));
	});
}

export const put = (store, value) => change(store, (s) => s.put(value));
export const remove = (store, key) => change(store, (s) => s.delete(key));

// ofOwner reads all that a user keeps.
export async function ofOwner(store, owner) {
	const db = await opened;
	return answer(db.transaction(store).objectStore(store).index("owner").getAll(owner));
}
