// The live picture of the shop: one event stream, merged into one object per still. It tells at any time
// whether what it holds may be shown as live.

import { ms } from './time.js';

const SILENT = 12_000; // the server says something at least every 5 s
const HIDDEN = 15_000; // a page nobody sees lets go of its stream: a browser has six connections to a host
const watchers = new Set();
const hearers = new Set();

export const live = { stills: new Map(), names: [], connected: false, paused: false, since: null, last: 0 };

let source = null;
let only = '';
let lastId = '';
let heard = 0;
let base = null; // the server's clock at a moment of ours

export const onLive = (f) => watchers.add(f);
export const onEntry = (f) => hearers.add(f);

// now is the server's time. A machine that slept sees its own clock jump, and so does this.
export function now() {
  if (!base) return Date.now();
  return base.server + Math.max(performance.now() - base.perf, Date.now() - base.wall);
}

// age of a still's readings in seconds; null before the first.
export const age = (still) => (still.at ? Math.max(0, (now() - ms(still.at)) / 1000) : null);

export const stale = (still) => still.at !== null && age(still) > still.stale_after_s;

// asOf is the moment that what is shown of a still holds for: now while it is live, else the time of its
// last reading. Clocks beside old numbers must not go on running.
export const asOf = (still) => (still.at && (!live.connected || stale(still)) ? ms(still.at) : now());

export function start(still) {
  only = still ?? '';
  if (document.hidden) pause(); else open();
  setInterval(watch, 1000);
  addEventListener('online', () => { if (!live.connected && !live.paused) open(); });
  let hiding = 0;
  document.addEventListener('visibilitychange', () => {
    clearTimeout(hiding);
    if (document.hidden) hiding = setTimeout(pause, HIDDEN);
    else if (live.paused) open();
    else watch();
  });
  addEventListener('pagehide', pause);
  addEventListener('pageshow', (e) => { if (e.persisted) open(); });
}

// pause lets go of the stream. What the page holds is then old, and it says so.
function pause() {
  source?.close();
  source = null;
  live.paused = true;
  lose();
  tell();
}

function open() {
  source?.close();
  live.paused = false;
  heard = Date.now();
  const query = new URLSearchParams();
  if (only) query.set('still', only);
  if (lastId) query.set('after', lastId);
  source = new EventSource(`/events?${query}`);
  source.addEventListener('state', (e) => {
    lastId = e.lastEventId || lastId;
    take(JSON.parse(e.data));
  });
  source.addEventListener('entry', (e) => {
    lastId = e.lastEventId;
    hear();
    const entry = JSON.parse(e.data);
    for (const f of hearers) f(entry);
  });
  source.addEventListener('beat', (e) => { hear(JSON.parse(e.data)); tell(); });
  source.addEventListener('error', () => { lose(); });
}

function hear(data) {
  heard = Date.now();
  if (data?.now) base = { server: ms(data.now), perf: performance.now(), wall: Date.now() };
  live.connected = true;
  live.last = now();
}

function take(data) {
  hear(data);
  if (data.full) {
    live.names = data.names ?? [];
    live.stills = new Map();
  }
  for (const [name, patch] of Object.entries(data.stills)) {
    const still = { ...live.stills.get(name) }; // a new object: whoever keeps the old one sees that it has changed
    for (const [key, value] of Object.entries(patch)) {
      if (value === null && key !== 'at') delete still[key];
      else still[key] = value;
    }
    live.stills.set(name, still);
  }
  tell();
}

function lose() {
  if (!live.connected) return;
  live.connected = false;
  live.since = live.last;
  tell();
}

// watch finds a line that is dead without saying so, and a stream that the browser has given up.
function watch() {
  if (live.paused) return;
  const silent = Date.now() - heard > SILENT;
  if (silent) lose();
  if (silent || source.readyState === EventSource.CLOSED) open();
  else tell();
}

function tell() {
  for (const f of watchers) f();
}
