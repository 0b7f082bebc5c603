'use strict';
/* The core in hand: a tick shows at once what it changes, and a label that is wanted is printed. */
(() => {
  const station = window.station;
  const scan = document.getElementById('scan');
  const work = document.getElementById('work');
  if (!station || !scan || !work) return;

  function moved(spot) {
    for (const name of ['page', 'code', 'seen']) {
      scan.dataset[name] = spot[name];
      if (scan.elements[name]) scan.elements[name].value = spot[name];
    }
  }

  let turn = 0;
  /* Sends the form as it stands; only the newest answer is shown. */
  async function keep(form) {
    const mine = ++turn;
    const told = new FormData(form);
    told.set('do', 'keep');
    told.delete('key');
    const answer = await fetch(form.action, {
      method: 'POST',
      body: told,
      headers: { Accept: 'application/json' },
    });
    if (!answer.ok || mine !== turn) return;
    const fresh = await answer.json();
    station.page.replace(work, fresh.html);
    moved(fresh.spot);
  }

  work.addEventListener('change', (event) => {
    const form = event.target.closest('form[data-live]');
    if (!form || !event.target.matches('[type=checkbox], [type=radio], [type=number]')) return;
    keep(form).catch(() => {
      // Without the server the tick stays on the page and goes with the next button.
    });
  });

  const wanted = document.querySelector('[data-print]');
  if (wanted) station.page.print(wanted.dataset.print, () => {});
})();
