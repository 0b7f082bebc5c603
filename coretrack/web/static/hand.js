'use strict';
/* The core in hand: whatever is changed in its form is kept at once and what it changes is shown;
   nothing is stored before that is done. A label that is wanted is printed. */
(() => {
  const station = window.station;
  const scan = document.getElementById('scan');
  const work = document.getElementById('work');
  if (!station || !scan || !work) return;

  let turn = 0;
  let sent = ''; // the form as it was sent last
  let keeping = null; // resolves to whether all that was typed is at the server
  let pressed = null; // resolves when the finger or the mouse button is up again
  let exchanging = false; // the form is being exchanged for a fresh one, not left by a person
  const LONGEST_PRESS = 1500; // ms that a fresh form waits for it

  const inHand = () => document.getElementById('hand');

  function moved(spot) {
    for (const name of ['page', 'code', 'seen']) {
      scan.dataset[name] = spot[name];
      if (scan.elements[name]) scan.elements[name].value = spot[name];
    }
  }

  async function post(address, told, again = true) {
    const answer = await fetch(address, {
      method: 'POST',
      body: told,
      headers: { Accept: 'application/json' },
      keepalive: true, // a link to another page does not lose it
    });
    if (answer.status === 423) {
      document.dispatchEvent(new CustomEvent('station:locked', { detail: { why: 'locked' } }));
    }
    const fresh = await answer.json();
    if (answer.status === 400 && fresh.token && again) {
      for (const field of document.querySelectorAll('input[name="csrf_token"]')) {
        field.value = fresh.token;
      }
      told.set('csrf_token', fresh.token);
      return post(address, told, false);
    }
    return answer.ok ? fresh : null;
  }

  /* Sends the form as it stands, after the one before it; only the newest answer is shown. */
  async function send(address, told, mine, before) {
    await before;
    let fresh = null;
    try {
      fresh = await post(address, told);
    } catch {
      fresh = null;
    }
    if (!fresh) {
      sent = '';
      const line = 'What you typed is still on the page, but not kept: the server does not answer.';
      station.show.own('stop', 'NOT KEPT', `${line} Try again.`);
      return false;
    }
    await pressed; // a button under the mouse must not be exchanged between press and release
    if (mine !== turn) return fresh.kept;
    exchanging = true;
    station.page.replace(work, fresh.html);
    exchanging = false;
    moved(fresh.spot);
    station.show.proposed(fresh.said);
    return fresh.kept;
  }

  function keep(form) {
    const told = new FormData(form);
    told.set('do', 'keep');
    told.delete('key');
    const text = JSON.stringify([...told].filter(([name]) => name !== 'seen'));
    if (text === sent && keeping) return;
    sent = text;
    turn += 1;
    const mine = send(form.action, told, turn, keeping);
    keeping = mine;
    mine.finally(() => {
      if (keeping === mine) keeping = null;
    });
  }

  /* Keeps what was typed and not kept yet; null when there is nothing to wait for. */
  station.keepTyped = () => {
    const form = inHand();
    if (form && station.page.typed(form).length) keep(form);
    return keeping;
  };

  /* A tick is kept at once, also one that is taken back; a text when its field is left. */
  function left(event) {
    const form = event.target.closest('form[data-live]');
    if (!form || form !== inHand() || exchanging) return;
    if (event.type === 'change' || station.page.typed(form).length) keep(form);
  }

  work.addEventListener('change', left);
  work.addEventListener('focusout', left);

  document.addEventListener('pointerdown', () => {
    pressed = new Promise((done) => {
      const up = () => setTimeout(done, 0); // after the click
      setTimeout(done, LONGEST_PRESS);
      document.addEventListener('pointerup', up, { once: true });
      document.addEventListener('pointercancel', up, { once: true });
      document.addEventListener('dragend', up, { once: true });
    });
  }, true);

  /* A button of the form waits for what is just being kept, so that one does not pass the other. */
  work.addEventListener('submit', (event) => {
    const form = event.target;
    if (!form.matches('form[data-live]') || !keeping) return;
    event.preventDefault();
    turn += 1; // the form stays as it is until it is sent
    const button = event.submitter;
    keeping.then(() => form.isConnected && form.requestSubmit(button));
  });

  const wanted = document.querySelector('[data-print]');
  if (wanted) station.page.print(wanted.dataset.print, () => {});
})();
