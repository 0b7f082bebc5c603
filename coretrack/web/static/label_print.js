'use strict';
/* The print button of a page of labels; without a script the browser's own menu prints it. */
(() => {
  const button = document.getElementById('print');
  button.hidden = false;
  button.addEventListener('click', () => window.print());
  if (window.self === window.top) button.focus();
})();
