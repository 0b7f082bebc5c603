'use strict';
/* Shows what a sale says while it is typed: charge of the day, last day, numbers that begin so. */
(() => {
  const form = document.getElementById('sale');
  const terms = document.getElementById('sale-terms');
  if (!form || !terms) return;
  const ASKED = ['invoice', 'date', 'customer', 'number'];
  const REST = 300; // ms without a key before the shop is asked
  let waiting = 0;
  let asked = 0;

  async function look() {
    const mine = (asked += 1);
    const typed = new URLSearchParams();
    for (const name of ASKED) typed.set(name, form.elements[name].value);
    try {
      const answer = await fetch(`${form.getAttribute('action')}?${typed}`, {
        headers: { Accept: 'text/html' },
        credentials: 'same-origin',
      });
      if (!answer.ok || answer.redirected || mine !== asked) return;
      const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
      const fresh = page.getElementById('sale-terms');
      if (fresh && mine === asked) terms.replaceChildren(...fresh.childNodes);
    } catch {
      // only comfort is lost: the button shows the same
    }
  }

  form.addEventListener('input', (event) => {
    if (!ASKED.includes(event.target.name)) return;
    window.clearTimeout(waiting);
    waiting = window.setTimeout(look, REST);
  });

  /* Enter in the fields of a new customer adds the customer and does not store the sale. */
  const added = document.querySelector('#new-customer button');
  added.closest('details').addEventListener('keydown', (event) => {
    if (event.key !== 'Enter' || !event.target.matches('input')) return;
    event.preventDefault();
    added.click();
  });
})();
