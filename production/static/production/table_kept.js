// A value kept on this device. A browser may refuse to store: then nothing is kept, and nothing
// else changes.

export function keptOnDevice(key) {
  const act = (use) => {
    try {
      return use(window.localStorage);
    } catch (error) {
      if (error instanceof DOMException) return null;
      throw error;
    }
  };
  return {
    read: () => JSON.parse(act((store) => store.getItem(key)) ?? "null"),
    write: (value) => act((store) => store.setItem(key, JSON.stringify(value))),
    drop: () => act((store) => store.removeItem(key)),
  };
}
