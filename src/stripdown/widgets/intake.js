// Keys and names for the answer buttons: digits answer, arrows move, one tab stop a row; readers hear what is pressed.
(() => {
  if (window.stripdownIntakeKeys) return;
  window.stripdownIntakeKeys = true;
  const buttonsOf = (row) => [...row.querySelectorAll('button')];

  const dress = (root) => {
    for (const row of root.querySelectorAll('.widget-toggle-buttons')) {
      const group = row.querySelector(':scope > div');
      const label = row.querySelector('.widget-label');
      if (!group) continue;
      group.setAttribute('role', 'group');
      if (label) group.setAttribute('aria-label', label.textContent);
      const buttons = buttonsOf(row);
      const stop = buttons.find((b) => b === document.activeElement)
        ?? buttons.find((b) => b.classList.contains('mod-active')) ?? buttons[0];
      for (const b of buttons) {
        b.removeAttribute('title');
        b.setAttribute('aria-pressed', String(b.classList.contains('mod-active')));
        b.tabIndex = b === stop ? 0 : -1;
      }
    }
    for (const button of root.querySelectorAll('.widget-upload')) { // how many are on their way, always none
      for (const node of button.childNodes) if (node.nodeType === 3) node.data = node.data.replace(' (0)', '');
    }
    for (const node of root.querySelectorAll('.sd-now')) node.setAttribute('role', 'status');
    for (const node of root.querySelectorAll('.sd-page, .sd-live')) node.tabIndex = 0;
  };

  const watched = new WeakSet();
  const look = () => {
    for (const root of document.querySelectorAll('.sd-intake')) {
      dress(root);
      if (watched.has(root)) continue;
      watched.add(root);
      new MutationObserver(() => dress(root)).observe(root, { subtree: true, childList: true, attributeFilter: ['class'] });
    }
  };
  new MutationObserver(look).observe(document.body, { subtree: true, childList: true });
  look();

  const focus = (button) => { if (button) { button.tabIndex = 0; button.focus(); } };
  window.addEventListener('keydown', (event) => {
    const row = event.target.closest?.('.sd-intake .widget-toggle-buttons');
    if (!row || event.ctrlKey || event.altKey || event.metaKey) return;
    const buttons = buttonsOf(row);
    const at = buttons.indexOf(event.target);
    const rows = [...row.closest('.sd-intake').querySelectorAll('.widget-toggle-buttons')];
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    const down = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    const pressed = buttons.find((b) => b.textContent.trim().startsWith(`${event.key} `));
    if (step) focus(buttons[(at + step + buttons.length) % buttons.length]);
    else if (down) {
      const other = rows[rows.indexOf(row) + down];
      if (other) focus(buttonsOf(other).find((b) => b.tabIndex === 0));
    } else if (/^[0-9]$/.test(event.key) && pressed) { focus(pressed); pressed.click(); } else return;
    event.preventDefault();
    event.stopPropagation();
  }, true);
})();
