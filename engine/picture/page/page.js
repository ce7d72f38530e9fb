// SPDX-License-Identifier: GPL-3.0-or-later
// Texts, tables, choosing and the clock. Every text of the model goes in by textContent alone.

// ---- state --------------------------------------------------------------------------------------------------------

const state = {
  way: Math.max(
    0,
    ways.findIndex((way) => way.rows.length > 0),
  ),
  row: -1,
  time: 0,
  playing: false,
};
const shown = ways.map((way) => way.rows.length > 0);
let scene3d = null; // null: no WebGL; then the tables stand alone
const longest = () => Math.max(1, ...ways.filter((way, i) => shown[i]).map((way) => way.time_s));

function tell(...lines) {
  const tip = byId('tip');
  tip.replaceChildren(...lines.filter(Boolean).map((line, i) => make('div', { text: line, class: i ? 'soft' : '' })));
  tip.hidden = lines.length === 0;
}

// ---- texts and tables ---------------------------------------------------------------------------------------------

document.title = data.title + ' - holdfast';
byId('title').textContent = data.title;
byId('configuration').textContent = data.configuration;
byId('caution').textContent = data.caution;
for (const sentence of data.set_aside)
  byId('caution').before(make('p', { class: 'aside', text: 'SET ASIDE: ' + sentence }));
byId('issue').textContent = [data.revision && 'Revision ' + data.revision, data.date].filter(Boolean).join(', ');
const walkable = ways.filter((way) => way.rows.length).length;
byId('summary').textContent =
  ways.length === 0
    ? [
        data.worksites.length && count(data.worksites.length, 'worksite'),
        data.patches.length && 'what is seen of ' + count(data.patches.length, 'patch').replace('patchs', 'patches'),
        data.found.length &&
          'Rails found in a mesh: ' +
            data.found.filter((piece) => piece.kind === 'sure' || piece.kind === 'likely').length +
            ', and ' +
            data.found.filter((piece) => piece.number).length +
            ' doubtful',
      ]
        .filter(Boolean)
        .join(', ') || 'The structure alone'
    : ways.length === 1
      ? ways[0].name + (ways[0].rows.length ? ': ' + ways[0].time : ': no route')
      : count(walkable, 'route') +
        (walkable < ways.length ? ' and ' + (ways.length - walkable) + ' refused' : '') +
        ' from ' +
        count(new Set(ways.map((way) => way.source)).size, 'result');

function reasonsList(reasons) {
  const list = make('ul', { class: 'reasons' });
  for (const reason of reasons)
    list.append(
      make(
        'li',
        {},
        make('button', {
          type: 'button',
          text: reason.button || reason.text,
          onclick: () => flyToPoint(reason.at, reason.text),
        }),
      ),
    );
  return list;
}

const wayCards = ways.map((way, i) => {
  const box = make('input', { type: 'checkbox', 'aria-label': 'show route ' + way.letter });
  box.checked = shown[i];
  box.disabled = !way.rows.length;
  box.addEventListener('change', () => {
    shown[i] = box.checked;
    refreshShown();
  });
  const facts = way.rows.length
    ? [
        way.time,
        count(way.moves, 'hand move'),
        way.distance + ' m',
        'clearance ' + way.clearance + ' m',
        way.loads.length ? 'room for the load ' + way.load_clearance + ' m' : '',
        way.caution !== '0:00:00' ? way.caution + ' in caution zones' : '',
        'suit ' + way.suit,
      ]
    : ['No route'];
  const card = make(
    'div',
    { class: 'way' },
    box,
    sample(way),
    make('button', { type: 'button', text: wayName(i), onclick: () => choose(i, -1) }),
    make('div', { class: 'facts', text: facts.filter(Boolean).join(' · ') }),
    way.note ? make('div', { class: 'where soft', text: way.note }) : null,
    way.reasons.length
      ? make(
          'div',
          { class: 'where' },
          reasonsList(
            way.reasons.map((reason) =>
              way.note.includes(reason.text)
                ? { button: 'Show where it stops', text: reason.text, at: reason.at }
                : reason,
            ),
          ),
        )
      : null,
    make('div', { class: 'where soft', text: way.source }),
  );
  card.style.borderLeftColor = way.colour;
  byId('ways').append(card);
  return card;
});

const rowElements = ways.map(() => []);
const tables = ways.map((way, i) => {
  if (!way.rows.length) return null;
  const loaded = way.loads.length > 0;
  const th = (text, kind, span) =>
    make(
      'th',
      Object.assign({ scope: span ? 'colgroup' : 'col', text, class: kind || '' }, span ? { colspan: span } : {}),
    );
  const head = [
    make(
      'tr',
      {},
      make('td', { colspan: 2 }),
      th('clear, m', '', loaded ? 3 : 2),
      th('row', '', 3),
      th('so far', '', 3),
    ),
    make(
      'tr',
      {},
      th('#'),
      th('what, rail', 'text'),
      th('body', 'first'),
      th('spare'),
      loaded ? th('load') : null,
      th('m', 'first'),
      th('moves'),
      th('time'),
      th('m', 'first'),
      th('moves'),
      th('time'),
    ),
  ];
  const body = make('tbody');
  way.rows.forEach((row, r) => {
    if (row.heading)
      body.append(make('tr', { class: 'where' }, make('td', { colspan: loaded ? 11 : 10, text: row.heading })));
    const cell = (text, kind) => make('td', { text, class: kind || '' });
    const line = make(
      'tr',
      { class: 'pick', 'data-way': i, 'data-row': r },
      make(
        'td',
        {},
        make('button', { type: 'button', text: r, 'aria-label': 'waypoint ' + r + ' of route ' + way.letter }),
      ),
      make('td', { class: 'text' }, row.what, make('span', { class: 'remark', text: row.rail })),
      cell(row.clearance, 'first'),
      cell(row.spare),
      loaded ? cell(row.load_clearance) : null,
      cell(row.distance, 'first'),
      cell(row.moves),
      cell(row.time),
      cell(row.total_distance, 'first'),
      cell(row.total_moves),
      cell(row.total_time),
    );
    line.addEventListener('click', () => choose(i, r));
    line.addEventListener('keydown', (event) => {
      const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
      if (!step || !way.rows[r + step]) return;
      event.preventDefault();
      choose(i, r + step);
      rowElements[i][r + step].querySelector('button').focus();
    });
    rowElements[i].push(line);
    body.append(line);
    if (row.remark)
      body.append(
        make(
          'tr',
          { class: 'note' },
          make('td'),
          make('td', { class: 'text', colspan: loaded ? 10 : 9, text: row.remark }),
        ),
      );
  });
  const brief = make('ol', { class: 'brief' });
  for (const sentence of way.brief)
    brief.append(
      make('li', {}, sentence.text, sentence.remark ? make('span', { class: 'remark', text: sentence.remark }) : null),
    );
  const table = make(
    'div',
    { class: 'scroll' },
    way.brief.length ? brief : null,
    make(
      'table',
      {},
      make('caption', {
        text: wayName(i) + ': ' + way.time + ' in ' + count(way.moves, 'hand move') + ' over ' + way.distance + ' m',
      }),
      make('thead', {}, ...head),
      body,
    ),
  );
  byId('tables').append(table);
  return table;
});

for (const box of data.boxes) byId('loads').append(make('li', { text: box.name + ' (' + box.id + '): ' + box.words }));
const zoneItems = data.zones.map((zone, i) => {
  const box = make('input', { type: 'checkbox', 'aria-label': 'show zone ' + zone.id });
  box.checked = true;
  box.addEventListener('change', () => {
    if (scene3d) scene3d.showZone(i, box.checked);
  });
  const item = make(
    'li',
    {},
    box,
    make('span', { class: 'swatch ' + zone.effect }),
    make('button', { type: 'button', text: zone.id, onclick: () => chooseZone(i, true) }),
    make('span', {
      text:
        zone.reason +
        ' - ' +
        { forbid: 'forbids ', caution: 'caution for ', limit: 'limited for ' }[zone.effect] +
        zone.keeps_out,
    }),
  );
  item.addEventListener('pointerenter', () => {
    if (scene3d) scene3d.lightZone(i);
  });
  item.addEventListener('pointerleave', () => {
    if (scene3d) scene3d.lightZone(-1);
  });
  byId('zones').append(item);
  return item;
});
const placeItems = data.places.map((place, i) => {
  const item = make(
    'li',
    {},
    make('button', { type: 'button', text: place.id, onclick: () => flyToPlace(i) }),
    make('span', { class: 'soft', text: place.kind + (place.name !== place.id ? ', ' + place.name : '') }),
  );
  byId('places').append(item);
  return item;
});
for (const line of data.lines)
  byId('lines').append(make('li', { text: line.kind + ' ' + line.name + ': ' + line.words }));
listFound(data.found, byId('found'), (piece) => flyToPoint(middleOf(piece), foundName(piece), piece.words));
for (const home of data.homes) {
  const body = make('tbody');
  for (const row of home.rows) {
    const line = make(
      'tr',
      { class: row.at ? 'pick' : '' },
      make('td', { class: 'text', text: row.place }),
      make('td', { text: row.time }),
      make('td', { text: row.distance }),
      make('td', { text: row.moves }),
      make('td', { class: 'text', text: row.verdict }),
    );
    if (row.at)
      line.addEventListener('click', () => flyToPoint(row.at, row.place, row.time + ' from home, ' + row.verdict));
    body.append(line);
  }
  const head = ['place', 'time', 'm', 'moves', 'verdict'].map((text, k) =>
    make('th', { scope: 'col', text, class: k % 4 ? '' : 'text' }),
  );
  byId('homes').append(
    make('h2', { text: 'Route home' }),
    make(
      'div',
      { class: 'scroll' },
      make('table', {}, make('caption', { text: home.title }), make('thead', {}, make('tr', {}, ...head)), body),
    ),
  );
  if (home.farthest.length)
    byId('homes').append(make('h3', { text: 'Farthest of each part' }), reasonsList(home.farthest));
}
for (const [id, list] of [
  ['excursion-box', trip ? [trip] : []],
  ['ways-box', ways],
  ['rows-box', tables.filter(Boolean)],
  ['charts-box', data.charts],
  ['homes-box', data.homes],
  ['lines-box', data.lines],
  ['worksites-box', data.worksites],
  ['eyes-box', data.eyes],
  ['found-box', data.found],
  ['loads-box', data.boxes],
  ['zones-box', data.zones],
  ['places-box', data.places],
])
  byId(id).classList.toggle('away', list.length === 0);
for (const text of [
  'Model digest ' + data.digest,
  'holdfast ' +
    data.engine +
    '; lengths and times are rounded up, clearances down; between two grips the figure and its load are drawn in between.',
  'Frame: +x forward, +y starboard, +z nadir, in metres. Results: ' +
    ([
      ...new Set(
        [ways, data.homes, data.worksites, data.patches, data.found, trip ? [trip] : []].flatMap((list) =>
          list.map((entry) => entry.source),
        ),
      ),
    ].join(', ') || 'none') +
    '.',
  'Drawn with three.js ' +
    data.three +
    " (MIT licence; its notice stands in this page's source). Line colours after Okabe and Ito.",
])
  byId('about').append(make('p', { text }));
const signs = byId('key-to-signs');
const sign = (picture, text) => signs.append(make('dt', {}, picture), make('dd', { text }));
for (const effect of ['forbid', 'caution', 'limit'])
  if (data.zones.some((zone) => zone.effect === effect))
    sign(
      make('span', { class: 'swatch ' + effect }),
      {
        forbid: 'a zone that forbids: slanted stripes',
        caution: 'a caution zone: dots',
        limit: 'a zone of limited stay: level lines',
      }[effect],
    );
if (ways.length) {
  const icon = (...shapes) =>
    drawn('svg', { viewBox: '0 0 40 20', width: 40, height: 20, 'aria-hidden': 'true' }, ...shapes);
  sign(make('span', { class: 'sign', text: 'A 3' }), 'waypoint 3 of route A, at the hand');
  sign(
    icon(
      drawn('line', {
        x1: 1,
        x2: 39,
        y1: 10,
        y2: 10,
        stroke: ways[0].colour,
        'stroke-width': 2,
        'stroke-opacity': 0.55,
      }),
    ),
    'a route where structure hides it: thin and pale',
  );
  sign(
    icon(drawn('circle', { cx: 20, cy: 10, r: 8, fill: 'none', stroke: ways[0].colour, 'stroke-width': 2.5 })),
    'the corridor round the body axis, to scale',
  );
  if (data.boxes.length)
    sign(
      icon(drawn('rect', { x: 8, y: 3, width: 24, height: 14, fill: '#e8dcc4', stroke: '#1c2733' })),
      'the load, to scale',
    );
}

listWorksites(() => scene3d && scene3d.refresh(), flyToPoint, flyToFigure, sign);
if (trip) for (const [picture, text] of timelineSigns(trip)) sign(picture, text);

for (const chart of data.charts) {
  const svg = chart.kind === 'bars' ? barChart(chart) : scatterChart(chart);
  svg.addEventListener('click', (event) => {
    const mark = event.target.closest('[data-way]');
    if (mark) choose(Number(mark.getAttribute('data-way')), -1);
  });
  byId('charts').append(make('h3', { text: chart.title }), svg);
}

// ---- choosing -----------------------------------------------------------------------------------------------------

function refreshShown() {
  tables.forEach((table, i) => {
    if (!table) return;
    table.classList.toggle('away', i !== state.way);
    table.classList.toggle('printed', shown[i]);
  });
  wayCards.forEach((card, i) => card.classList.toggle('chosen', i === state.way && ways.length > 1));
  byId('time').max = String(Math.ceil(longest()));
  if (scene3d) scene3d.refresh();
}

/// Shows the row and, unless it was picked in the view, flies there; -1: the way as a whole.
function choose(way, row, isPicked) {
  state.way = way;
  state.row = row;
  if (!shown[way] && ways[way].rows.length) {
    shown[way] = true;
    wayCards[way].querySelector('input').checked = true;
  }
  for (const lines of rowElements)
    for (const line of lines) (line.classList.remove('chosen'), line.removeAttribute('aria-current'));
  refreshShown();
  if (row >= 0) {
    const line = rowElements[way][row],
      facts = ways[way].rows[row];
    line.classList.add('chosen');
    line.setAttribute('aria-current', 'true');
    line.scrollIntoView({ block: 'nearest' });
    setTime(facts.at_s);
    tell(
      ways[way].letter + ' ' + row + ': ' + facts.what,
      'rail ' +
        facts.rail +
        ', so far ' +
        facts.total_time +
        ', clearance ' +
        facts.clearance +
        ' m, spare ' +
        facts.spare +
        ' m',
      facts.remark,
    );
    if (scene3d && !isPicked) scene3d.flyToRow(way, row);
  } else if (scene3d && ways[way].rows.length) {
    scene3d.flyToWay(way);
  }
}

function chooseZone(i, isToFly) {
  zoneItems.forEach((item, k) => item.classList.toggle('chosen', k === i));
  if (i < 0) return;
  const zone = data.zones[i];
  tell('zone ' + zone.id + ': ' + zone.reason, zone.effect + ' - ' + zone.keeps_out);
  zoneItems[i].scrollIntoView({ block: 'nearest' });
  if (scene3d) {
    scene3d.lightZone(i);
    if (isToFly) scene3d.flyToZone(i);
  }
}
function flyToPlace(i) {
  placeItems.forEach((item, k) => item.classList.toggle('chosen', k === i));
  const place = data.places[i];
  flyToPoint(place.at, place.id, place.kind);
}
function flyToFigure(i) {
  tell(data.worksites[i].name, data.worksites[i].words);
  if (scene3d) scene3d.flyToFigure(i);
}
function flyToPoint(at, ...lines) {
  tell(...lines);
  if (scene3d) scene3d.flyToPoint(at);
}
function step(by) {
  const way = ways[state.way];
  if (way && way.rows.length) choose(state.way, Math.min(way.rows.length - 1, Math.max(0, state.row + by)));
}

// ---- an excursion -------------------------------------------------------------------------------------------------

/// Goes to a step: the clock to its beginning, its row chosen.
function goToStep(c, k) {
  const step = trip.crew[c].steps[k];
  play(false);
  choose(trip.crew[c].way, step.row);
  setTime(step.from_s);
  if (timeline) timeline.choose(c, k);
  tell(
    trip.crew[c].id + ' ' + step.number + ', ' + clock(step.from_s) + ': ' + step.text,
    step.with,
    ...step.callouts,
    ...step.faults.map((fault) => 'VIOLATION ' + fault),
    ...step.cautions.map((caution) => 'CAUTION ' + caution),
    'time home ' + homeWords(step.home) + (step.carried === null ? '' : ', carried ' + (step.carried < 0 ? 'not proven' : clock(step.carried))),
  );
}
let timeline = null;
const nowPanel = trip
  ? makeNowPanel(trip, byId('excursion'), (each) => {
      play(false);
      setTime(each.at_s);
      if (each.at) flyToPoint(each.at, each.text, each.remedy);
      else tell(each.text, each.remedy);
    })
  : null;
function drawTimeline() {
  const wide = byId('timeline').clientWidth;
  if (!wide) return; // on paper
  timeline = timelineOf(trip, wide, 'bars', goToStep, (seconds) => {
    play(false);
    setTime(seconds);
  });
  byId('timeline').replaceChildren(timeline.svg);
  timeline.setTime(state.time);
}
/// What is not there in the settings of the moment is not listed.
function refreshLists(seconds) {
  const settings = settingsAt(trip.stages, seconds).map((k) => trip.settings[k]);
  zoneItems.forEach((item, i) => item.classList.toggle('away', !settings.some((s) => s.zones.includes(i))));
  placeItems.forEach((item, i) => item.classList.toggle('away', !settings.some((s) => s.places.includes(i))));
}

// ---- the clock ----------------------------------------------------------------------------------------------------

function setTime(seconds) {
  state.time = Math.min(Math.max(0, seconds), Math.ceil(longest()));
  byId('time').value = String(state.time);
  byId('now').textContent = clock(state.time);
  byId('time').setAttribute('aria-valuetext', clock(state.time) + ' of ' + clock(longest()));
  if (scene3d) scene3d.setTime(state.time);
  if (!trip) return;
  nowPanel.setTime(state.time);
  if (timeline) timeline.setTime(state.time);
  refreshLists(state.time);
}
let lastFrame = 0;
function play(isOn) {
  state.playing = isOn;
  if (isOn && state.time >= longest()) setTime(0);
  byId('play').textContent = isOn ? 'Pause' : 'Play';
  byId('play').setAttribute('aria-pressed', String(isOn));
  lastFrame = performance.now();
  if (isOn) requestAnimationFrame(tick);
}
function tick(now) {
  if (!state.playing) return;
  setTime(state.time + ((now - lastFrame) / 1000) * Number(byId('speed').value));
  lastFrame = now;
  if (state.time >= longest()) play(false);
  else requestAnimationFrame(tick);
}
byId('time').addEventListener('input', () => {
  play(false);
  if (trip) tell(); // what was told of a step is over
  setTime(Number(byId('time').value));
});
byId('play').addEventListener('click', () => play(!state.playing));
byId('clock').classList.toggle('away', !tables.some(Boolean));

// On a narrow screen view and table stand one below the other: each is one tap away.
for (const button of document.querySelectorAll('#jump button'))
  button.addEventListener('click', () => {
    const tablesOf = ['rows-box', 'homes-box', 'ways-box', 'lines-box', 'worksites-box', 'eyes-box', 'places-box'];
    const table = tablesOf.map(byId).find((box) => !box.classList.contains('away')) || byId('side');
    (button.dataset.to === 'stage' ? byId('stage') : table).scrollIntoView({ block: 'start' });
  });

// ---- start ----

if (trip) {
  byId('timeline').classList.remove('away');
  drawTimeline();
  byId('print-timeline').append(timelineOf(trip, 700, 'print', goToStep, setTime).svg);
  new ResizeObserver(drawTimeline).observe(byId('stage'));
}

function sayGraphics(text) {
  byId('graphics').textContent = text;
  byId('graphics').hidden = false;
}

try {
  scene3d = build();
} catch (error) {
  byId('views').classList.add('away');
  sayGraphics(
    'This browser shows no WebGL graphics, so there is no view in three dimensions (' +
      error.message +
      '). The tables are complete.',
  );
  document.body.dataset.drawn = 'no';
}
refreshShown();
setTime(0);
// The first picture is there when the page is: nobody touches or copies an empty view.
if (scene3d) scene3d.paintNow();
// What scripts may ask of the page: the state, the camera, and where on the screen a point of the structure is.
window.holdfast = {
  data,
  state,
  inspect: () => scene3d && scene3d.inspect(),
  project: (at) => scene3d && scene3d.project(at),
};
