// SPDX-License-Identifier: GPL-3.0-or-later
// Keys, buttons and pointers of the view. `actionOf` and `keyTable` run without a browser.

/// What a key does: [action, argument ...], or null. Those that a browser or a screen reader uses are left alone.
function actionOf(event) {
  if (event.ctrlKey || event.altKey || event.metaKey) return null;
  const turn = 0.12,
    arrow = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
  if (arrow) return event.shiftKey ? ['pan', ...arrow] : ['orbit', arrow[0] * turn, -arrow[1] * turn];
  const name = Object.keys(namedViews).find((n) => namedViews[n].key === event.key);
  if (name) return ['showNamed', name];
  return (
    {
      '+': ['zoom', 1 / 1.15],
      '=': ['zoom', 1 / 1.15],
      '-': ['zoom', 1.15],
      f: ['fit'],
      r: ['fitRoutes'],
      n: ['step', 1],
      p: ['step', -1],
      ' ': ['play'],
      '?': ['help'],
      Escape: ['closeHelp'],
    }[event.key.length === 1 ? event.key.toLowerCase() : event.key] || null
  );
}

/// What `?` shows: [keys, what they do].
function keyTable() {
  return [
    ['arrows', 'orbit'],
    ['Shift + arrows', 'pan'],
    ['+ -', 'zoom'],
    ...Object.keys(namedViews).map((name) => [namedViews[name].key, 'from ' + name]),
    ['F', 'fit all'],
    ['R', 'fit the routes'],
    ['N P', 'next, previous waypoint'],
    ['Space', 'play, pause'],
    ['?', 'these keys'],
    ['drag', 'orbit'],
    ['right drag, two fingers', 'pan'],
    ['wheel, pinch', 'zoom'],
    ['tap', 'what is there'],
  ];
}

/// The bar below the view. `actions`: by the names of `actionOf`; `toggles`: [{text, isOn, change}].
function fillBar(bar, actions, toggles, hasRoutes) {
  const button = (text, key, act, more) =>
    bar.append(make('button', Object.assign({ type: 'button', text, title: 'key ' + key, onclick: act }, more)));
  for (const name of Object.keys(namedViews))
    button(name, namedViews[name].key, () => actions.showNamed(name), { 'data-view': name });
  button('fit', 'F', () => actions.fit());
  if (hasRoutes) button('routes', 'R', () => actions.fitRoutes());
  bar.append(make('span', { class: 'gap' }));
  for (const toggle of toggles) {
    const element = make('button', { type: 'button', text: toggle.text, 'aria-pressed': String(toggle.isOn) });
    element.addEventListener('click', () => {
      const on = element.getAttribute('aria-pressed') !== 'true';
      element.setAttribute('aria-pressed', String(on));
      toggle.change(on);
    });
    bar.append(element);
  }
  button('?', '?', () => actions.help(), { id: 'keys-button', 'aria-label': 'keys', 'aria-expanded': 'false' });
}

/// The panel of keys; what opens and closes it is returned.
function makeKeyPanel(panel, button) {
  const list = make('dl');
  for (const [keys, what] of keyTable()) list.append(make('dt', { text: keys }), make('dd', { text: what }));
  const show = (isOn) => {
    panel.hidden = !isOn;
    button().setAttribute('aria-expanded', String(isOn));
  };
  panel.append(list, make('button', { type: 'button', text: 'Close', onclick: () => show(false) }));
  return show;
}

function listenToKeys(view, actions) {
  view.addEventListener('keydown', (event) => {
    const action = actionOf(event);
    if (!action || !actions[action[0]]) return;
    actions[action[0]](...action.slice(1));
    event.preventDefault();
  });
  // Help is asked for anywhere.
  document.addEventListener('keydown', (event) => {
    if (event.key === '?' && !view.contains(event.target)) actions.help();
  });
}

/// Taps and the pointer at rest over `view`. `seen()`: the camera of the picture shown now; `onTap` and `onHover` are
/// called with pixels, that camera and whether a finger it was.
function listenToPointers(view, seen, onTap, onHover) {
  const slack = { mouse: 5, touch: 12, pen: 8 }; // pixels that a tap may slip
  const taps = makeTap(1);
  const at = (event) => {
    const box = view.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };
  const scaled = (event) => at(event).map((c) => c / (slack[event.pointerType] || slack.mouse));
  const isOnView = (event) => !event.target.closest('button, #keys');
  view.addEventListener('pointerdown', (event) => {
    if (event.button === 0 && isOnView(event)) taps.down(event.pointerId, scaled(event), seen());
  });
  view.addEventListener('pointerup', (event) => {
    const camera = event.button === 0 && taps.up(event.pointerId, scaled(event));
    if (camera) onTap(at(event), camera, event.pointerType === 'touch');
  });
  view.addEventListener('pointercancel', () => taps.cancel());
  let isAsked = false,
    last = null;
  view.addEventListener('pointermove', (event) => {
    if (event.pointerType !== 'mouse' || event.buttons) return;
    last = event; // where the pointer came to rest counts, not where it was when the frame was asked for
    if (isAsked) return;
    isAsked = true;
    requestAnimationFrame(() => {
      isAsked = false;
      onHover(at(last), seen());
    });
  });
}

/// Paints at the next frame after `ask`, or at once what is due by `flush`.
function makePainter(paint, nextFrame) {
  let isDue = false;
  const flush = () => {
    if (!isDue) return;
    isDue = false;
    paint();
  };
  return {
    ask() {
      if (isDue) return;
      isDue = true;
      nextFrame(flush);
    },
    flush,
    now() {
      isDue = true;
      flush();
    },
  };
}
