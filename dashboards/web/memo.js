// What this browser remembers for the person at it. Where nothing may be kept, it lasts as long as the page.

const here = new Map();

export function recall(key) {
  try {
    return localStorage.getItem(key) ?? here.get(key) ?? null;
  } catch {
    return here.get(key) ?? null;
  }
}

export function remember(key, value) {
  here.set(key, value);
  try {
    localStorage.setItem(key, value);
  } catch { /* kept in here */ }
}

export function forget(key) {
  here.delete(key);
  try {
    localStorage.removeItem(key);
  } catch { /* it was not kept */ }
}
