// What people made on this device: recordings and encounters, in the browser's own database, so that
// a lost connection, a reload or a closed lid loses nothing.

export type StoreName = 'recordings' | 'encounters' | 'cases';

let opening: Promise<IDBDatabase> | null = null;
function database(): Promise<IDBDatabase> {
  opening ??= new Promise((resolve, reject) => {
    const request = indexedDB.open('phren', 2);
    request.onupgradeneeded = () => {
      for (const name of ['recordings', 'encounters', 'cases']) {
        if (!request.result.objectStoreNames.contains(name)) request.result.createObjectStore(name, { keyPath: 'id' });
      }
    };
    request.onblocked = () =>
      reject(new Error('Phren is open in another tab in an older version. Close that tab and load this page again.'));
    request.onsuccess = () => {
      request.result.onversionchange = () => request.result.close(); // a newer page may go on
      resolve(request.result);
    };
    request.onerror = () =>
      reject(
        new Error(
          'This browser keeps nothing for this page (private window, or storage is full). You can go ' +
            'on, but a reload loses your work.',
        ),
      );
  });
  return opening;
}

function done<T>(request: IDBRequest<T>): Promise<T> {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error ?? new Error('storing failed'));
  });
}

export async function put(name: StoreName, value: unknown): Promise<void> {
  try {
    await done((await database()).transaction(name, 'readwrite').objectStore(name).put(value));
  } catch (error) {
    if ((error as DOMException).name !== 'QuotaExceededError') throw error;
    throw new Error(
      'This device has no room left for this page: what you do now is not kept. Remove recordings at ' +
        'the Bench that you do not need, or free space on the device.',
    );
  }
}
export async function all<T>(name: StoreName): Promise<T[]> {
  return done((await database()).transaction(name).objectStore(name).getAll()) as Promise<T[]>;
}
export async function get<T>(name: StoreName, id: string): Promise<T | undefined> {
  return done((await database()).transaction(name).objectStore(name).get(id)) as Promise<T | undefined>;
}
export async function remove(name: StoreName, id: string): Promise<void> {
  await done((await database()).transaction(name, 'readwrite').objectStore(name).delete(id));
}
