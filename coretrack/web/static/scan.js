'use strict';
/* The scan box that is always ready: where the cursor is, what ends a scan, what happens after. */
(() => {
  const station = (window.station = window.station || {});
  const form = document.getElementById('scan');
  const box = document.getElementById('scan-text');
  if (!form || !box) return;
  const said = document.getElementById('said');
  const work = document.getElementById('work');
  const TWICE = 1000; // ms within which the same text is one scan
  const BOUNCE = 300; // ms where gauges type: their next reading may be the same to the last digit
  const GAUGES = new Set(['bench', 'second', 'study']); // pages on which they do
  const SECOND_ENTER = 500; // ms after a scan in which an Enter belongs to it
  const BY_SCANNER = 60; // ms after a scan in which only a scanner can press Enter again
  const LAST = 'coretrack.last-scan';
  const CARRIED = 'coretrack.carried'; // a reply that opened the page on which it is shown
  const CARRIED_FOR = 10000; // ms
  /* Control signs that labels hold (GS, RS, EOT): scanners press Ctrl and these keys for them. */
  const CONTROL = {
    ']': '\x1d', BracketRight: '\x1d', '^': '\x1e', Digit6: '\x1e', d: '\x04', KeyD: '\x04',
  };
  const ORDER = /^009\d{5}(\d{2})?\d{2}$/; // the shop's order codes: done, undo, refuse …
  const coarse = window.matchMedia('(pointer: coarse)').matches;

  function remembered(name) {
    try {
      return JSON.parse(window.sessionStorage.getItem(name) || 'null');
    } catch {
      return null;
    }
  }

  function remember(name, value) {
    try {
      window.sessionStorage.setItem(name, JSON.stringify(value));
    } catch {
      // only comfort is lost: the server holds a double scan as well
    }
  }

  const dispatch = (name, detail) => document.dispatchEvent(new CustomEvent(name, { detail }));
  const spot = () => ({
    page: form.dataset.page || 'home',
    code: form.dataset.code || '',
    seen: form.dataset.seen || '',
  });

  /* Whether a person is at this place by hand, so that the cursor must stay there. */
  function inUse(part) {
    if (!part || part === box || part === document.body) return false;
    if (station.wrongField.takesText(part)) return true;
    return part.matches('input[type=checkbox]:focus-visible, input[type=radio]:focus-visible');
  }

  /* Puts the cursor into the box, unless a person is typing elsewhere; `always` even then. */
  station.ready = (always = false) => {
    if (coarse || document.querySelector('dialog[open]')) return;
    if (always || !inUse(document.activeElement)) box.focus({ preventScroll: true });
  };

  station.isBox = (part) => part === box;

  /* The scan that was made last, if this one is the same: the same text at the same page at once. */
  function twice(text, at) {
    const before = remembered(LAST);
    const { page, code } = spot();
    const reading = GAUGES.has(page) && text.trim() && !station.wrongField.isOwnCode(text.trim());
    const apart = before && before.text === text ? at - before.at : -1;
    if (apart < 0 || apart >= (reading ? BOUNCE : TWICE)) return null;
    return before.page === page && before.code === code ? before : null;
  }

  /* Takes one scan; returns its key. The same text again at once is the same scan. */
  station.take = (text) => {
    const at = Date.now();
    const same = twice(text, at);
    if (same) {
      const told = station.show.readable(text);
      station.show.once(same.key, `${told} was read twice within a second. It counts once.`);
      return same.key;
    }
    const key = station.store.newKey();
    const { page, code, seen } = spot();
    remember(LAST, { text, at, key, page, code });
    station.show.remark(key, '');
    if (station.queue.state().trouble) keptReply(station.queue.state().trouble);
    else station.show.awaiting();
    const send = () => {
      station.queue.add({ key, text, page, code, seen, at });
      dispatch('station:scan', { key, text });
    };
    const keeping = station.keepTyped ? station.keepTyped() : null;
    if (keeping) keeping.then((kept) => (kept || !decides(text) ? send() : notKept()));
    else send();
    return key;
  };

  /* Whether a scan may store the core in hand, and what is typed with it. */
  const decides = (text) =>
    text === '' || text.startsWith('=') || ORDER.test(text.replace(/\s/g, ''));

  /* What a person typed about the core is not at the server: nothing is decided without it. */
  function notKept() {
    remember(LAST, null);
    station.show.settled();
    station.ready();
  }

  function keptReply(trouble) {
    if (trouble === 'away') {
      station.show.own('note', 'KEPT', 'The server does not answer. The scan is kept and sent later.');
    } else {
      const links = [{ text: 'Sign in', address: window.location.href }];
      station.show.own('stop', 'SIGN IN', 'The scan is kept until you have signed in again.', links);
    }
  }

  function failed(item, kind, status) {
    if (kind === 'fault') {
      station.show.own('stop', 'NOT TAKEN', `The server did not take this scan (error ${status}).`);
    } else {
      keptReply(kind);
    }
    if (kind === 'locked' || kind === 'signed out') dispatch('station:locked', { why: kind });
  }

  function moveTo(told) {
    form.dataset.page = told.page || 'home';
    form.dataset.code = told.code || '';
    form.dataset.seen = told.seen || '';
    for (const name of ['page', 'code', 'seen']) {
      if (form.elements[name]) form.elements[name].value = form.dataset[name];
    }
  }

  function sameSite(address) {
    if (!address) return '';
    const full = new URL(address, window.location.href);
    return full.origin === window.location.origin ? full.href : '';
  }

  function answered(item, answer, late) {
    const now = spot();
    const here = item.page === now.page && item.code === now.code;
    const go = sameSite(answer.go);
    const paper = sameSite(answer.print);
    const links = [];
    // A page with something half typed on it is not left for another; it is only offered.
    const stays = !here || (work !== null && station.page.typed(work).length > 0);
    const open = sameSite(answer.open || (go && stays ? go : ''));
    if (open) links.push({ text: 'Open it', address: open });
    if (paper) links.push({ text: 'Open the print page', address: paper });
    station.show.reply(answer.reply, item.key, links);
    station.show.lastFive(answer.last);
    station.sound.play(answer.reply.tone);
    const replaced = here && typeof answer.html === 'string' && work !== null;
    if (replaced) station.page.replace(work, answer.html);
    if (here && answer.spot) moveTo(answer.spot);
    if (paper) station.page.print(paper, () =>
      station.show.remark(item.key, 'The browser did not open its print window; use the link.'),
    );
    dispatch('station:updated', { reply: answer.reply, spot: spot(), replaced, late, key: item.key });
    if (go && !stays) {
      remember(CARRIED, { reply: answer.reply, key: item.key, at: Date.now() });
      window.location.assign(go);
      return;
    }
    station.ready();
  }

  /* A token that ran out is renewed in every form of the page, so that none of them fails later. */
  function fresh(token) {
    document.querySelectorAll('input[name="csrf_token"]').forEach((field) => {
      field.value = token;
    });
  }

  function end(text) {
    box.value = '';
    if (!text.trim()) {
      agree();
      return;
    }
    if (box.maxLength > 0 && text.length >= box.maxLength) {
      const most = `A scan has fewer than ${box.maxLength} signs; nothing was done.`;
      station.show.own('stop', 'TOO LONG', most);
      return;
    }
    station.take(text);
  }

  /* Enter in the empty box says yes to what is proposed. A scanner that ends a code with two Enters
     must not: just after a scan, and while one is on its way, the second is nothing. */
  function agree() {
    const before = remembered(LAST);
    const since = before ? Date.now() - before.at : Infinity;
    const quiet = since > SECOND_ENTER;
    const { waiting, trouble } = station.queue.state();
    // Without the server nothing is proposed: the yes is kept, and only a clean core is stored by it.
    if (quiet && (trouble === 'away' || (waiting.length === 0 && spot().seen))) station.take('');
    else if (since > BY_SCANNER && spot().seen) tooSoon(before);
  }

  /* A person's Enter that came too soon must not be taken for one that stored something. */
  function tooSoon(before) {
    const said = 'TOO SOON: that Enter did nothing. Look, then press Enter again.';
    station.show.remark(before ? before.key : '', said);
  }

  function insert(sign) {
    box.setRangeText(sign, box.selectionStart, box.selectionEnd, 'end');
  }

  function inBox(event) {
    const tabbed = event.key === 'Tab' && !event.shiftKey && box.value !== '';
    const ends = event.key === 'Enter' || tabbed;
    const control = event.ctrlKey && !event.altKey && !event.metaKey;
    const ended = ends || (control && (event.key === 'j' || event.key === 'm'));
    if (ended) {
      event.preventDefault();
      if (!event.repeat) end(box.value);
    } else if (control && (CONTROL[event.key] || CONTROL[event.code])) {
      event.preventDefault();
      insert(CONTROL[event.key] || CONTROL[event.code]);
    } else if (event.key === 'ArrowDown' && box.value === '') {
      const first = said.querySelector('.offers .offer');
      if (first) {
        event.preventDefault();
        first.focus();
      }
    }
  }

  function amongOffers(event) {
    const steps = { ArrowDown: 1, ArrowRight: 1, ArrowUp: -1, ArrowLeft: -1 };
    if (!(event.key in steps)) return;
    const offers = [...said.querySelectorAll('.offers .offer')];
    const next = offers.indexOf(event.target) + steps[event.key];
    event.preventDefault();
    if (next < 0) station.ready(true);
    else if (next < offers.length) offers[next].focus();
  }

  /* Only the row of digits: scanners in ALT mode press Alt and the digits of the number pad. */
  function byNumber(event) {
    const digit = /^Digit(\d)$/.exec(event.code);
    if (!digit || !event.altKey || event.ctrlKey || event.metaKey || event.repeat) return false;
    const offer = said.querySelector(`.offer[aria-keyshortcuts="Alt+${digit[1]}"]`);
    if (!offer) return false;
    event.preventDefault();
    offer.click();
    return true;
  }

  function toBox(event) {
    const part = document.activeElement;
    if (station.wrongField.takesText(part) || document.querySelector('dialog[open]')) return;
    if (event.key === ' ' && part !== document.body) return; // presses the button or ticks the box
    if (coarse) box.inputMode = 'none'; // a scanner typed: no keyboard over half of the screen
    box.focus({ preventScroll: true });
  }

  function onKey(event) {
    if (event.isComposing || byNumber(event)) return;
    if (event.key === 'Escape') {
      if (document.querySelector('dialog[open]')) return;
      box.focus({ preventScroll: true });
      box.select();
    } else if (event.target === box) {
      inBox(event);
    } else if (event.key.startsWith('Arrow') && said.querySelector('.offer:focus')) {
      amongOffers(event);
    } else if (event.key.length === 1 && !event.ctrlKey && !event.metaKey && !event.altKey) {
      toBox(event);
    }
  }

  function onClick(event) {
    const on =
      'a, button, input, select, textarea, label, summary, dialog, [tabindex], [contenteditable]';
    const marking = window.getSelection() && !window.getSelection().isCollapsed;
    if (!marking && event.target instanceof Element && !event.target.closest(on)) station.ready();
  }

  /* Shows the reply that opened this page, unless the page itself has more to say. The scanner may
     read the code that led here once more: that is still the same scan. */
  function showCarried() {
    const carried = remembered(CARRIED);
    remember(CARRIED, null);
    if (!carried || Date.now() - carried.at >= CARRIED_FOR) return;
    const before = remembered(LAST);
    const { page, code } = spot();
    if (before && before.key === carried.key) remember(LAST, { ...before, page, code });
    // "Opening it" is over once it is open: then the page says what comes next.
    const over = carried.reply.tone === 'note' && 'own' in said.dataset;
    if (!('proposed' in said.dataset) && !over) station.show.reply(carried.reply, carried.key);
  }

  /* The first field of a form that came back because of it: in sight, with its message below. */
  function toWrong() {
    const wrong = document.querySelector('#work [aria-invalid="true"]:not(:disabled)');
    if (!wrong) return false;
    for (let part = wrong.closest('details'); part; part = part.parentElement.closest('details')) {
      part.open = true;
    }
    wrong.focus({ preventScroll: true });
    // No further than it must, so that the panel stays in sight where both have room.
    (wrong.closest('.field') || wrong).scrollIntoView({ block: 'nearest' });
    return true;
  }

  function start() {
    // The page's own first field: the browser comes to it later than this script on a busy computer.
    if (!toWrong()) document.querySelector('[autofocus]')?.focus();
    form.addEventListener('submit', (event) => {
      event.preventDefault();
      const by = event.submitter;
      if (by && by.name === 'text') station.take(by.value);
      else end(box.value);
      station.ready();
    });
    document.addEventListener('keydown', onKey);
    document.addEventListener('click', onClick);
    box.addEventListener('pointerdown', () => (box.inputMode = ''));
    window.addEventListener('focus', () => station.ready());
    document.addEventListener('visibilitychange', () => document.hidden || station.ready());
    window.addEventListener('pageshow', (event) => event.persisted && station.ready());
    showCarried();
    station.wrongField.start();
    station.queue.start({
      address: form.getAttribute('action'),
      token: () => form.elements.csrf_token.value,
      fresh,
      answered,
      failed,
      elsewhere: () =>
        station.show.own('note', 'SENT', 'Another open window sent the scan and shows its answer.'),
      changed: () => station.show.waiting(station.queue.state()),
    });
    station.ready();
  }

  start();
})();
