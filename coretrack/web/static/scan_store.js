'use strict';
/* Keeps every scan in the browser until it is answered, for each person, across reloads and pages.
   Each scan is an item of its own: two tabs that write at once then lose nothing. */
(() => {
  const station = (window.station = window.station || {});
  const person = encodeURIComponent(document.body.dataset.person || '');
  const SCANS = `coretrack.scan/${person}/`;
  const PAUSE = `coretrack.pause/${person}`;
  const SENDER = `coretrack.sender/${person}`;
  const FAILED = `coretrack.failed/${person}`;
  const LEASE = 9500; // ms; longer than one request may take

  const memory = new Map(); // what the browser would not keep: no storage, or storage full
  let lasting = null;
  try {
    lasting = window.localStorage;
  } catch {
    lasting = null;
  }

  function get(name) {
    if (memory.has(name)) return memory.get(name);
    return lasting ? lasting.getItem(name) : null;
  }

  function put(name, value) {
    try {
      lasting.setItem(name, value);
      memory.delete(name);
    } catch {
      memory.set(name, value);
    }
  }

  function drop(name) {
    memory.delete(name);
    if (lasting) lasting.removeItem(name);
  }

  /* crypto.randomUUID exists only on secure pages; a shop's own network is plain HTTP. */
  function newKey() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    return Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('');
  }

  const me = newKey(); // this page; a copied tab must not pass for the one it was copied from

  function tabName() {
    try {
      const known = window.sessionStorage.getItem('coretrack.tab') || newKey();
      window.sessionStorage.setItem('coretrack.tab', known);
      return known;
    } catch {
      return me;
    }
  }

  const tab = tabName(); // stays over reloads and pages of this tab

  function parsed(text) {
    try {
      return JSON.parse(text);
    } catch {
      return null;
    }
  }

  function all() {
    const names = new Set(memory.keys());
    const count = lasting ? lasting.length : 0;
    for (let place = 0; place < count; place += 1) names.add(lasting.key(place));
    return [...names]
      .filter((name) => name.startsWith(SCANS))
      .sort()
      .map((name) => ({ ...parsed(get(name)), name }))
      .filter((item) => item.key);
  }

  /* Names sort by the moment of the scan, also when the clock was set back in between. */
  function add(scan) {
    const last = all().pop();
    const after = last ? Number(last.name.slice(SCANS.length).split('-')[0]) + 1 : 0;
    const place = String(Math.max(Date.now(), after)).padStart(16, '0');
    const item = { ...scan, tab, name: `${SCANS}${place}-${scan.key}` };
    put(item.name, JSON.stringify({ ...scan, tab }));
    return item;
  }

  const pause = () => parsed(get(PAUSE) || 'null');
  const has = (item) => get(item.name) !== null;
  const remove = (item) => drop(item.name);

  function parked() {
    const stopped = pause();
    return stopped ? all().filter((item) => item.name <= stopped.upto) : [];
  }

  function waiting() {
    const stopped = pause();
    return all().filter((item) => !stopped || item.name > stopped.upto);
  }

  /* Parks everything that waits now; what is scanned afterwards is sent at once. */
  function park(why) {
    const last = all().pop();
    if (last) put(PAUSE, JSON.stringify({ ...why, upto: last.name }));
  }

  function sender() {
    const [until, who] = (get(SENDER) || '0|').split('|');
    const left = Number(until) - Date.now();
    return left > 0 && left <= LEASE ? who : ''; // a clock set back must not block for hours
  }

  function takeLease() {
    const who = sender();
    if (who && who !== me) return false;
    put(SENDER, `${Date.now() + LEASE}|${me}`);
    return true;
  }

  const holdsLease = () => sender() === me;

  function releaseLease() {
    if (holdsLease()) drop(SENDER);
  }

  const failedAt = () => Number(get(FAILED) || 0);
  const noteFailure = () => put(FAILED, String(Date.now()));
  /* Whether a change by another tab is one of these; without a name everything was emptied. */
  const concerns = (name) =>
    name === null || name.startsWith(SCANS) || name === PAUSE || name === SENDER;

  /* Whether another tab has just taken a scan of this one out of the store, having sent it. */
  function wasOurs({ key, oldValue, newValue }) {
    const gone = key !== null && key.startsWith(SCANS) && newValue === null;
    return gone && (parsed(oldValue) || {}).tab === tab;
  }

  station.store = {
    tab, newKey, add, has, remove, all, waiting, parked, pause, park,
    unpark: () => drop(PAUSE),
    takeLease, holdsLease, releaseLease, failedAt, noteFailure, concerns, wasOurs,
  };
})();
