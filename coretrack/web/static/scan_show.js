'use strict';
/* Shows what a scan led to: the large result, its choices, the last five, what still waits. */
(() => {
  const station = (window.station = window.station || {});
  const said = document.getElementById('said');
  const last = document.getElementById('last');
  const queue = document.getElementById('queue');
  const lately = document.getElementById('lately');
  const TONES = ['good', 'ask', 'stop', 'note'];
  const UNDO = '0090000287'; // the shop's order code "undo"
  const SLOW = 400; // ms until the page says that an answer is awaited
  let aside = { key: '', text: '', choice: null };
  let double = { key: '', text: '' }; // the scan that was read twice, and what is said of it
  let shown = { key: '', told: null }; // the reply on show
  let slow = 0;
  let drawn = '';

  function make(tag, kind, text) {
    const part = document.createElement(tag);
    if (kind) part.className = kind;
    if (text !== undefined) part.textContent = text;
    return part;
  }

  function button(text, act, kind) {
    const made = make('button', kind, text);
    made.type = 'button';
    made.addEventListener('click', act);
    return made;
  }

  function link(text, address) {
    const made = make('a', 'offer', text);
    made.href = address;
    return made;
  }

  function toned(part, tone) {
    TONES.forEach((other) => part.classList.toggle(`tone-${other}`, other === tone));
  }

  /* A tag in groups of four, as it is printed; other texts as they are, cut when very long. */
  function readable(text) {
    if (text === '') return 'Enter alone, for yes';
    if (/^(\d{10}|\d{12})$/.test(text)) return text.match(/.{1,4}/g).join(' ');
    return text.length > 40 ? `${text.slice(0, 40)}…` : text;
  }

  const scans = (count) => (count === 1 ? '1 scan' : `${count} scans`);

  function showAside() {
    let line = said.querySelector('.aside');
    if (!aside.text) {
      if (line) line.remove();
      return;
    }
    if (!line) {
      line = make('p', 'aside');
      said.querySelector('.offers').before(line);
    }
    line.textContent = aside.text;
    if (aside.choice) line.append(' ', aside.choice);
  }

  /* A remark beside the result of the scan with that key; it stays when that result arrives. With
     a `choice` {text, act} it has a button, which Alt+0 presses too. */
  function remark(key, text, choice = null) {
    aside = { key, text, choice: null };
    if (choice) {
      const made = button('', choice.act, 'offer');
      made.append(make('kbd', '', 'Alt+0'), make('span', '', choice.text));
      made.setAttribute('aria-keyshortcuts', 'Alt+0');
      aside.choice = made;
    }
    showAside();
  }

  /* Says at arm's length that a scan was read twice and counts once; what it led to stays below.
     A question or a stop keeps its own large word: it has to be answered. */
  function once(key, text) {
    double = { key, text };
    const told = shown.key === key && shown.told ? shown.told : null;
    const waits = told !== null && ['ask', 'stop'].includes(told.tone);
    if (waits) {
      remark(key, `ONCE: ${text}`);
    } else {
      settled();
      words('note', 'ONCE', text, told ? summed(told) : '');
      if (!told) said.querySelector('.offers').replaceChildren();
    }
    station.sound.play('note');
    toSight();
  }

  const summed = (told) => [`${told.word}: ${told.line}`, told.detail].filter(Boolean).join(' ');

  function words(tone, word, line, detail) {
    said.classList.remove('rest');
    toned(said, tone);
    said.querySelector('.word').textContent = word;
    said.querySelector('.line').textContent = line;
    said.querySelector('.detail').textContent = detail;
  }

  /* An answer that is off the screen is no answer. */
  const toSight = () => said.scrollIntoView({ block: 'nearest' });

  function settled() {
    clearTimeout(slow);
    said.classList.remove('awaiting');
  }

  function chosen(offers) {
    return offers.map((offer, place) => {
      const made = button('', () => station.take(offer.scan), 'offer');
      if (place < 9) {
        made.append(make('kbd', '', `Alt+${place + 1}`));
        made.setAttribute('aria-keyshortcuts', `Alt+${place + 1}`);
      }
      made.append(make('span', '', offer.text));
      return made;
    });
  }

  /* Shows one reply; `key` is the key of its scan, `extra` further links {text, address}. */
  function reply(told, key, extra = []) {
    settled();
    shown = { key, told };
    const read = key !== '' && double.key === key;
    const waits = ['ask', 'stop'].includes(told.tone);
    if (read && !waits) words('note', 'ONCE', double.text, summed(told));
    else words(told.tone, told.word, told.line, told.detail || '');
    if (read && waits) aside = { key, text: `ONCE: ${double.text}`, choice: null };
    const offers = [...(told.offers || [])];
    if (told.undo) offers.push({ text: `Undo: ${told.undo}`, scan: UNDO });
    const links = extra.map(({ text, address }) => link(text, address));
    said.querySelector('.offers').replaceChildren(...chosen(offers), ...links);
    if (aside.key !== key) aside = { key: '', text: '', choice: null };
    showAside();
    toSight();
  }

  /* What is proposed for the core in hand after a change of its form: nobody asked for it by a
     scan, so the page stays where it is, and so does the sound. */
  function proposed({ tone, word, line, detail }) {
    settled();
    shown = { key: '', told: null };
    words(tone, word, line, detail);
    said.querySelector('.offers').replaceChildren();
    remark('', '');
  }

  /* The page's own words, where there is no answer of the server. */
  function own(tone, word, line, links) {
    reply({ tone, word, line }, '', links);
    station.sound.play(tone);
  }

  function awaiting() {
    clearTimeout(slow);
    slow = setTimeout(() => said.classList.add('awaiting'), SLOW);
  }

  function lastFive(results) {
    if (!last || !Array.isArray(results)) return;
    last.replaceChildren(
      ...results.slice(0, 5).map((result) => {
        const row = make('li');
        const shape = make('span', 'shape');
        shape.setAttribute('aria-hidden', 'true');
        toned(row, result.tone);
        row.append(shape, make('b', '', result.word), ' ');
        row.append(make('span', '', result.line), ' ', make('time', '', result.at));
        return row;
      }),
    );
  }

  function listed(items) {
    const list = make('ul', 'kept');
    list.append(...items.slice(0, 8).map((item) => make('li', '', readable(item.text))));
    if (items.length > 8) list.append(make('li', '', `and ${items.length - 8} more`));
    return list;
  }

  function askOnceMore(first) {
    const count = first ? 1 : station.queue.state().parked.length;
    const sure = button(`Yes, throw away ${scans(count)}`, () => {
      drawn = '';
      station.queue.throwAway(first);
      station.ready();
    });
    const keep = button('Keep', () => {
      drawn = '';
      waiting(station.queue.state());
      station.ready();
    });
    queue.querySelector('.choices').replaceChildren(keep, sure);
    keep.focus();
  }

  function goOn() {
    station.queue.goOn();
    station.ready();
  }

  function stopped(pause, parked) {
    const count = parked.length;
    const choices = make('div', 'choices');
    if (pause.why === 'fault') {
      const scan = readable(pause.text);
      const line = `The server did not take the scan ${scan} (error ${pause.status}).`;
      const rest = `${scans(count)} still ${count === 1 ? 'waits' : 'wait'}.`;
      choices.append(button('Try again', goOn));
      choices.append(button('Throw away this scan', () => askOnceMore(true)));
      return [make('p', '', `${line} ${rest}`), listed(parked), choices];
    }
    const line = `${scans(count)} still ${count === 1 ? 'waits' : 'wait'}, because one got: `;
    const why = make('p', '', line);
    why.append(make('strong', '', pause.word), ` ${pause.line}`);
    choices.append(button('Go on', goOn));
    choices.append(button(`Throw away ${scans(count)}`, () => askOnceMore(false)));
    return [why, listed(parked), choices];
  }

  function kept(trouble, count) {
    const line = `${scans(count)} ${count === 1 ? 'waits' : 'wait'}`;
    const choices = make('div', 'choices');
    if (trouble === 'away') {
      const rest = 'Nothing is lost: what you scan is kept here and sent in order.';
      choices.append(button('Try now', goOn));
      return [make('p', '', `${line} for the server. ${rest}`), choices];
    }
    choices.append(link('Sign in', window.location.href));
    return [make('p', '', `${line} until you sign in again.`), choices];
  }

  /* Shows how many scans wait, and why; hidden while all goes well. */
  function waiting(state) {
    const names = (items) => items.map((item) => item.key);
    const { trouble, pause, parked } = state;
    const count = state.waiting.length;
    const now = JSON.stringify([trouble, pause, names(parked), count]);
    if (!queue || now === drawn) return;
    drawn = now;
    const parts = [];
    if (pause) parts.push(...stopped(pause, parked));
    if (trouble && count) parts.push(...kept(trouble, count));
    queue.replaceChildren(...parts);
    queue.hidden = parts.length === 0;
  }

  // On a phone the work has the screen; what was scanned before is one touch away.
  if (lately && window.matchMedia('(max-width: 34rem)').matches) lately.open = false;

  station.show = {
    reply, own, once, proposed, remark, awaiting, settled, lastFive, waiting, readable, make,
  };
})();
