'use strict';
/* Sends the scans one after another, in the order they were made, each with its own key: a scan
   that is sent again after a lost answer acts once. Nothing is dropped until it is answered. */
(() => {
  const station = (window.station = window.station || {});
  const store = station.store;
  const WAITS = [1000, 2000, 5000, 10000]; // ms between tries while the server is away
  const PATIENCE = 8000; // ms until a request counts as unanswered
  const LATE = 3000; // ms after which a scan is a late one, whose answer the person did not await
  const AWAY = new Set([429, 502, 503, 504]);
  const FAULTS = 3; // faults of the server in a row at one scan before the person is asked

  let told = null; // what the page does: see start
  let busy = false;
  let tries = 0;
  let trouble = ''; // '', 'away', 'locked', 'signed out'
  let faults = 0;
  let timer = 0;
  let leaving = 0; // when this page was last about to be left, which ends its requests

  const rest = (time) => new Promise((done) => setTimeout(done, time));

  function later(time) {
    clearTimeout(timer);
    timer = setTimeout(drain, time);
  }

  async function ask(item) {
    const stop = new AbortController();
    const over = setTimeout(() => stop.abort(), PATIENCE);
    const { key, text, page, code, seen, at } = item;
    try {
      const response = await fetch(told.address, {
        method: 'POST',
        headers: {
          Accept: 'application/json',
          'Content-Type': 'application/json',
          'X-CSRFToken': told.token(),
        },
        body: JSON.stringify({ key, text, page, code, seen, at }),
        credentials: 'same-origin',
        redirect: 'manual', // an answer that leads elsewhere is the sign-in page
        cache: 'no-store',
        signal: stop.signal,
      });
      const body = await response.text();
      return { status: response.status, moved: response.type === 'opaqueredirect', body };
    } catch {
      return { status: 0, moved: false, body: '' };
    } finally {
      clearTimeout(over);
    }
  }

  function understood({ status, moved, body }) {
    let data = null;
    try {
      data = JSON.parse(body);
    } catch {
      data = null;
    }
    if (moved || status === 401) return { kind: 'signed out' };
    if (status === 423) return { kind: 'locked' };
    if (status === 400 && data && data.error === 'token') return { kind: 'token', data };
    if (status === 200 && data && data.reply) return { kind: 'answer', data };
    if (status === 0 || AWAY.has(status)) return { kind: 'away' };
    return { kind: status >= 500 ? 'fault' : 'refused', status };
  }

  async function send(item) {
    let result = understood(await ask(item));
    if (result.kind === 'token') {
      told.fresh(result.data.token);
      result = understood(await ask(item));
    }
    return result.kind === 'token' ? { kind: 'refused', status: 400 } : result;
  }

  function answered(item, data, late) {
    store.remove(item);
    tries = 0;
    faults = 0;
    trouble = '';
    const { tone, word, line } = data.reply;
    if (late && (tone === 'ask' || tone === 'stop') && store.waiting().length) {
      store.park({ why: tone, word, line });
    }
    told.answered(item, data, late);
  }

  /* The server is there but does not take this scan; whether to go on is the person's to say. */
  function refused(item, status) {
    faults = 0;
    trouble = '';
    store.park({ why: 'fault', status, text: item.text });
    told.failed(item, 'fault', status);
  }

  function unanswered(item, kind) {
    if (Date.now() - leaving < LATE) {
      later(WAITS[0]);
      return;
    }
    const first = item.at > store.failedAt();
    store.noteFailure();
    trouble = kind;
    if (kind === 'away') {
      later(WAITS[Math.min(tries, WAITS.length - 1)]);
      tries += 1;
    }
    if (first) told.failed(item, kind, 0);
  }

  /* Sends the oldest scan; whether there is reason to go on with the next one. */
  async function one() {
    const item = store.waiting()[0];
    if (!item) {
      if (trouble === 'away') trouble = '';
      tries = 0;
      return false;
    }
    const foreign = item.tab !== store.tab;
    if (foreign && Date.now() - item.at < LATE) {
      later(LATE); // the tab it was made in is about to send it, and shows the answer
      return false;
    }
    if (!store.takeLease()) {
      later(300);
      return false;
    }
    if (foreign || tries) {
      await rest(20 + Math.random() * 40); // two tabs that began together see who wrote last
      if (!store.holdsLease()) {
        later(300);
        return false;
      }
    }
    if (!store.has(item)) return true;
    const late = item.at <= store.failedAt() || Date.now() - item.at > LATE;
    told.changed();
    const result = await send(item);
    if (result.kind === 'answer') {
      answered(item, result.data, late);
      return true;
    }
    faults = result.kind === 'fault' ? faults + 1 : 0;
    if (result.kind === 'refused' || faults >= FAULTS) {
      refused(item, result.status);
      return true;
    }
    unanswered(item, result.kind === 'fault' ? 'away' : result.kind);
    return false;
  }

  async function drain() {
    if (busy || !told) return;
    busy = true;
    clearTimeout(timer);
    try {
      while (await one());
    } finally {
      busy = false;
      store.releaseLease();
      told.changed();
    }
  }

  function add(scan) {
    const item = store.add(scan);
    told.changed();
    drain();
    return item;
  }

  function goOn() {
    store.unpark();
    drain();
  }

  /* Throws away what is parked, or only the first of it. */
  function throwAway(first) {
    store.parked().slice(0, first ? 1 : undefined).forEach(store.remove);
    goOn();
  }

  function state() {
    const parked = store.parked();
    return {
      trouble,
      parked,
      pause: parked.length ? store.pause() : null,
      waiting: store.waiting(),
      sending: busy,
    };
  }

  /* `handlers`: address, token(), fresh(token), answered(item, data, late), failed(item, why,
     status), elsewhere(), changed(). */
  function start(handlers) {
    told = handlers;
    const old = store.waiting().some(
      (item) => item.at <= store.failedAt() || Date.now() - item.at > LATE,
    );
    if (old) trouble = 'away';
    const again = () => {
      tries = 0;
      drain();
    };
    window.addEventListener('online', again);
    window.addEventListener('focus', again);
    document.addEventListener('station:unlocked', again);
    window.addEventListener('pageshow', (event) => event.persisted && again());
    window.addEventListener('beforeunload', () => {
      leaving = Date.now();
    });
    window.addEventListener('pagehide', store.releaseLease);
    window.addEventListener('storage', (event) => {
      if (!store.concerns(event.key)) return;
      if (store.wasOurs(event)) told.elsewhere();
      told.changed();
      if (trouble !== 'away') drain(); // else two tabs would wake each other without a rest
    });
    told.changed();
    drain();
  }

  station.queue = { add, goOn, throwAway, state, start };
})();
