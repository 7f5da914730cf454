// Asking the API, with its own words where it refuses.

export async function get(path) {
  const answer = await fetch(path, { cache: 'no-store' });
  if (!answer.ok) throw new Error((await answer.json().catch(() => null))?.detail ?? `luted answered ${answer.status}`);
  return answer.json();
}

// query joins what is set; empty choices are left out.
export function query(values) {
  const q = new URLSearchParams();
  for (const [key, value] of Object.entries(values)) if (value) q.set(key, value);
  const s = q.toString();
  return s ? `?${s}` : '';
}
