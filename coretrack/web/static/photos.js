'use strict';
/* Sends photos as soon as they are taken, one after the other. A photo that could not be sent stays
   in this page until it was; without this script the button sends it. */
(() => {
  const MOST_BYTES = 45 * 1024 * 1024;
  const TRIES_AFTER = [0, 2000, 5000]; // ms

  const reading = document.getElementById('scan-photo');
  if (reading) {
    const file = document.getElementById('code-photo');
    file.addEventListener('change', () => file.files.length && reading.requestSubmit());
  }

  const form = document.getElementById('photo-form');
  if (!form) return;
  const camera = document.getElementById('photo');
  const several = document.getElementById('photos');
  const sending = document.getElementById('sending');
  const taken = document.getElementById('taken');
  const waiting = [];
  let busy = false;
  let room = Number(form.dataset.room);

  document.getElementById('several').hidden = false;
  camera.addEventListener('change', () => take(camera));
  several.addEventListener('change', () => take(several));
  form.addEventListener('submit', (event) => {
    if (!camera.files.length && !several.files.length) return;
    event.preventDefault();
    take(camera);
    take(several);
  });
  window.addEventListener('beforeunload', (event) => {
    if (busy || waiting.length) event.preventDefault();
  });

  const newKey = () =>
    [...crypto.getRandomValues(new Uint8Array(16))].map((one) => one.toString(16).padStart(2, '0')).join('');

  function take(input) {
    const what = form.elements.what.value;
    for (const file of input.files) {
      const line = document.createElement('li');
      sending.append(line);
      const job = { file, what, line, key: newKey() };
      if (file.size > MOST_BYTES) say(job, `${file.name} is too large to send; at most 45 MB.`);
      else waiting.push(job);
    }
    input.value = '';
    next();
  }

  function say(job, text, again) {
    job.line.textContent = text;
    if (!again) return;
    const button = document.createElement('button');
    button.type = 'button';
    button.textContent = 'Send again';
    button.addEventListener('click', () => {
      waiting.push(job);
      next();
    });
    job.line.append(button);
  }

  async function next() {
    if (busy) return;
    busy = true;
    try {
      while (waiting.length) await send(waiting[0]).finally(() => waiting.shift());
    } finally {
      busy = false;
    }
  }

  async function send(job) {
    for (const pause of TRIES_AFTER) {
      say(job, `Sending the photo (${job.what}) …`);
      if (pause) await new Promise((done) => setTimeout(done, pause));
      const answer = await ask(job);
      if (answer === null) continue; // no connection: the same key is sent again
      if (answer.token) {
        form.elements.csrf_token.value = answer.token;
        continue;
      }
      if (answer.error) return say(job, answer.error, answer.again);
      return show(job, answer);
    }
    return say(job, 'The photo could not be sent: no connection. It is kept here.', true);
  }

  async function ask(job) {
    const body = new FormData();
    for (const name of ['kind', 'of', 'back']) body.append(name, form.elements[name].value);
    body.append('key', job.key);
    body.append('what', job.what);
    body.append('photo', job.file, job.file.name || 'photo.jpg');
    const headers = { Accept: 'application/json', 'X-CSRFToken': form.elements.csrf_token.value };
    let response;
    try {
      response = await fetch(form.action, { method: 'POST', body, headers, credentials: 'same-origin' });
    } catch {
      return null;
    }
    const told = await response.json().catch(() => null);
    if (response.ok && told) return told;
    if (response.status === 400 && told && told.token) return { token: told.token };
    if (response.status === 413) return { error: 'That photo is too large to send.' };
    if (response.status === 401 || response.status === 423) {
      return { error: 'Signed out or locked: sign in in another tab, then', again: true };
    }
    if (told && told.error) return { error: told.error };
    return { error: `The photo was not stored (${response.status}).`, again: true };
  }

  function show(job, told) {
    job.line.textContent = `Stored: ${told.what}.`;
    room = told.room;
    if (document.querySelector(`#taken a[href="${told.whole}"]`)) return;
    const item = document.createElement('li');
    const link = document.createElement('a');
    const picture = document.createElement('img');
    const words = document.createElement('span');
    link.href = told.whole;
    picture.src = told.small;
    picture.alt = words.textContent = told.what;
    picture.width = picture.height = 120;
    link.append(picture);
    item.append(link, words);
    taken.append(item);
    document.getElementById('photo-count').textContent = taken.children.length;
    document.getElementById('photo-hint').textContent = `Opens the phone's camera. At most ${room} more.`;
  }
})();
