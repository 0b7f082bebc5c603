'use strict';
/* Says what limits mean while a plan is typed; without it the next look at the plan says the same. */
(() => {
  const form = document.getElementById('plan');
  if (!form) return;

  const value = (name) => (form.elements[name] ? form.elements[name].value : '');

  function place(field) {
    let note = document.getElementById(`${field.name}-means`);
    if (!note) {
      note = document.createElement('p');
      note.className = 'quiet';
      note.id = `${field.name}-means`;
      field.after(note);
      const others = field.getAttribute('aria-describedby') || '';
      field.setAttribute('aria-describedby', `${note.id} ${others}`.trim());
    }
    return note;
  }

  async function say(field) {
    const check = field.name.split('-')[0];
    const asked = new URLSearchParams({
      text: field.value,
      unit: value(`${check}-unit`),
      nominal: value(`${check}-nominal`),
    });
    try {
      const answer = await fetch(`${form.dataset.limitsAt}?${asked}`);
      if (answer.ok) place(field).textContent = await answer.json();
    } catch {
      // the look at the plan says it
    }
  }

  form.addEventListener('change', (event) => {
    if (event.target.matches('[data-limits]')) say(event.target);
    const check = /^(c\d+)-(unit|nominal)$/.exec(event.target.name || '');
    if (!check) return;
    for (const field of form.querySelectorAll(`[data-limits][name^="${check[1]}-"]`)) say(field);
  });
})();
