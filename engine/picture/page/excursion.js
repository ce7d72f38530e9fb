// SPDX-License-Identifier: GPL-3.0-or-later
// An excursion: the timeline below the view, what goes on at the moment, and where items are. `stepAt`, `settingsAt` and
// `itemAt` run without a browser.

/// The number of the step that goes on: the last that has begun; those that take no time give way to what follows.
function stepAt(steps, seconds) {
  let at = 0;
  steps.forEach((step, k) => {
    if (step.from_s <= seconds + 1e-6) at = k;
  });
  return at;
}

/// The settings shown: both while a switch is thrown.
function settingsAt(stages, seconds) {
  let at = stages[0];
  for (const stage of stages) if (stage.from_s <= seconds + 1e-6) at = stage;
  return at.settings;
}

/// Where an item is: {isSeen, middle, turn}.
function itemAt(item, seconds) {
  let k = 0;
  while (k + 1 < item.at_s.length && item.at_s[k + 1] <= seconds + 1e-6) ++k;
  const middle = vectorAt(item.place, k, 7, 0),
    turn = new THREE.Quaternion().fromArray(item.place, k * 7 + 3);
  if (item.seen[k] === 2 && k + 1 < item.at_s.length) {
    const t = Math.min(1, Math.max(0, (seconds - item.at_s[k]) / Math.max(item.at_s[k + 1] - item.at_s[k], 1e-9)));
    middle.lerp(vectorAt(item.place, k + 1, 7, 0), t);
    turn.slerp(new THREE.Quaternion().fromArray(item.place, (k + 1) * 7 + 3), t);
  }
  return { isSeen: item.seen[k] > 0, middle, turn };
}

const homeWords = (home) => (home === null ? 'not known' : home < 0 ? 'no path known' : clock(home));

/// Patterns of the kinds, for the picture with this name: ids are of the whole page.
function kindPatterns(kinds, name) {
  const defs = drawn('defs');
  for (const kind of kinds)
    if (kind.hatch)
      defs.append(
        drawn(
          'pattern',
          { id: name + '-' + kind.name, width: 6, height: 6, patternUnits: 'userSpaceOnUse' },
          drawn('rect', { width: 6, height: 6, fill: '#fff' }),
          drawn('path', {
            d: kind.hatch,
            transform: 'scale(2)',
            stroke: kind.colour,
            'stroke-width': kind.name === 'work' ? 1.6 : 0.7,
          }),
        ),
      );
  return defs;
}
const kindPaint = (kinds, name, word) => {
  const kind = kinds.find((k) => k.name === word);
  return kind.hatch ? 'url(#' + name + '-' + word + ')' : kind.colour;
};

/// The timeline, `wide` pixels; `onStep(crew, step)` where a bar is clicked, `onTime(seconds)` beside the bars. Gives the
/// picture, and `setTime` for its cursor.
function timelineOf(trip, wide, name, onStep, onTime) {
  const left = 70,
    right = 28,
    rowHigh = 22,
    gap = 5,
    homeHigh = 42;
  const end = Math.max(
    trip.limit_s > 0 ? trip.limit_s : 0,
    ...trip.crew.map((member) => member.inside_s),
    ...trip.inside.map((step) => step.to_s),
    60,
  );
  const x = (seconds) => left + ((wide - left - right) * seconds) / end;
  const top = 16,
    crewTop = top + (trip.inside.length ? 12 : 0),
    homeTop = crewTop + trip.crew.length * (rowHigh + gap),
    bottom = homeTop + (trip.home.length ? homeHigh : 0),
    high = bottom + 16;
  const svg = drawn('svg', {
    class: 'timeline',
    width: wide,
    height: high,
    viewBox: `0 0 ${wide} ${high}`,
    role: 'group',
    'aria-label': 'Timeline of ' + trip.title,
  });
  svg.append(kindPatterns(trip.kinds, name));
  for (const [from, to] of trip.nights)
    svg.append(
      drawn('rect', { class: 'night', x: x(from), y: top - 2, width: Math.max(0, x(to) - x(from)), height: bottom - top + 2, fill: '#d3d8e2' }),
    );
  const step = [60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800, 86400].find((s) => x(s) - x(0) >= 58) || end;
  for (let t = 0; t <= end; t += step)
    svg.append(
      drawn('line', { x1: x(t), x2: x(t), y1: top - 2, y2: bottom, stroke: '#8794a1', 'stroke-width': 0.5 }),
      drawn('text', { x: x(t), y: high - 4, 'text-anchor': 'middle', text: clock(t) }),
    );
  const bar = (each, y, tall, attributes) =>
    drawn(
      'rect',
      {
        class: 'bar-of ' + each.kind,
        x: x(each.from_s),
        y,
        width: Math.max(0.6, x(each.to_s) - x(each.from_s)),
        height: tall,
        fill: kindPaint(trip.kinds, name, each.kind),
        stroke: '#1c2733',
        'stroke-width': 0.5,
        ...attributes,
      },
      drawn('title', { text: (each.number ? each.number + '  ' : '') + clock(each.from_s) + '  ' + each.text }),
    );
  trip.inside.forEach((each) => svg.append(bar(each, top, 7, { 'data-inside': 'yes' })));
  trip.crew.forEach((member, c) => {
    const y = crewTop + c * (rowHigh + gap);
    const label = drawn('text', { x: 2, y: y + 15, 'font-weight': 700, text: member.id.length > 7 ? member.id.slice(0, 6) + '…' : member.id });
    label.append(drawn('title', { text: member.id }));
    svg.append(label);
    member.steps.forEach((each, k) => svg.append(bar(each, y, rowHigh, { 'data-crew': c, 'data-step': k })));
    for (const [k, each] of member.steps.entries())
      if (each.faults.length)
        svg.append(drawn('path', { class: 'fault', d: `M${x(each.from_s)} ${y - 4}l4 6h-8z`, fill: '#b3261e', 'data-crew': c, 'data-step': k }));
  });
  if (trip.inside.length) svg.append(drawn('text', { x: 2, y: top + 7, text: 'inside' }));
  if (trip.home.length) {
    const most = Math.max(trip.emergency_s, 60, ...trip.home.concat(trip.carried).map((p) => p[1] || 0)) * 1.05;
    const y = (seconds) => bottom - (homeHigh - 6) * Math.min(1, seconds / most);
    svg.append(drawn('text', { x: 2, y: bottom - 14, text: 'time home' }));
    const curve = (points, dash) => {
      let d = '',
        isOn = false;
      for (const [t, home] of points) {
        if (home === null || home < 0) {
          isOn = false;
          svg.append(drawn('path', { class: 'unknown', d: `M${x(t)} ${bottom}l3 -5h-6z`, fill: dash ? '#d55e00' : '#fff', stroke: '#d55e00' }));
          continue;
        }
        d += (isOn ? 'L' : 'M') + x(t) + ' ' + y(home);
        isOn = true;
      }
      svg.append(drawn('path', { class: 'home', d, fill: 'none', stroke: '#1c2733', 'stroke-width': 1.4, 'stroke-dasharray': dash || 'none' }));
    };
    curve(trip.home, '');
    curve(trip.carried, '4 2');
    svg.append(
      drawn('line', { x1: left, x2: wide - right, y1: y(trip.emergency_s), y2: y(trip.emergency_s), stroke: '#d55e00', 'stroke-width': 1.2, 'stroke-dasharray': '5 2' }),
    );
  }
  if (trip.limit_s > 0)
    svg.append(
      drawn('line', { x1: x(trip.limit_s), x2: x(trip.limit_s), y1: top - 2, y2: bottom, stroke: '#1c2733', 'stroke-width': 2, 'stroke-dasharray': '4 2' }),
      drawn('text', { x: x(trip.limit_s), y: top - 5, 'text-anchor': 'end', 'font-weight': 700, text: 'limit' }),
    );
  const chosen = drawn('rect', { class: 'chosen-bar', y: 0, height: rowHigh, fill: 'none', stroke: '#1c2733', 'stroke-width': 2.5, visibility: 'hidden' });
  const cursor = drawn('line', { class: 'cursor', y1: 2, y2: bottom, stroke: '#b3261e', 'stroke-width': 2 });
  svg.append(chosen, cursor);
  svg.addEventListener('click', (event) => {
    const mark = event.target.closest('[data-step]');
    if (mark) return onStep(Number(mark.getAttribute('data-crew')), Number(mark.getAttribute('data-step')));
    const box = svg.getBoundingClientRect();
    const seconds = ((event.clientX - box.left) / Math.max(1, box.width)) * wide - left;
    onTime(Math.max(0, (seconds * end) / (wide - left - right)));
  });
  return {
    svg,
    setTime(seconds) {
      cursor.setAttribute('x1', x(seconds));
      cursor.setAttribute('x2', x(seconds));
    },
    choose(c, k) {
      const each = trip.crew[c].steps[k];
      chosen.setAttribute('x', x(each.from_s));
      chosen.setAttribute('width', Math.max(2, x(each.to_s) - x(each.from_s)));
      chosen.setAttribute('y', crewTop + c * (rowHigh + gap));
      chosen.setAttribute('visibility', 'visible');
    },
  };
}

/// Signs of the timeline, for the key: [picture, words].
function timelineSigns(trip) {
  const name = 'sign';
  const icon = (...shapes) => drawn('svg', { viewBox: '0 0 40 20', width: 40, height: 20, 'aria-hidden': 'true' }, ...shapes);
  const signs = trip.kinds
    .filter((kind) => kind.name !== 'throw' || trip.inside.length)
    .map((kind) => [
      icon(
        kindPatterns([kind], name),
        drawn('rect', { x: 4, y: 3, width: 32, height: 14, fill: kindPaint(trip.kinds, name, kind.name), stroke: '#1c2733' }),
      ),
      kind.name === 'throw' ? 'a switch thrown from inside' : kind.name,
    ]);
  const line = (attributes) => icon(drawn('line', { x1: 2, x2: 38, y1: 10, y2: 10, ...attributes }));
  if (trip.nights.length) signs.push([icon(drawn('rect', { x: 4, y: 3, width: 32, height: 14, fill: '#d3d8e2' })), 'night']);
  if (trip.home.length) signs.push([line({ stroke: '#1c2733', 'stroke-width': 1.4 }), 'time home, alone, the worse of the crew']);
  if (trip.carried.length) signs.push([line({ stroke: '#1c2733', 'stroke-width': 1.4, 'stroke-dasharray': '4 2' }), 'time home, incapacitated and brought back by the other']);
  if (trip.emergency_s > 0) signs.push([line({ stroke: '#d55e00', 'stroke-width': 1.2, 'stroke-dasharray': '5 2' }), 'time allowed to get back: ' + clock(trip.emergency_s)]);
  if (trip.limit_s > 0) signs.push([line({ stroke: '#1c2733', 'stroke-width': 2, 'stroke-dasharray': '4 2' }), 'limit of the excursion: ' + clock(trip.limit_s)]);
  const isUnknown = (points) => points.some((p) => p[1] === null || p[1] < 0);
  if (isUnknown(trip.home)) signs.push([icon(drawn('path', { d: 'M20 16l4 -8h-8z', fill: '#fff', stroke: '#d55e00' })), 'no path home is known, alone']);
  if (isUnknown(trip.carried)) signs.push([icon(drawn('path', { d: 'M20 16l4 -8h-8z', fill: '#d55e00', stroke: '#d55e00' })), 'the path back of an incapacitated crew member is not proven']);
  if (trip.wrong.length) signs.push([icon(drawn('path', { d: 'M20 5l6 9h-12z', fill: '#b3261e' })), 'a violation begins in this step']);
  signs.push([line({ stroke: '#b3261e', 'stroke-width': 2, transform: 'rotate(90 20 10)' }), 'the clock']);
  return signs;
}

/// What goes on at the moment, in the page. `setTime` fills it.
function makeNowPanel(trip, box, flyTo) {
  const table = make('table', { class: 'now' });
  const switches = make('p', { class: 'soft' }),
    where = make('ul', { class: 'where-now' }),
    wrong = make('ul', { class: 'wrong' });
  box.append(
    make('p', { class: trip.alert ? 'alarm' : 'soft', text: trip.alert || 'No violations in what was looked at.' }),
    make('p', { class: 'soft', text: trip.subtitle }),
    table,
    switches,
  );
  if (trip.items.length) box.append(make('h3', { text: 'Items now' }), where);
  if (trip.wrong.length) box.append(make('h3', { text: 'Violations' }), wrong);
  const wrongItems = trip.wrong.map((each) => {
    const item = make(
      'li',
      {},
      make('button', { type: 'button', text: clock(each.at_s), onclick: () => flyTo(each) }),
      make('span', {}, each.text, make('span', { class: 'remark', text: each.remedy ? 'Remedy: ' + each.remedy : '' })),
    );
    wrong.append(item);
    return item;
  });
  const rows = trip.crew.map((member) => {
    const row = { what: make('td', { class: 'text' }), until: make('td'), home: make('td'), carried: make('td') };
    row.tr = make('tr', {}, make('th', { class: 'text', scope: 'row', text: member.id }), row.what, row.until, row.home, row.carried);
    return row;
  });
  const head = ['', 'now', 'until', 'time home', 'carried'].map((text, k) => make('th', { scope: 'col', text, class: k < 2 ? 'text' : '' }));
  table.append(make('thead', {}, make('tr', {}, ...head)), make('tbody', {}, ...rows.map((row) => row.tr)));
  const itemRows = trip.items.map((item) => {
    const now = make('span');
    where.append(make('li', {}, make('b', { text: item.id }), ' ', now));
    return now;
  });
  return {
    setTime(seconds) {
      trip.crew.forEach((member, c) => {
        const row = rows[c];
        const isInside = seconds >= member.inside_s || !member.steps.length;
        const step = isInside ? null : member.steps[stepAt(member.steps, seconds)];
        row.what.textContent = step ? step.number + '  ' + step.text + (step.with ? ' (' + step.with + ')' : '') : 'inside';
        row.until.textContent = step ? clock(step.to_s) : '';
        row.home.textContent = step ? homeWords(step.home) : '';
        row.carried.textContent = step && step.carried !== null ? (step.carried < 0 ? 'not proven' : clock(step.carried)) : '';
      });
      const settings = settingsAt(trip.stages, seconds);
      switches.textContent =
        settings.length > 1
          ? 'Switch being thrown, both are shown: ' + settings.map((k) => trip.settings[k].words).join(' and ')
          : 'Switches: ' + trip.settings[settings[0]].words;
      trip.items.forEach((item, i) => {
        let words = '';
        for (const stay of item.stays) if (stay.from_s <= seconds + 1e-6) words = stay.words;
        itemRows[i].textContent = words;
      });
      trip.wrong.forEach((each, i) =>
        wrongItems[i].classList.toggle('chosen', each.at_s <= seconds + 0.5 && seconds <= Math.max(each.to_s, each.at_s + 1)),
      );
    },
  };
}
