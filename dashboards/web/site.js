// What the page must know once about the place. Every module imports the same object.

export const site = await load();

async function load() {
  for (let wait = 500; ; wait = Math.min(wait * 2, 5000)) {
    try {
      const answer = await fetch('/api/site', { cache: 'no-store' });
      if (answer.ok) return await answer.json();
    } catch { /* the daemon is not there yet */ }
    await new Promise((done) => setTimeout(done, wait));
  }
}
