'use strict';
/* What a result changes on the page: the work below the scan box, and paper to print. */
(() => {
  const station = (window.station = window.station || {});

  const fields = (work) => [...work.querySelectorAll('input, select, textarea')];

  /* How a field is found again in the fresh page: by its id, else by form, name and choice. */
  function nameOf(field) {
    if (field.id) return `#${field.id}`;
    const form = field.form ? field.form.id || field.form.getAttribute('action') || '' : '';
    const choice = field.type === 'radio' || field.type === 'checkbox' ? field.value : '';
    return `${form}|${field.name}|${choice}`;
  }

  function given(field) {
    if (field.type === 'checkbox' || field.type === 'radio') return String(field.defaultChecked);
    if (field.tagName !== 'SELECT') return field.defaultValue;
    return JSON.stringify([...field.options].filter((o) => o.defaultSelected).map((o) => o.value));
  }

  function present(field) {
    if (field.type === 'checkbox' || field.type === 'radio') return String(field.checked);
    if (field.tagName !== 'SELECT') return field.value;
    return JSON.stringify([...field.selectedOptions].map((option) => option.value));
  }

  /* The fields in which a person changed something that the server does not know. */
  const typed = (part) => fields(part).filter((field) => field.type !== 'hidden' && !untouched(field));

  const untouched = (field) => {
    if (field.tagName !== 'SELECT') return present(field) === given(field);
    return given(field) === '[]' ? field.selectedIndex <= 0 : present(field) === given(field);
  };

  function caret(field) {
    try {
      return [field.selectionStart, field.selectionEnd];
    } catch {
      return [null, null]; // number fields and the like do not tell
    }
  }

  function put(field, old) {
    if (field.type === 'file') {
      field.files = old.files;
    } else if (field.type === 'checkbox' || field.type === 'radio') {
      field.checked = old.checked;
    } else if (field.tagName === 'SELECT') {
      const chosen = new Set([...old.selectedOptions].map((option) => option.value));
      for (const option of field.options) option.selected = chosen.has(option.value);
    } else {
      field.value = old.value;
    }
  }

  function refocus(field, [start, end]) {
    field.focus({ preventScroll: true });
    try {
      if (start !== null) field.setSelectionRange(start, end);
    } catch {
      // no caret in this kind of field
    }
  }

  /* Puts `html` into `work`. What a person typed stays where the server's own value is the same
     as before; so do the cursor and what was unfolded. */
  function replace(work, html) {
    // What was said about an earlier act is stale once another is answered; papers stay at hand.
    document.querySelectorAll('main > .flash').forEach((said) => {
      if (!said.querySelector('a')) said.remove();
    });
    const kept = typed(work);
    const active = work.contains(document.activeElement) ? document.activeElement : null;
    const there = active && { name: nameOf(active), caret: caret(active) };
    const open = [...work.querySelectorAll('details[id][open]')].map((part) => part.id);
    work.innerHTML = html;
    const fresh = new Map(fields(work).map((field) => [nameOf(field), field]));
    for (const old of kept) {
      const field = fresh.get(nameOf(old));
      if (field && field.type === old.type && given(field) === given(old)) put(field, old);
    }
    for (const id of open) {
      const part = document.getElementById(id);
      if (part && part.tagName === 'DETAILS') part.open = true;
    }
    if (!there) return;
    const named = active.id ? document.getElementById(active.id) : fresh.get(there.name);
    if (named && work.contains(named)) refocus(named, there.caret);
  }

  /* Opens the print dialogue for a page of ours; calls `blocked` when it cannot. */
  function print(address, blocked) {
    document.querySelectorAll('iframe.print-frame').forEach((frame) => frame.remove());
    const frame = document.createElement('iframe');
    frame.className = 'print-frame';
    frame.title = 'Labels';
    frame.tabIndex = -1;
    frame.setAttribute('aria-hidden', 'true');
    frame.addEventListener('load', () => {
      try {
        frame.contentWindow.addEventListener('afterprint', () => station.ready());
        frame.contentWindow.focus();
        frame.contentWindow.print();
      } catch {
        blocked();
      }
      station.ready();
    });
    frame.src = address;
    document.body.append(frame);
  }

  station.page = { replace, print, caret, typed };
})();
