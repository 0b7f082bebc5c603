'use strict';
/* One short sound for each kind of result, made here, so that nothing has to be loaded.
   Silent where there is no audio, before the first key or touch, and when it is switched off. */
(() => {
  const station = (window.station = window.station || {});
  const SWITCH = 'coretrack.sound';

  /* Each note: start in seconds, length in seconds, pitch in hertz, wave. Rising is done, level and
     twice is a question, low and long is refused, one short tick is only said. */
  const NOTES = {
    good: [[0, 0.08, 660, 'sine'], [0.09, 0.12, 990, 'sine']],
    ask: [[0, 0.1, 587, 'triangle'], [0.16, 0.1, 587, 'triangle']],
    stop: [[0, 0.16, 196, 'square'], [0.2, 0.28, 147, 'square']],
    note: [[0, 0.06, 784, 'sine']],
  };
  const LOUD = { sine: 0.35, triangle: 0.35, square: 0.14 };
  let audio = null;

  function stored() {
    try {
      return window.localStorage.getItem(SWITCH);
    } catch {
      return null;
    }
  }

  let on = stored() !== 'off';

  function wake() {
    const Maker = window.AudioContext || window.webkitAudioContext;
    if (!on || !Maker) return;
    try {
      audio = audio || new Maker();
      if (audio.state === 'suspended') audio.resume().catch(() => {});
    } catch {
      audio = null; // no sound device: the page says everything in words as well
    }
  }

  function play(tone) {
    if (!on || !audio || audio.state === 'closed') return;
    try {
      for (const [start, length, pitch, wave] of NOTES[tone] || NOTES.note) {
        const source = audio.createOscillator();
        const loud = audio.createGain();
        const from = audio.currentTime + start;
        source.type = wave;
        source.frequency.value = pitch;
        loud.gain.setValueAtTime(0.0001, from);
        loud.gain.exponentialRampToValueAtTime(LOUD[wave], from + 0.01);
        loud.gain.exponentialRampToValueAtTime(0.0001, from + length);
        source.connect(loud).connect(audio.destination);
        source.start(from);
        source.stop(from + length + 0.02);
      }
    } catch {
      audio = null;
    }
  }

  function show(button) {
    button.setAttribute('aria-pressed', String(on));
    button.textContent = on ? 'Sound on' : 'Sound off';
  }

  function turn(button) {
    on = !on;
    try {
      window.localStorage.setItem(SWITCH, on ? 'on' : 'off');
    } catch {
      // remembered for this page only
    }
    show(button);
    wake();
    play('note');
  }

  for (const gesture of ['keydown', 'pointerdown']) {
    document.addEventListener(gesture, wake, { capture: true, passive: true });
  }
  const button = document.getElementById('sound');
  if (button) {
    show(button);
    button.addEventListener('click', () => turn(button));
  }
  station.sound = { play, isOn: () => on };
})();
