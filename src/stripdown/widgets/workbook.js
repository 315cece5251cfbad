// What all workbooks share: a page that is turned to is shown from its top, keys pressed are no commands to the notebook,
// and where the program behind the page has stopped, the page says so, takes no entry that would be lost, and offers
// the way back.
(() => {
  if (window.stripdownWorkbook) return;
  window.stripdownWorkbook = true;
  const titles = new WeakMap(); // workbook → title of the page on show

  const bar = document.createElement('div');
  bar.setAttribute('role', 'alert');
  bar.style.cssText = 'position:fixed;inset:auto 0 0 0;z-index:20000;background:#9b1c1c;color:#fff;font:600 18px/1.35 ' +
    'sans-serif;padding:.6rem 1rem;display:none;gap:1rem;flex-wrap:wrap;align-items:center;justify-content:space-between';
  const words = document.createElement('span');
  const again = document.createElement('button');
  again.textContent = 'Take it up again';
  again.style.cssText = 'font:inherit;min-height:48px;padding:0 1.2rem;border:2px solid #fff;border-radius:6px;' +
    'background:#fff;color:#9b1c1c;cursor:pointer';
  bar.append(words, again);
  document.body.append(bar);

  const app = () => window.jupyterapp?.commands;
  again.addEventListener('click', () => {
    document.querySelector('.jp-Dialog .jp-mod-accept')?.click();
    app()?.execute('notebook:run-all-cells');
  });

  const say = (lost) => {
    if ((bar.style.display !== 'none') === lost) return;
    bar.style.display = lost ? 'flex' : 'none';
    words.textContent = !lost ? '' : '■ The program behind this page has stopped. What was saved is not lost; nothing is ' +
      `taken in until it runs again${app() ? '.' : ': menu Run, Run All Cells.'}`;
    again.hidden = !app();
  };

  // on whatever has the focus: the notebook's own keys are matched there before its parents are asked
  const suppress = (event) => event.target.setAttribute('data-lm-suppress-shortcuts', 'true');

  const look = () => {
    const roots = [...document.querySelectorAll('.stripdown-workbook')];
    for (const root of roots) {
      root.inert = root.classList.contains('jupyter-widgets-disconnected');
      root.addEventListener('focusin', suppress);
      const title = root.querySelector('.sd-page h2, .lesson h2')?.textContent ?? '';
      if (titles.get(root) === title) continue;
      titles.set(root, title);
      root.scrollIntoView();
      root.querySelector('.sd-page')?.scrollTo(0, 0);
    }
    const gone = roots.length === 0 && document.querySelector('.jp-Notebook')?.textContent.includes('model not found');
    say(gone || roots.some((root) => root.inert));
  };
  window.addEventListener('resize', () => setTimeout(() => { // a tablet that is turned scrolls to nowhere
    for (const root of document.querySelectorAll('.stripdown-workbook')) {
      const { top, bottom } = root.getBoundingClientRect();
      if (bottom < 150 || top > window.innerHeight - 150) root.scrollIntoView();
    }
  }, 200));
  new MutationObserver(look).observe(document.body, { subtree: true, childList: true });
  setInterval(look, 1000); // a connection that breaks changes no element
  look();
})();
