// What all workbooks share: a page that is turned to is shown from its top, keys pressed are no commands to the notebook,
// a press counts after all that was entered before it, the focus goes on where what had it is gone, and where the program behind the page has stopped, the page says so, takes no entry that would be lost, and offers
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

  // A field keeps a second entry back until the program has heard the first, a press would overtake it, and a kernel may even
  // take in two messages in another order than they were sent: a press waits until all that was sent before it is done.
  const LOST = 30000; // ms after which a message is given up, as after a kernel that died
  const underWay = new WeakMap(); // connection to a kernel → message to a widget → when it was sent
  const sent = () => {
    const kernel = window.jupyterapp?.shell.currentWidget?.sessionContext?.session?.kernel;
    if (kernel && !underWay.has(kernel)) {
      const messages = new Map();
      underWay.set(kernel, messages);
      kernel.anyMessage.connect((_, { msg, direction }) => {
        if (direction === 'send' && msg.header.msg_type === 'comm_msg') messages.set(msg.header.msg_id, Date.now());
        if (direction === 'recv' && msg.content.execution_state === 'idle') messages.delete(msg.parent_header.msg_id);
      });
    }
    return kernel ? underWay.get(kernel) : new Map();
  };
  const busy = () => [...sent().values()].some((when) => Date.now() - when < LOST);

  let passing = false;
  let waiting = 0;
  let presses = Promise.resolve();
  const pass = async (root, row, button, words) => {
    for (let quiet = 0; quiet < 2 && root.isConnected && !root.inert;) { // what was kept back is sent between the two
      await new Promise((go) => setTimeout(go, 4));
      quiet = busy() ? 0 : quiet + 1;
    }
    passing = true;
    // a row makes its buttons anew when it is told anything; a button that now says something else is not what was meant
    const there = row?.querySelectorAll('button') ?? [button];
    if (!root.inert) [...there].find((b) => b.isConnected && b.textContent === words)?.click();
    passing = false;
  };

  window.addEventListener('click', (event) => {
    const button = event.target.closest?.('.stripdown-workbook button:not(.widget-upload)');
    if (!button || passing || !(waiting || busy())) return;
    const root = button.closest('.stripdown-workbook');
    const row = button.closest('.widget-toggle-buttons');
    const words = button.textContent;
    event.preventDefault();
    event.stopImmediatePropagation();
    waiting += 1;
    const next = () => pass(root, row, button, words).finally(() => { waiting -= 1; });
    presses = presses.then(next, next);
  }, true);

  // on whatever has the focus: the notebook's own keys are matched there before its parents are asked
  const suppress = (event) => event.target.setAttribute('data-lm-suppress-shortcuts', 'true');

  // What is pressed by key may be gone after it (a caution that was confirmed, a guess that was committed): then the focus
  // goes to the same field made anew, or to the first thing that can be done next, and not to the top of the window.
  const onward = '.sd-page :is(button, input, select), button.sd-onward, .sd-onward :is(button, select)';
  let byKey = false;
  let focused = null;
  let field = null;
  window.addEventListener('keydown', () => { byKey = true; }, true);
  window.addEventListener('pointerdown', () => { byKey = false; }, true);
  window.addEventListener('focusin', (event) => {
    focused = event.target.closest?.('.stripdown-workbook') ? event.target : null;
    field = focused?.closest('.widget-toggle-buttons');
  });
  const can = (e) => e.offsetParent && !e.disabled && e.tabIndex >= 0;
  let settled = 0;
  const keepFocus = (root) => { // once all of the new page is there
    clearTimeout(settled);
    settled = setTimeout(() => focusOn(root), 150);
  };
  const focusOn = (root) => {
    if (!byKey || document.activeElement !== document.body || !focused || root.inert) return;
    if (focused.isConnected && can(focused)) return;
    const there = [...(field?.isConnected ? field.querySelectorAll('button') : root.querySelectorAll(onward))].filter(can);
    (there.find((e) => e.textContent === focused.textContent) ?? there[0])?.focus({ preventScroll: true });
  };

  const look = () => {
    const roots = [...document.querySelectorAll('.stripdown-workbook')];
    if (roots.length) sent(); // from now on it is known what is under way
    for (const root of roots) {
      root.inert = root.classList.contains('jupyter-widgets-disconnected');
      root.addEventListener('focusin', suppress);
      keepFocus(root);
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
