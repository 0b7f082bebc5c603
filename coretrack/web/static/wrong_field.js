'use strict';
/* Takes a scan that landed in any other field out of it again, and sends it where scans belong.
   A scan is known by its speed, or because it is one of the shop's own codes. */
(() => {
  const station = (window.station = window.station || {});
  const LEAST = 6; // signs; shorter bursts are no scan
  const MEAN = 30; // ms a key on average; hands are slower
  const MOST = 60; // ms for any one key
  const JUMP = 150; // ms for one late key among fast ones
  const STOP = 400; // ms that a scanner may stop in the middle, where it was fast before
  const PAUSE = 300; // ms between what a person typed and a slow scanner's code after it
  const ORDERS = 13;
  const OTHER_KEYS = new Set([
    'Shift', 'CapsLock', 'AltGraph', 'NumLock', 'Control', 'Alt', 'Meta',
  ]);
  const NO_TEXT = new Set([
    'checkbox', 'radio', 'button', 'submit', 'reset', 'file', 'image', 'range', 'color',
  ]);

  let field = null; // where the keys go now
  let atFocus = null; // what it held when the cursor came
  let keys = []; // {sign, time, before}: one burst or several
  let pasted = null; // {text, before}: what came in at once

  /* Whether `part` takes typed text or a choice by letters. */
  function takesText(part) {
    if (!(part instanceof HTMLElement) || part.readOnly) return false;
    if (part.isContentEditable || /^(TEXTAREA|SELECT)$/.test(part.tagName)) return true;
    return part.tagName === 'INPUT' && !NO_TEXT.has(part.type);
  }

  /* Fields that may take scans say so (data-scan="here"); a secret is nobody's to move. */
  const watched = (part) =>
    takesText(part) &&
    !part.isContentEditable &&
    part.type !== 'password' &&
    !station.isBox(part) &&
    !part.closest('[data-scan="here"]');

  /* Remainder of a long number by 97, digit by digit (ISO/IEC 7064 MOD 97-10: right when 1). */
  const by97 = (digits) => [...digits].reduce((rest, digit) => (rest * 10 + Number(digit)) % 97, 0);

  /* Whether the text is a core's tag or another code of the shop; see docs/identity.md. */
  function isOwnCode(text) {
    if (!/^(\d{10}|\d{12})$/.test(text) || by97(text) !== 1) return false;
    const long = text.length === 12;
    if (/^[1-8]/.test(text)) return !long || Number(text.slice(1, -2)) >= 1e7;
    const number = Number(text.slice(3, -2));
    if (!/^00[1-9]/.test(text) || (long && number < 1e5)) return false;
    return text[2] !== '9' || (number >= 1 && number <= ORDERS);
  }

  /* The text without what scanners and printed groups add. */
  const bare = (text) => text.replace(/^\][A-Za-z]\d/, '').replace(/[\s\u200b\u2060\ufeff]/g, '');

  const snapshot = (part) => ({ value: part.value, caret: station.page.caret(part) });

  function forget() {
    keys = [];
    pasted = null;
  }

  function restore(part, before) {
    part.value = before.value;
    try {
      if (before.caret[0] !== null) part.setSelectionRange(...before.caret);
    } catch {
      // no caret in this kind of field
    }
    part.dispatchEvent(new Event('input', { bubbles: true })); // pages that keep drafts see it too
  }

  /* Milliseconds from key number `at` to the one after it; after the last comes the ending key. */
  const gap = (at, end) => (at + 1 < keys.length ? keys[at + 1].time : end) - keys[at].time;

  /* Where the keys at the end begin that follow one another in less than `most` ms, when they are
     enough and on average too fast for hands; else -1. */
  function fastFrom(most, end) {
    let start = keys.length;
    while (start > 0 && gap(start - 1, end) < most) start -= 1;
    const count = keys.length - start;
    const mean = count ? (end - keys[start].time) / count : MEAN;
    return count >= LEAST && mean < MEAN ? start : -1;
  }

  /* What came too fast for hands, up to the ending key; else null. A single late key does not cut
     it, nor a stop of the scanner behind signs that were as fast: a part is never taken for all. */
  function burst(end) {
    let start = fastFrom(JUMP, end);
    if (start >= 0) {
      while (start > 1 && gap(start - 2, end) < MEAN && gap(start - 1, end) < STOP) {
        start -= 1;
        while (start > 0 && gap(start - 1, end) < MOST) start -= 1;
      }
    } else {
      start = fastFrom(MOST, end); // right behind what hands typed
    }
    if (start < 0) return null;
    return { text: keys.slice(start).map((key) => key.sign).join(''), before: keys[start].before };
  }

  /* An own code typed at any speed, at the start of what was typed or after a pause; else null. */
  function ownTyped() {
    for (const length of [12, 10]) {
      const start = keys.length - length;
      if (start < 0) continue;
      const apart = start === 0 || keys[start].time - keys[start - 1].time > PAUSE;
      const text = keys.slice(start).map((key) => key.sign).join('');
      if (apart && isOwnCode(text)) return { text, before: keys[start].before };
    }
    return null;
  }

  function ownValue() {
    if (pasted && keys.length === 0 && isOwnCode(bare(pasted.text))) return pasted;
    const changed = atFocus && field.value !== atFocus.value;
    if (!changed || field.tagName === 'SELECT' || !isOwnCode(bare(field.value))) return null;
    return { text: field.value, before: atFocus };
  }

  function label(part) {
    const own = part.labels && part.labels[0];
    const text = own ? own.textContent : part.getAttribute('aria-label');
    const name = (text || part.name || '').trim().replace(/\s+/g, ' ').replace(/:$/, '');
    return name ? `the field “${name}”` : 'another field';
  }

  /* What was taken out, to be put back where it was: a quick hand is no scanner. */
  function putBack(part, { text, before }) {
    if (part.tagName === 'SELECT') return null;
    const act = () => {
      const there = part.isConnected ? part : part.id && document.getElementById(part.id);
      station.show.remark('', '');
      if (!there) return;
      const [from, to] = before.caret[0] === null ? [before.value.length] : before.caret;
      const rest = before.value.slice(to ?? from);
      const value = before.value.slice(0, from) + text + rest;
      restore(there, { value, caret: [from + text.length, from + text.length] });
      there.focus();
    };
    return { text: `Put “${station.show.readable(text)}” back into it`, act };
  }

  function take(found) {
    const part = field;
    restore(part, found.before);
    const byHand = atFocus !== null && part.value !== atFocus.value;
    forget();
    const key = station.take(found.text);
    const rest = 'which holds what it held before';
    const told = `The scan was taken out of ${label(part)}, ${rest}.`;
    station.show.remark(key, told, putBack(part, found));
    if (byHand) atFocus = { ...snapshot(part), value: atFocus.value };
    else station.ready(true);
  }

  function onFocus(event) {
    field = watched(event.target) ? event.target : null;
    atFocus = field ? snapshot(field) : null;
    forget();
  }

  function onKey(event) {
    if (!watched(event.target) || event.isComposing) return;
    if (event.target !== field) onFocus(event);
    if (event.key === 'Enter' || event.key === 'Tab') {
      if (event.shiftKey) return;
      const found = burst(event.timeStamp) || ownTyped() || ownValue();
      if (found) {
        event.preventDefault();
        event.stopImmediatePropagation();
        take(found);
      }
      forget();
      return;
    }
    if (OTHER_KEYS.has(event.key)) return;
    if (event.key.length !== 1 || event.repeat || event.ctrlKey || event.metaKey) {
      keys = [];
      return;
    }
    if (keys.length === 400) keys.shift();
    keys.push({ sign: event.key, time: event.timeStamp, before: snapshot(field) });
  }

  /* Paste, and scanners that put in the whole text at once. */
  function onInput(event) {
    if (event.target !== field) return;
    const text = event.data ?? (event.dataTransfer ? event.dataTransfer.getData('text/plain') : '');
    if (text && text.length > 1) {
      keys = [];
      pasted = { text, before: snapshot(field) };
    }
  }

  /* The field was left by a button or a touch: a code of the shop does not stay in it. */
  function onChange(event) {
    if (event.target !== field || !event.isTrusted) return;
    const found = ownTyped() || ownValue();
    if (found) take(found);
  }

  function start() {
    document.addEventListener('focusin', onFocus, true);
    window.addEventListener('keydown', onKey, true);
    document.addEventListener('beforeinput', onInput, true);
    document.addEventListener('change', onChange, true);
    document.addEventListener('pointerdown', () => (keys = []), true);
    if (watched(document.activeElement)) onFocus({ target: document.activeElement });
  }

  station.wrongField = { start, takesText, isOwnCode };
})();
