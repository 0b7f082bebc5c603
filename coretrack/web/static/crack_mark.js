'use strict';
/* Marks a crack on the picture of the body: by a click, by the arrow keys, by a zone's number. The
   two number fields hold the mark; without this script they are typed. */
(() => {
  const STEP = 10; // thousandths of the picture for one key
  const FAR = 100; // with Shift
  const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  const within = (value) => Math.min(1000, Math.max(0, Math.round(value)));

  const part = (name) => document.getElementById(name);
  const picture = () => part('body-mark');
  let before = null; // the mark before a zone's number was typed, and the one it made

  function mark() {
    const [x, y] = ['crack-x', 'crack-y'].map((name) => part(name).value.trim());
    if (!/^\d{1,4}$/.test(x) || !/^\d{1,4}$/.test(y)) return null;
    return [within(Number(x)), within(Number(y))];
  }

  const zone = (x, y) => Math.min(2, Math.floor((y * 3) / 1000)) * 3 + Math.min(2, Math.floor((x * 3) / 1000)) + 1;

  /* Draws what the fields hold; `say` also tells it. */
  function draw(say) {
    if (!picture()) return;
    const at = mark();
    const shape = picture().querySelector('.crack-mark');
    const high = Number(picture().querySelector('svg').dataset.high);
    shape.setAttribute('visibility', at ? 'visible' : 'hidden');
    if (at) shape.setAttribute('transform', `translate(${at[0]} ${(at[1] * high) / 1000})`);
    if (!say) return;
    part('mark-said').textContent = at
      ? `Marked ${at[0]} across, ${at[1]} down: zone ${zone(...at)}.`
      : 'Not marked.';
  }

  function put(x, y) {
    part('crack-x').value = within(x);
    part('crack-y').value = within(y);
    draw(true);
  }

  function clear() {
    part('crack-x').value = part('crack-y').value = '';
    draw(true);
  }

  /* Marks the middle of the zone that was typed. Its number may be the first sign of something else,
     or of a scan that is taken out of the field again: then the mark is as it was before. */
  function byZone(found) {
    if (before && mark() && String(mark()) === String(before.now)) {
      if (before.was) put(...before.was);
      else clear();
    }
    before = null;
    if (!found) return;
    const was = mark();
    const number = Number(found[1]) - 1;
    put(((2 * (number % 3) + 1) * 1000) / 6, ((2 * Math.floor(number / 3) + 1) * 1000) / 6);
    before = { was, now: mark() };
  }

  document.addEventListener('click', (event) => {
    const there = event.target instanceof Element && event.target.closest('#body-mark');
    if (!there) return;
    const svg = there.querySelector('svg');
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    put(at.x, (at.y * 1000) / Number(svg.dataset.high));
    there.focus({ preventScroll: true });
  });

  /* Before the scan box's own keys, which would take the arrows for its offers. */
  window.addEventListener('keydown', (event) => {
    if (event.target !== picture() || event.ctrlKey || event.altKey || event.metaKey) return;
    if (event.key in ARROWS) {
      const step = event.shiftKey ? FAR : STEP;
      const [across, down] = ARROWS[event.key];
      const at = mark();
      if (at) put(at[0] + across * step, at[1] + down * step);
      else put(500, 500);
    } else if (event.key === 'Delete' || event.key === 'Backspace') {
      clear();
    } else if (event.key === 'Enter') {
      part('crack-form').requestSubmit();
    } else {
      return;
    }
    event.preventDefault();
    event.stopPropagation();
  }, true);

  document.addEventListener('input', (event) => {
    if (['crack-x', 'crack-y'].includes(event.target.id)) draw(true);
    if (event.target.id !== 'crack-place' || !picture()) return;
    byZone(/^(?:zone\s*)?([1-9])$/i.exec(event.target.value.trim()));
  });
  document.addEventListener('station:updated', () => draw(false));
  draw(false);
})();
