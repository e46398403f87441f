// Leads a meeting through the screens of the page: one key or button, one claim.
(() => {
  const screens = [...document.querySelectorAll('section.claim')];
  const bar = document.querySelector('.present');
  const place = bar.querySelector('.place');
  const button = name => bar.querySelector(`[data-do=${name}]`);
  const root = document.documentElement;
  let at = 0, landed = -1, heard = true;

  function show(number) {
    at = Math.min(Math.max(number, 0), screens.length - 1);
    place.textContent = `${at + 1} of ${screens.length}`;
    button('previous').disabled = at === 0;
    button('next').disabled = at === screens.length - 1;
  }
  function go(number) {
    show(number);
    screens[at].scrollIntoView({behavior: 'instant', block: 'start'});
    landed = scrollY;
    screens[at].querySelector('h1, h2').focus({preventScroll: true});
  }
  function nearest() { // a short last screen never reaches the top, so a jump keeps its number
    if (Math.abs(scrollY - landed) < 2) return;
    landed = -1;
    const line = innerHeight / 3;
    show(screens.filter(one => one.getBoundingClientRect().top <= line).length - 1);
  }
  function detail() {
    const hidden = root.classList.toggle('brief');
    button('detail').setAttribute('aria-pressed', String(hidden));
    if (document.activeElement.closest('.claim')) go(at);
    else { screens[at].scrollIntoView({behavior: 'instant'}); landed = scrollY; }
  }
  function listen() { // a letter alone must not act where speech or a switch types: WCAG 2.1.4
    heard = !heard;
    button('keys').setAttribute('aria-pressed', String(heard));
    button('keys').textContent = heard ? 'Keys on' : 'Keys off';
  }
  const acts = {next: () => go(at + 1), previous: () => go(at - 1), detail, keys: listen};
  const keys = {ArrowRight: 'next', PageDown: 'next', ' ': 'next', ArrowLeft: 'previous',
    PageUp: 'previous', d: 'detail', D: 'detail'};

  addEventListener('keydown', event => {
    if (!heard || event.ctrlKey || event.altKey || event.metaKey) return;
    const on = event.target.closest ? event.target : document.body;
    if (on.closest('input, select, textarea, [contenteditable]')) return;
    if (event.key === ' ' && on.closest('button, summary, a')) return;
    const name = event.key === ' ' && event.shiftKey ? 'previous' : keys[event.key];
    if (!name) return;
    event.preventDefault();
    acts[name]();
  });
  bar.addEventListener('click', event => {
    const name = event.target.dataset.do;
    if (name) acts[name]();
  });
  for (const one of screens) one.querySelector('h1, h2').tabIndex = -1;
  addEventListener('scroll', nearest, {passive: true});
  bar.hidden = false;
  show(0);
  nearest();
})();
