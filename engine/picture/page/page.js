'use strict';
// The page of a drawing. Data stand in #data as JSON; every text of the model goes in by textContent alone.
(function () {
  const data = JSON.parse(document.getElementById('data').textContent);
  const byId = (id) => document.getElementById(id);
  const ways = data.ways;

  // ---- small helpers ------------------------------------------------------------------------------------------------

  function make(tag, properties, ...children) {
    const element = document.createElement(tag);
    for (const [name, value] of Object.entries(properties || {})) {
      if (name === 'text') element.textContent = value;
      else if (name === 'class') element.className = value;
      else if (name.startsWith('on')) element.addEventListener(name.slice(2), value);
      else element.setAttribute(name, value);
    }
    element.append(...children.filter((child) => child !== null && child !== undefined));
    return element;
  }
  function drawn(tag, attributes, ...children) {
    const element = document.createElementNS('http://www.w3.org/2000/svg', tag);
    for (const [name, value] of Object.entries(attributes || {}))
      if (name === 'text') element.textContent = value;
      else element.setAttribute(name, value);
    element.append(...children);
    return element;
  }
  function numbers(text, Type) {
    const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
    return new Type(bytes.buffer);
  }
  /// h:mm:ss, rounded up as everywhere.
  function clock(seconds) {
    const whole = Math.ceil(seconds - 1e-6);
    const two = (n) => String(n).padStart(2, '0');
    return Math.floor(whole / 3600) + ':' + two(Math.floor(whole / 60) % 60) + ':' + two(whole % 60);
  }
  const count = (n, word) => n + ' ' + word + (n === 1 ? '' : 's');
  const dashes = (way, width) => way.dash[1] === 0 ? 'none' : way.dash.map((d) => d * width).join(' ');
  function sample(way) {
    const line = (colour, width, dash) => drawn('line', { x1: 2, y1: 8, x2: 78, y2: 8, stroke: colour, 'stroke-width': width, 'stroke-dasharray': dash });
    return drawn('svg', { viewBox: '0 0 80 16', 'aria-hidden': 'true' }, line('#fff', 8, 'none'), line(way.colour, 5, dashes(way, 5)));
  }
  const wayName = (index) => ways[index].letter + ' ' + ways[index].name;
  const still = matchMedia('(prefers-reduced-motion: reduce)');

  // ---- state --------------------------------------------------------------------------------------------------------

  const state = { way: Math.max(0, ways.findIndex((way) => way.rows.length > 0)), row: -1, time: 0, playing: false };
  const shown = ways.map((way) => way.rows.length > 0);
  let scene3d = null;  // null: no WebGL; then the tables stand alone
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
  byId('summary').textContent = ways.length === 0 ? 'The structure alone'
    : ways.length === 1 ? ways[0].name + (ways[0].rows.length ? ': ' + ways[0].time : ': no way')
    : count(ways.length, 'way') + ' from ' + count(new Set(ways.map((way) => way.source)).size, 'result');

  function reasonsList(reasons) {
    const list = make('ul', { class: 'reasons' });
    for (const reason of reasons)
      list.append(make('li', {}, make('button', { type: 'button', text: reason.text, onclick: () => flyToPoint(reason.at, reason.text) })));
    return list;
  }

  const wayCards = ways.map((way, i) => {
    const box = make('input', { type: 'checkbox', 'aria-label': 'show way ' + way.letter });
    box.checked = shown[i];
    box.disabled = !way.rows.length;
    box.addEventListener('change', () => { shown[i] = box.checked; refreshShown(); });
    const facts = way.rows.length
      ? [way.time, count(way.moves, 'hand move'), way.distance + ' m', 'clearance ' + way.clearance + ' m',
         way.loads.length ? 'room for the load ' + way.load_clearance + ' m' : '', way.caution !== '0:00:00' ? way.caution + ' in caution zones' : '', 'suit ' + way.suit]
      : ['No way'];
    const card = make('div', { class: 'way' }, box, sample(way),
      make('button', { type: 'button', text: wayName(i), onclick: () => choose(i, -1) }),
      make('div', { class: 'facts', text: facts.filter(Boolean).join(' · ') }),
      way.note ? make('div', { class: 'where soft', text: way.note }) : null,
      way.reasons.length ? make('div', { class: 'where' }, reasonsList(way.reasons.map((reason) => way.note.includes(reason.text) ? { text: 'Show where it stops', at: reason.at } : reason))) : null,
      make('div', { class: 'where soft', text: way.source }));
    card.style.borderLeftColor = way.colour;
    byId('ways').append(card);
    return card;
  });

  const rowElements = ways.map(() => []);
  const tables = ways.map((way, i) => {
    if (!way.rows.length) return null;
    const loaded = way.loads.length > 0;
    const th = (text, kind, span) => make('th', Object.assign({ scope: span ? 'colgroup' : 'col', text, class: kind || '' }, span ? { colspan: span } : {}));
    const head = [make('tr', {}, make('td', { colspan: 2 }), th('clear, m', '', loaded ? 3 : 2), th('row', '', 3), th('so far', '', 3)),
      make('tr', {}, th('#'), th('what, rail', 'text'), th('body', 'first'), th('spare'), loaded ? th('load') : null, th('m', 'first'), th('moves'), th('time'), th('m', 'first'), th('moves'), th('time'))];
    const body = make('tbody');
    way.rows.forEach((row, r) => {
      if (row.heading) body.append(make('tr', { class: 'where' }, make('td', { colspan: loaded ? 11 : 10, text: row.heading })));
      const cell = (text, kind) => make('td', { text, class: kind || '' });
      const line = make('tr', { class: 'pick', 'data-way': i, 'data-row': r },
        make('td', {}, make('button', { type: 'button', text: r, 'aria-label': 'waypoint ' + r + ' of way ' + way.letter })),
        make('td', { class: 'text' }, row.what, make('span', { class: 'remark', text: row.rail })),
        cell(row.clearance, 'first'), cell(row.spare), loaded ? cell(row.load_clearance) : null,
        cell(row.distance, 'first'), cell(row.moves), cell(row.time), cell(row.total_distance, 'first'), cell(row.total_moves), cell(row.total_time));
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
      if (row.remark) body.append(make('tr', { class: 'note' }, make('td'), make('td', { class: 'text', colspan: loaded ? 10 : 9, text: row.remark })));
    });
    const table = make('div', { class: 'scroll' }, make('table', {},
      make('caption', { text: wayName(i) + ': ' + way.time + ' in ' + count(way.moves, 'hand move') + ' over ' + way.distance + ' m' }), make('thead', {}, ...head), body));
    byId('tables').append(table);
    return table;
  });

  for (const box of data.boxes) byId('loads').append(make('li', { text: box.name + ' (' + box.id + '): ' + box.words }));
  const zoneItems = data.zones.map((zone, i) => {
    const box = make('input', { type: 'checkbox', 'aria-label': 'show zone ' + zone.id });
    box.checked = true;
    box.addEventListener('change', () => { if (scene3d) scene3d.showZone(i, box.checked); });
    const item = make('li', {}, box, make('span', { class: 'swatch ' + zone.effect }),
      make('button', { type: 'button', text: zone.id, onclick: () => chooseZone(i, true) }),
      make('span', { text: zone.reason + ' - ' + { forbid: 'forbids ', caution: 'caution for ', limit: 'limited for ' }[zone.effect] + zone.keeps_out }));
    item.addEventListener('pointerenter', () => { if (scene3d) scene3d.lightZone(i); });
    item.addEventListener('pointerleave', () => { if (scene3d) scene3d.lightZone(-1); });
    byId('zones').append(item);
    return item;
  });
  const placeItems = data.places.map((place, i) => {
    const item = make('li', {}, make('button', { type: 'button', text: place.id, onclick: () => flyToPlace(i) }),
      make('span', { class: 'soft', text: place.kind + (place.name !== place.id ? ', ' + place.name : '') }));
    byId('places').append(item);
    return item;
  });
  for (const line of data.lines)
    byId('lines').append(make('li', { text: line.kind + ' ' + line.name + ': ' + line.words }));
  for (const home of data.homes) {
    const body = make('tbody');
    for (const row of home.rows) {
      const line = make('tr', { class: row.at ? 'pick' : '' }, make('td', { class: 'text', text: row.place }), make('td', { text: row.time }),
        make('td', { text: row.distance }), make('td', { text: row.moves }), make('td', { class: 'text', text: row.verdict }));
      if (row.at) line.addEventListener('click', () => flyToPoint(row.at, row.place, row.time + ' from home, ' + row.verdict));
      body.append(line);
    }
    const head = ['place', 'time', 'm', 'moves', 'verdict'].map((text, k) => make('th', { scope: 'col', text, class: k % 4 ? '' : 'text' }));
    byId('homes').append(make('h2', { text: 'Way home' }), make('div', { class: 'scroll' }, make('table', {}, make('caption', { text: home.title }), make('thead', {}, make('tr', {}, ...head)), body)));
    if (home.farthest.length) byId('homes').append(make('h3', { text: 'Farthest of each part' }), reasonsList(home.farthest));
  }
  for (const [id, list] of [['ways-box', ways], ['rows-box', tables.filter(Boolean)], ['charts-box', data.charts], ['homes-box', data.homes], ['lines-box', data.lines],
    ['loads-box', data.boxes], ['zones-box', data.zones], ['places-box', data.places]]) byId(id).classList.toggle('away', list.length === 0);
  for (const text of ['Model digest ' + data.digest, 'holdfast ' + data.engine + '; lengths and times are rounded up, clearances down; between two grips the figure and its load are drawn in between.',
    'Frame: +x forward, +y starboard, +z nadir, in metres. Results: ' + ([...new Set(ways.map((way) => way.source).concat(data.homes.map((home) => home.source)))].join(', ') || 'none') + '.',
    'Drawn with three.js ' + data.three + ' (MIT licence; its notice stands in this page\'s source). Line colours after Okabe and Ito.'])
    byId('about').append(make('p', { text }));
  const signs = byId('key-to-signs');
  const sign = (picture, text) => signs.append(make('dt', {}, picture), make('dd', { text }));
  for (const effect of ['forbid', 'caution', 'limit'])
    if (data.zones.some((zone) => zone.effect === effect))
      sign(make('span', { class: 'swatch ' + effect }), { forbid: 'a zone that forbids: slanted stripes', caution: 'a caution zone: dots', limit: 'a zone of limited stay: level lines' }[effect]);
  if (ways.length) {
    const icon = (...shapes) => drawn('svg', { viewBox: '0 0 40 20', width: 40, height: 20, 'aria-hidden': 'true' }, ...shapes);
    sign(make('span', { class: 'sign', text: 'A 3' }), 'waypoint 3 of way A, at the hand');
    sign(icon(drawn('line', { x1: 1, x2: 39, y1: 10, y2: 10, stroke: ways[0].colour, 'stroke-width': 2, 'stroke-opacity': .55 })), 'a way where structure hides it: thin and pale');
    sign(icon(drawn('circle', { cx: 20, cy: 10, r: 8, fill: 'none', stroke: ways[0].colour, 'stroke-width': 2.5 })), 'the corridor round the body axis, to scale');
    if (data.boxes.length) sign(icon(drawn('rect', { x: 8, y: 3, width: 24, height: 14, fill: '#e8dcc4', stroke: '#1c2733' })), 'the load, to scale');
  }

  // ---- charts -------------------------------------------------------------------------------------------------------

  function barChart(chart) {
    const list = chart.ways, rowHeight = 30, left = 148, right = 62, width = 480;
    const most = Math.max(1, ...list.map((i) => ways[i].time_s));
    const svg = drawn('svg', { class: 'chart', viewBox: `0 0 ${width} ${list.length * rowHeight + 8}`, role: 'img', 'aria-label': chart.title });
    list.forEach((i, k) => {
      const way = ways[i], y = k * rowHeight + 4, long = (width - left - right) * way.time_s / most;
      const name = way.name.slice(way.name.lastIndexOf(', ') + 2);
      const group = drawn('g', { 'data-way': i },
        drawn('text', { x: left - 6, y: y + 17, 'text-anchor': 'end', text: way.letter + '  ' + (name.length > 20 ? name.slice(0, 19) + '…' : name) }));
      if (way.rows.length) {
        group.append(drawn('rect', { x: left, y: y + 3, width: long, height: rowHeight - 10, fill: way.colour, 'fill-opacity': .3, stroke: way.colour }),
          drawn('line', { x1: left, x2: left + long, y1: y + 13, y2: y + 13, stroke: way.colour, 'stroke-width': 4, 'stroke-dasharray': dashes(way, 4) }),
          drawn('text', { x: left + long + 5, y: y + 17, 'font-weight': 600, text: way.time }));
      } else {
        group.append(drawn('text', { x: left + 4, y: y + 17, 'font-weight': 600, text: 'no way' }));
      }
      svg.append(group);
    });
    return svg;
  }

  function scatterChart(chart) {
    const list = chart.ways.filter((i) => ways[i].rows.length), width = 480, height = 260, left = 46, bottom = 40, top = 12, right = 36;
    const span = (values) => { const low = Math.min(...values), high = Math.max(...values), pad = Math.max((high - low) * .12, 1); return [low - pad, high + pad]; };
    const [t0, t1] = span(list.map((i) => ways[i].time_s)), [m0, m1] = span(list.map((i) => ways[i].moves));
    const x = (t) => left + (width - left - right) * (t - t0) / (t1 - t0), y = (m) => height - bottom - (height - bottom - top) * (m - m0) / (m1 - m0);
    const svg = drawn('svg', { class: 'chart', viewBox: `0 0 ${width} ${height}`, role: 'img', 'aria-label': chart.title },
      drawn('path', { d: `M${left} ${top}V${height - bottom}H${width - right}`, fill: 'none', stroke: '#54606e' }),
      drawn('text', { x: (left + width - right) / 2, y: height - 4, 'text-anchor': 'middle', text: 'time' }),
      drawn('text', { x: 12, y: (top + height - bottom) / 2, 'text-anchor': 'middle', transform: `rotate(-90 12 ${(top + height - bottom) / 2})`, text: 'hand moves' }));
    for (let k = 0; k <= 4; ++k) {
      const t = t0 + (t1 - t0) * k / 4;
      svg.append(drawn('line', { x1: x(t), x2: x(t), y1: height - bottom, y2: height - bottom + 4, stroke: '#54606e' }),
        drawn('text', { x: x(t), y: height - bottom + 16, 'text-anchor': 'middle', text: clock(t) }));
    }
    const step = Math.max(1, Math.ceil((m1 - m0) / 5));
    for (let m = Math.ceil(m0); m <= m1; m += step)
      svg.append(drawn('line', { x1: left - 4, x2: left, y1: y(m), y2: y(m), stroke: '#54606e' }), drawn('text', { x: left - 7, y: y(m) + 4, 'text-anchor': 'end', text: m }));
    const taken = [];
    for (const i of list) {
      const way = ways[i];
      const at = [x(way.time_s), y(way.moves)];
      while (taken.some((other) => Math.hypot(other[0] - at[0], other[1] - at[1]) < 20)) at[0] += 20;
      taken.push(at);
      svg.append(drawn('g', { 'data-way': i }, drawn('line', { x1: x(way.time_s), y1: y(way.moves), x2: at[0], y2: at[1], stroke: way.colour }),
        drawn('circle', { cx: at[0], cy: at[1], r: 10, fill: '#fff', stroke: way.colour, 'stroke-width': 3 }),
        drawn('text', { x: at[0], y: at[1] + 4, 'text-anchor': 'middle', 'font-weight': 700, text: way.letter }),
        drawn('text', { x: at[0] > width * .7 ? at[0] - 14 : at[0] + 14, 'text-anchor': at[0] > width * .7 ? 'end' : 'start', y: at[1] - 8, text: 'clear ' + way.clearance + ' m' + (way.caution !== '0:00:00' ? ', caution ' + way.caution : '') })));
    }
    return svg;
  }

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
    for (const lines of rowElements) for (const line of lines) line.classList.remove('chosen'), line.removeAttribute('aria-current');
    refreshShown();
    if (row >= 0) {
      const line = rowElements[way][row], facts = ways[way].rows[row];
      line.classList.add('chosen');
      line.setAttribute('aria-current', 'true');
      line.scrollIntoView({ block: 'nearest' });
      setTime(facts.at_s);
      tell(ways[way].letter + ' ' + row + ': ' + facts.what, 'rail ' + facts.rail + ', so far ' + facts.total_time + ', clearance ' + facts.clearance + ' m, spare ' + facts.spare + ' m', facts.remark);
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
    if (scene3d) { scene3d.lightZone(i); if (isToFly) scene3d.flyToZone(i); }
  }
  function flyToPlace(i) {
    placeItems.forEach((item, k) => item.classList.toggle('chosen', k === i));
    const place = data.places[i];
    flyToPoint(place.at, place.id, place.kind);
  }
  function flyToPoint(at, ...lines) {
    tell(...lines);
    if (scene3d) scene3d.flyToPoint(at);
  }
  function step(by) {
    const way = ways[state.way];
    if (way && way.rows.length) choose(state.way, Math.min(way.rows.length - 1, Math.max(0, state.row + by)));
  }

  // ---- the clock ----------------------------------------------------------------------------------------------------

  function setTime(seconds) {
    state.time = Math.min(Math.max(0, seconds), Math.ceil(longest()));
    byId('time').value = String(state.time);
    byId('now').textContent = clock(state.time);
    byId('time').setAttribute('aria-valuetext', clock(state.time) + ' of ' + clock(longest()));
    if (scene3d) scene3d.setTime(state.time);
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
    setTime(state.time + (now - lastFrame) / 1000 * Number(byId('speed').value));
    lastFrame = now;
    if (state.time >= longest()) play(false);
    else requestAnimationFrame(tick);
  }
  byId('time').addEventListener('input', () => { play(false); setTime(Number(byId('time').value)); });
  byId('play').addEventListener('click', () => play(!state.playing));
  byId('clock').classList.toggle('away', !tables.some(Boolean));

  // ---- three dimensions ---------------------------------------------------------------------------------------------

  const named = {  // from where one looks, and which key
    zenith: { from: [0, 0.001, -1], key: '1' }, nadir: { from: [0, 0.001, 1], key: '2' },
    port: { from: [0, -1, 0], key: '3' }, starboard: { from: [0, 1, 0], key: '4' },
    forward: { from: [1, 0, 0], key: '5' }, aft: { from: [-1, 0, 0], key: '6' }
  };

  function build() {
    const view = byId('view');
    const renderer = new THREE.WebGLRenderer({ antialias: true, alpha: true, preserveDrawingBuffer: true });
    const canInstance = !!renderer.extensions.get('ANGLE_instanced_arrays');
    const canIndex32 = !!renderer.extensions.get('OES_element_index_uint');
    renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
    view.prepend(renderer.domElement);
    const scene = new THREE.Scene();
    const camera = new THREE.PerspectiveCamera(30, 1, 0.1, 1000);
    camera.up.set(0, 0, -1);
    const vector = (list) => new THREE.Vector3(list[0], list[1], list[2]);
    const min = vector(data.min), max = vector(data.max);
    const middle = min.clone().add(max).multiplyScalar(.5);
    const size = Math.max(max.distanceTo(min), 1);
    const resolution = new THREE.Vector2(1, 1);
    const caster = new THREE.Raycaster();
    let structureTriangles = 0;
    let perMetre = 1;  // pixels a metre at the target

    scene.add(new THREE.HemisphereLight(0xffffff, 0x8d99a6, .72));
    const lamp = new THREE.DirectionalLight(0xffffff, .42);
    scene.add(lamp, lamp.target);

    // The structure: one buffer for all parts; a triangle's part is found by its number.
    const firstTriangle = [];
    const hidden = [];
    let structure = null;
    (function addStructure() {
      const total = data.parts.reduce((sum, part) => sum + part.mesh.vertices, 0);
      const position = new Float32Array(total * 3), normal = new Int8Array(total * 3), index = [], edge = [];
      let base = 0, triangles = 0;
      for (const part of data.parts) {
        const mesh = meshOf(part.mesh);
        position.set(mesh.position, base * 3);
        normal.set(mesh.normal, base * 3);
        const shift = (list, out) => { const moved = new Uint32Array(list.length); for (let i = 0; i < list.length; ++i) moved[i] = list[i] + base; out.push(moved); };
        shift(mesh.triangle, index);
        shift(mesh.edge, edge);
        firstTriangle.push(triangles);
        triangles += mesh.triangle.length / 3;
        base += part.mesh.vertices;
      }
      structureTriangles = triangles;
      const join = (lists) => { const all = new Uint32Array(lists.reduce((sum, list) => sum + list.length, 0)); let at = 0; for (const list of lists) { all.set(list, at); at += list.length; } return all; };
      const geometry = new THREE.BufferGeometry();
      geometry.setAttribute('position', new THREE.BufferAttribute(position, 3));
      geometry.setAttribute('normal', new THREE.BufferAttribute(normal, 3, true));
      geometry.setIndex(new THREE.BufferAttribute(join(index), 1));
      const plain = canIndex32 || total < 65536 ? geometry : geometry.toNonIndexed();
      structure = new THREE.Mesh(plain, new THREE.MeshLambertMaterial({ color: 0xd3d8dd, side: THREE.DoubleSide, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 }));
      scene.add(structure);
      const edges = new THREE.BufferGeometry();
      edges.setAttribute('position', geometry.getAttribute('position'));
      edges.setIndex(new THREE.BufferAttribute(join(edge), 1));
      scene.add(new THREE.LineSegments(canIndex32 || total < 65536 ? edges : edges.toNonIndexed(), new THREE.LineBasicMaterial({ color: 0x6d7883 })));
    })();

    function meshOf(mesh) {
      const Index = mesh.vertices < 65536 ? Uint16Array : Uint32Array;
      const steps = numbers(mesh.position, Uint16Array), position = new Float32Array(steps.length);
      for (let i = 0; i < steps.length; ++i) position[i] = mesh.min[i % 3] + mesh.size[i % 3] * steps[i] / 65535;
      return { position, normal: numbers(mesh.normal, Int8Array), triangle: numbers(mesh.triangle, Index), edge: numbers(mesh.edge, Index) };
    }

    // ---- lines of a width in pixels, in four-part dashes

    function lineMaterial(colour, width, options) {
      const material = new THREE.LineMaterial({ color: new THREE.Color(colour), linewidth: width });
      material.uniforms.resolution.value = resolution;
      material.uniforms.opacity.value = options.opacity || 1;
      material.transparent = (options.opacity || 1) < 1;
      if (options.dash && options.dash[1] > 0) {
        material.defines = { USE_DASH: '' };
        material.uniforms.pattern = { value: new THREE.Vector4(...options.dash.map((d) => d * options.dashWidth)) };
        material.fragmentShader = material.fragmentShader.replace('uniform float dashSize;', 'uniform vec4 pattern;').replace('uniform float gapSize;', '')
          .replace(/if \( mod\( vLineDistance, dashSize \+ gapSize \) > dashSize \) discard;.*/, 'float along = mod( vLineDistance, pattern.x + pattern.y + pattern.z + pattern.w ); if ( ( along > pattern.x && along < pattern.x + pattern.y ) || along > pattern.x + pattern.y + pattern.z ) discard;');
        dashed.push(material);
      }
      material.depthFunc = options.behind ? THREE.GreaterDepth : THREE.LessEqualDepth;
      material.depthWrite = !options.behind && !options.below;
      return material;
    }
    const dashed = [];
    /// `points`: pairs of segment ends, flat.
    function segments(pairs, colour, width, options) {
      if (!canInstance) {
        const geometry = new THREE.BufferGeometry();
        geometry.setAttribute('position', new THREE.BufferAttribute(Float32Array.from(pairs), 3));
        return new THREE.LineSegments(geometry, new THREE.LineBasicMaterial({ color: colour }));
      }
      const geometry = new THREE.LineSegmentsGeometry();
      geometry.setPositions(pairs);
      const line = new THREE.LineSegments2(geometry, lineMaterial(colour, width, options));
      if (options.dash) line.computeLineDistances();
      line.frustumCulled = false;
      line.renderOrder = options.order || 0;
      return line;
    }
    const pairsOf = (points) => { const pairs = []; for (let i = 0; i + 1 < points.length; ++i) pairs.push(...points[i], ...points[i + 1]); return pairs; };

    // Rails: one buffer for all.
    const railPairs = [], railOfSegment = [];
    (function addRails() {
      const points = numbers(data.rails.point, Float32Array);
      let at = 0;
      data.rails.count.forEach((n, rail) => {
        for (let k = 0; k < n; ++k) {
          const next = k + 1 < n ? k + 1 : k;
          if (n > 1 && k + 1 === n) break;
          for (const p of [k, next]) railPairs.push(points[(at + p) * 3], points[(at + p) * 3 + 1], points[(at + p) * 3 + 2]);
          railOfSegment.push(rail);
        }
        at += n;
      });
      if (railPairs.length) scene.add(segments(railPairs, 0x33414f, railOfSegment.length > 5000 ? 1.5 : 2.5, {}));
    })();

    // Zones: veils with a pattern for each effect, so that they are told apart without colour.
    const zoneMeshes = data.zones.map((zone) => {
      const mesh = meshOf(zone.mesh);
      const geometry = new THREE.BufferGeometry();
      geometry.setAttribute('position', new THREE.BufferAttribute(mesh.position, 3));
      geometry.setIndex(new THREE.BufferAttribute(mesh.triangle, 1));
      const material = new THREE.ShaderMaterial({
        uniforms: { colour: { value: new THREE.Color({ forbid: '#b3261e', caution: '#8a5a00', limit: '#3d5a80' }[zone.effect]) }, veil: { value: .1 }, mark: { value: .38 }, kind: { value: { forbid: 0, caution: 1, limit: 2 }[zone.effect] } },
        vertexShader: 'void main() { gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0); }',
        fragmentShader: 'uniform vec3 colour; uniform float veil; uniform float mark; uniform int kind; void main() { bool on; vec2 p = gl_FragCoord.xy;' +
          ' if (kind == 0) on = mod(p.x + p.y, 11.0) < 2.6; else if (kind == 1) on = length(mod(p, 9.0) - 4.5) < 1.7; else on = mod(p.y, 8.0) < 1.6;' +
          ' gl_FragColor = vec4(colour, on ? mark : veil); }',
        transparent: true, depthWrite: false, side: THREE.FrontSide
      });
      const solid = new THREE.Mesh(geometry, material);
      solid.renderOrder = 5;
      const edges = new THREE.BufferGeometry();
      edges.setAttribute('position', geometry.getAttribute('position'));
      edges.setIndex(new THREE.BufferAttribute(mesh.edge, 1));
      solid.add(new THREE.LineSegments(edges, new THREE.LineBasicMaterial({ color: material.uniforms.colour.value, transparent: true, opacity: .5 })));
      geometry.computeBoundingSphere();
      scene.add(solid);
      return solid;
    });

    // Places: dots; their labels stand in the page.
    function disc() {
      const canvas = document.createElement('canvas');
      canvas.width = canvas.height = 32;
      const pen = canvas.getContext('2d');
      pen.beginPath();
      pen.fillStyle = '#fff';
      pen.arc(16, 16, 14, 0, 7);
      pen.fill();
      return new THREE.CanvasTexture(canvas);
    }
    function points(list, colour, pixels, map) {
      const geometry = new THREE.BufferGeometry();
      geometry.setAttribute('position', new THREE.BufferAttribute(Float32Array.from(list.flat()), 3));
      const cloud = new THREE.Points(geometry, new THREE.PointsMaterial({ color: colour, size: pixels, sizeAttenuation: false, map, alphaTest: .5 }));
      cloud.frustumCulled = false;
      return cloud;
    }
    const round = disc();
    if (data.places.length) scene.add(points(data.places.map((place) => place.at), 0x1c2733, 7, round));
    if (data.homes.some((home) => home.farthest.length))
      scene.add(points(data.homes.flatMap((home) => home.farthest.map((grip) => grip.at)), 0xb3261e, 7, round));

    // Cables and tethers, with ties and bends.
    for (const line of data.lines) {
      const list = [];
      for (let i = 0; i < line.point.length; i += 3) list.push(line.point.slice(i, i + 3));
      const isCable = line.kind === 'cable';
      scene.add(segments(pairsOf(list), isCable ? '#5b2a86' : '#7a4a00', isCable ? 4 : 2.5, { dash: isCable ? null : [6, 1, 1, 1], dashWidth: 2.5, order: 3 }));
      if (line.ties.length) scene.add(points(line.ties.map((tie) => tie.at), 0x5b2a86, 10, null));
      if (line.bends.length) scene.add(points(line.bends.map((bend) => bend.at), 0x5b2a86, 6, round));
    }

    // Ways: along the hands, a little off the rails, each a little farther than the one before, so that ways over the
    // same rails lie side by side.
    const wayGroups = ways.map((way, i) => {
      const group = new THREE.Group();
      if (!way.rows.length) return group;
      const poses = way.poses, n = poses.at_s.length, hands = [];
      const lift = .05 + .05 * (i % 7);
      for (let k = 0; k < n; ++k) hands.push([0, 1, 2].map((c) => poses.hand[3 * k + c] + lift * poses.stance[3 * k + c]));
      way.hands = hands;
      if (n > 1) {
        const pairs = pairsOf(hands);
        group.add(segments(pairs, '#ffffff', 8, { order: 1, below: true }), segments(pairs, way.colour, 5, { dash: way.dash, dashWidth: 5, order: 2 }),
          segments(pairs, way.colour, 2, { dash: way.dash, dashWidth: 5, opacity: .55, behind: true, order: 2 }));
      }
      const grips = points(hands, way.colour, 6, round);
      grips.renderOrder = 3;
      group.add(grips);
      group.add(way.tube = corridorOf(way));
      way.tube.visible = false;
      scene.add(group);
      return group;
    });

    function corridorOf(way) {
      const p = way.body.point, n = way.body.at_s.length, sides = 20, position = [], index = [];
      const at = (k) => new THREE.Vector3(p[3 * k], p[3 * k + 1], p[3 * k + 2]);
      let side = null;
      for (let k = 0; k < n; ++k) {
        const along = at(Math.min(n - 1, k + 1)).sub(at(Math.max(0, k - 1)));
        if (along.length() < 1e-6) along.set(1, 0, 0);
        along.normalize();
        if (!side) side = Math.abs(along.z) < .9 ? new THREE.Vector3(0, 0, 1) : new THREE.Vector3(1, 0, 0);
        side = side.clone().sub(along.clone().multiplyScalar(side.dot(along))).normalize();
        const other = along.clone().cross(side);
        for (let s = 0; s < sides; ++s) {
          const angle = 2 * Math.PI * s / sides;
          const v = at(k).addScaledVector(side, way.radius * Math.cos(angle)).addScaledVector(other, way.radius * Math.sin(angle));
          position.push(v.x, v.y, v.z);
          if (k > 0) { const a = (k - 1) * sides + s, b = (k - 1) * sides + (s + 1) % sides; index.push(a, b, a + sides, b, b + sides, a + sides); }
        }
      }
      const geometry = new THREE.BufferGeometry();
      geometry.setAttribute('position', new THREE.BufferAttribute(Float32Array.from(position), 3));
      geometry.setIndex(position.length / 3 < 65536 ? index : new THREE.BufferAttribute(Uint32Array.from(index), 1));
      geometry.computeVertexNormals();
      // First its depth alone, so that of a tube that crosses itself only the nearest face shows.
      const tube = new THREE.Mesh(geometry, new THREE.MeshBasicMaterial({ colorWrite: false, transparent: true, side: THREE.DoubleSide }));
      const veil = new THREE.Mesh(geometry, new THREE.MeshLambertMaterial({ color: way.colour, transparent: true, opacity: .3, depthWrite: false, side: THREE.DoubleSide }));
      tube.renderOrder = 6;
      veil.renderOrder = 7;
      tube.add(veil);
      return tube;
    }

    // The figure: a suited person, chest to the rail, head in the direction of travel; the corridor as a ring.
    function figureOf(way) {
      const figure = new THREE.Group();
      const suit = new THREE.MeshLambertMaterial({ color: 0xf7f9fb }), dark = new THREE.MeshLambertMaterial({ color: 0x33414f }), tint = new THREE.MeshLambertMaterial({ color: way.colour });
      const add = (geometry, material, x, y, z, parent) => { const mesh = new THREE.Mesh(geometry, material); mesh.position.set(x, y, z); (parent || figure).add(mesh); return mesh; };
      // x: head, z: away from the rail
      add(new THREE.BoxBufferGeometry(.62, .48, .3), suit, 0, 0, 0);
      add(new THREE.BoxBufferGeometry(.6, .44, .2), tint, .02, 0, .24);
      add(new THREE.SphereBufferGeometry(.18, 20, 14), suit, .45, 0, 0);
      add(new THREE.SphereBufferGeometry(.14, 20, 14), dark, .5, 0, -.07);
      for (const y of [-.13, .13]) {
        const leg = add(new THREE.CylinderBufferGeometry(.1, .085, .8, 12), suit, -.7, y, .02);
        leg.rotation.z = Math.PI / 2;
        add(new THREE.BoxBufferGeometry(.12, .14, .26), dark, -1.1, y, -.03);
      }
      figure.arms = [-1, 1].map((y) => { const arm = add(new THREE.CylinderBufferGeometry(.07, .06, 1, 10), suit, 0, 0, 0); arm.shoulder = new THREE.Vector3(.24, y * .27, -.03); return arm; });
      const ring = new THREE.Mesh(new THREE.TorusBufferGeometry(way.radius, .012, 8, 64), tint);
      ring.rotation.y = Math.PI / 2;
      figure.add(ring);
      const disk = new THREE.Mesh(new THREE.CylinderBufferGeometry(way.radius, way.radius, .5, 48, 1, true), new THREE.MeshLambertMaterial({ color: way.colour, transparent: true, opacity: .2, depthWrite: false, side: THREE.DoubleSide }));
      disk.rotation.z = Math.PI / 2;
      disk.renderOrder = 4;
      figure.add(disk);
      figure.boxes = way.loads.map((box) => {
        const size = data.boxes[box].size;
        const geometry = new THREE.BoxBufferGeometry(size[0], size[1], size[2]);
        const mesh = new THREE.Mesh(geometry, new THREE.MeshLambertMaterial({ color: 0xe8dcc4, transparent: true, opacity: .9 }));
        mesh.add(new THREE.LineSegments(new THREE.EdgesGeometry(geometry), new THREE.LineBasicMaterial({ color: 0x1c2733 })));
        scene.add(mesh);
        return mesh;
      });
      scene.add(figure);
      return figure;
    }
    const figures = ways.map((way) => way.rows.length ? figureOf(way) : null);

    /// The last index at or before `seconds`, and how far on to the next.
    function find(times, seconds) {
      let low = 0, high = times.length - 1;
      if (seconds <= times[0]) return [0, 0];
      if (seconds >= times[high]) return [high, 0];
      while (high - low > 1) { const mid = (low + high) >> 1; if (times[mid] <= seconds) low = mid; else high = mid; }
      return [low, (seconds - times[low]) / Math.max(times[high] - times[low], 1e-9)];
    }
    const read = (list, k, stride, offset) => new THREE.Vector3(list[k * stride + offset], list[k * stride + offset + 1], list[k * stride + offset + 2]);
    function between(list, k, t, stride, offset) {
      const a = read(list, k, stride, offset);
      return t > 0 ? a.lerp(read(list, k + 1, stride, offset), t) : a;
    }

    function place(i, seconds) {
      const way = ways[i], figure = figures[i];
      const [k, t] = find(way.body.at_s, seconds);
      const body = between(way.body.point, k, t, 3, 0);
      const [g, u] = find(way.poses.at_s, seconds);
      const hand = between(way.poses.hand, g, u, 3, 0);
      const up = body.clone().sub(hand).normalize();
      const last = way.body.at_s.length - 1;
      const ahead = read(way.body.point, Math.min(last, k + 2), 3, 0).sub(read(way.body.point, Math.max(0, k - 1), 3, 0));
      ahead.sub(up.clone().multiplyScalar(ahead.dot(up)));
      if (ahead.length() < 1e-3) ahead.set(1, 0, 0).sub(up.clone().multiplyScalar(up.x));
      if (ahead.length() < 1e-3) ahead.set(0, 1, 0);
      ahead.normalize();
      const side = up.clone().cross(ahead);
      figure.position.copy(body);
      figure.quaternion.setFromRotationMatrix(new THREE.Matrix4().makeBasis(ahead, side, up));
      const holds = [read(way.poses.hand, g, 3, 0), read(way.poses.hand, Math.min(g + 1, way.poses.at_s.length - 1), 3, 0)];
      figure.updateMatrixWorld();
      figure.arms.forEach((arm, a) => {
        const to = figure.worldToLocal(holds[(g + a) % 2].clone()).sub(arm.shoulder);
        const long = Math.max(.2, to.length());
        arm.scale.set(1, long, 1);
        arm.position.copy(arm.shoulder).addScaledVector(to, .5);
        arm.quaternion.setFromUnitVectors(new THREE.Vector3(0, 1, 0), to.clone().normalize());
      });
      const stride = 8 * figure.boxes.length;
      figure.boxes.forEach((mesh, b) => {
        mesh.position.copy(between(way.poses.loads, g, u, stride, 8 * b + 1));
        const turn = (at) => new THREE.Quaternion(...way.poses.loads.slice(at * stride + 8 * b + 4, at * stride + 8 * b + 8));
        mesh.quaternion.copy(turn(g));
        if (u > 0) mesh.quaternion.slerp(turn(g + 1), u);
      });
      figure.body = body;
    }

    // ---- the camera

    const controls = new THREE.OrbitControls(camera, renderer.domElement);
    controls.enableKeys = false;
    controls.screenSpacePanning = true;
    controls.rotateSpeed = .7;
    controls.maxDistance = size * 6;
    controls.minDistance = .3;
    controls.addEventListener('change', () => draw());
    controls.addEventListener('start', () => { flight = null; });

    let flight = null;
    function look(target, from, distance) {
      controls.target.copy(target);
      camera.position.copy(target).addScaledVector(from.clone().normalize(), distance);
      controls.update();
      draw();
    }
    function fly(target, from, distance) {
      if (still.matches) return look(target, from, distance);
      const start = { target: controls.target.clone(), from: camera.position.clone().sub(controls.target), at: performance.now() };
      const far = start.from.length();
      start.from.normalize();
      const end = from.clone().normalize();
      if (start.from.dot(end) < -.999) start.from.add(new THREE.Vector3(.05, .05, 0)).normalize();
      const mine = flight = {};
      (function move() {
        if (flight !== mine) return;
        const t = Math.min(1, (performance.now() - start.at) / 450), s = t * t * (3 - 2 * t);
        look(start.target.clone().lerp(target, s), t === 1 ? end : start.from.clone().lerp(end, s), far + (distance - far) * s);
        if (t < 1) requestAnimationFrame(move);
        else flight = null;
      })();
    }
    const corners = (low, high) => [0, 1, 2, 3, 4, 5, 6, 7].map((k) => new THREE.Vector3(k & 1 ? high.x : low.x, k & 2 ? high.y : low.y, k & 4 ? high.z : low.z));
    /// So far that all of the box is seen from there.
    function distanceFor(low, high, from) {
      const mid = low.clone().add(high).multiplyScalar(.5), back = from.clone().normalize();
      const right = new THREE.Vector3(0, 0, -1).cross(back);
      if (right.length() < .05) right.set(1, 0, 0);
      right.normalize();
      const up = back.clone().cross(right), half = Math.tan(camera.fov * Math.PI / 360);
      let distance = .5;
      for (const corner of corners(low, high)) {
        const d = corner.sub(mid), depth = d.dot(back);
        distance = Math.max(distance, depth + Math.abs(d.dot(up)) / half, depth + Math.abs(d.dot(right)) / (half * camera.aspect));
      }
      return distance * 1.06;
    }
    const bearing = () => camera.position.clone().sub(controls.target).normalize();
    function showNamed(name) {
      const from = vector(named[name].from);
      fly(middle, from, distanceFor(min, max, from));
    }
    function fit() { const from = bearing(); fly(middle, from, distanceFor(min, max, from)); }
    function boxOf(list) {
      const low = new THREE.Vector3(Infinity, Infinity, Infinity), high = low.clone().negate();
      for (const p of list) { low.min(p); high.max(p); }
      return [low, high];
    }
    function flyToBox(list, margin) {
      const [low, high] = boxOf(list);
      low.subScalar(margin); high.addScalar(margin);
      const from = bearing();
      fly(low.clone().add(high).multiplyScalar(.5), from, distanceFor(low, high, from));
    }
    function orbit(right, up) {
      const offset = camera.position.clone().sub(controls.target), turn = new THREE.Quaternion().setFromUnitVectors(camera.up, new THREE.Vector3(0, 1, 0));
      offset.applyQuaternion(turn);
      const round = new THREE.Spherical().setFromVector3(offset);
      round.theta += right;
      round.phi = Math.min(Math.PI - .001, Math.max(.001, round.phi + up));
      offset.setFromSpherical(round).applyQuaternion(turn.inverse());
      camera.position.copy(controls.target).add(offset);
      controls.update();
      draw();
    }
    function pan(right, up) {
      const far = camera.position.distanceTo(controls.target) * .06;
      const move = new THREE.Vector3(right * far, up * far, 0).applyQuaternion(camera.quaternion);
      camera.position.add(move);
      controls.target.add(move);
      controls.update();
      draw();
    }
    function zoom(by) { look(controls.target.clone(), bearing(), camera.position.distanceTo(controls.target) * by); }

    // ---- labels in the page

    const labels = [];
    function label(at, text, kind) {
      const element = make('span', { text, class: kind });
      byId('labels').append(element);
      const entry = { at, element, rank: kind === 'chip' ? 1 : kind === 'end' ? 2 : 4, isOn: true, width: 0 };
      labels.push(entry);
      return entry;
    }
    const ends = new Set(ways.flatMap((way) => [way.name.split(',')[0].split(' to ')].flat()));
    const placeLabels = data.places.map((place) => label(vector(place.at), place.id, ends.has(place.id) ? 'end' : ''));
    const figureLabels = ways.map((way, i) => figures[i] ? label(new THREE.Vector3(), way.letter, 'chip') : null);
    const rowLabels = ways.map((way) => way.rows.map((row, r) => label(vector(row.hand), way.letter + ' ' + r, 'chip')));
    for (const line of data.lines) for (const mark of line.ties.concat(line.bends)) label(vector(mark.at), mark.text, '');
    const reasonLabels = ways.flatMap((way) => way.reasons.slice(0, 1).map((reason) => label(vector(reason.at), way.letter + ' stops here', 'chip')));
    for (const entry of labels) entry.width = entry.element.offsetWidth, entry.height = entry.element.offsetHeight || 16;

    const spot = new THREE.Vector3();
    /// Pixels in the view; null behind the camera.
    function project(at) {
      spot.copy(at).project(camera);
      if (spot.z > 1 || spot.z < -1) return null;
      return [(spot.x + 1) / 2 * view.clientWidth, (1 - spot.y) / 2 * view.clientHeight];
    }
    function placeLabelsInView() {
      const taken = [];
      const wide = view.clientWidth, high = view.clientHeight;
      if (!wide) return;  // on paper the view itself is not there
      for (const entry of labels.slice().sort((a, b) => a.rank - b.rank)) {
        const at = entry.isOn ? project(entry.at) : null;
        let isShown = false;
        entry.spot = null;
        if (at && at[0] > -20 && at[0] < wide + 20 && at[1] > -10 && at[1] < high + 10) {
          const box = [at[0] + 8, at[1] - entry.height - 3, at[0] + 8 + entry.width, at[1] - 3];
          isShown = entry.rank === 0 || !taken.some((other) => box[0] < other[2] && box[2] > other[0] && box[1] < other[3] && box[3] > other[1]);
          if (isShown) {
            taken.push(box);
            entry.spot = box;
            entry.element.style.transform = 'translate(' + Math.round(box[0]) + 'px,' + Math.round(box[1]) + 'px)';
          }
        }
        const display = isShown ? '' : 'none';
        if (entry.element.style.display !== display) entry.element.style.display = display;
      }
    }
    /// Labels of what lies behind structure are dimmed, once the camera rests; not on models where that takes long.
    let hiddenTimer = 0;
    const far = new THREE.Vector3();
    function dimHiddenLabels() {
      if (structureTriangles > 80000) return;
      for (const entry of labels) {
        if (entry.element.style.display === 'none') continue;
        far.copy(entry.at).sub(camera.position);
        const length = far.length();
        caster.set(camera.position, far.normalize());
        caster.near = 0;
        caster.far = length - .12;
        entry.element.classList.toggle('hid', entry.rank > 1 && caster.intersectObject(structure).length > 0);
      }
      caster.far = Infinity;
    }
    function drawCompass() {
      const axes = [['forward', [1, 0, 0]], ['aft', [-1, 0, 0]], ['starboard', [0, 1, 0]], ['port', [0, -1, 0]], ['nadir', [0, 0, 1]], ['zenith', [0, 0, -1]]];
      const turn = camera.quaternion.clone().inverse();
      const svg = drawn('svg', { viewBox: '-66 -66 132 132' });
      svg.append(drawn('circle', { r: 64, fill: '#fff', 'fill-opacity': .75 }));
      for (const [name, axis] of axes.map(([n, a]) => [n, vector(a).applyQuaternion(turn)]).sort((a, b) => a[1].z - b[1].z)) {
        if (axis.z < -.3 || Math.hypot(axis.x, axis.y) < .25) continue;
        const x = axis.x * 34, y = -axis.y * 34;
        svg.append(drawn('line', { x2: x, y2: y, stroke: '#1c2733', 'stroke-width': 1.5, 'stroke-opacity': axis.z < .2 ? .6 : 1 }),
          drawn('text', { x, y: y + 4, 'text-anchor': 'middle', 'font-size': 13, 'font-weight': 600, stroke: '#fff', 'stroke-width': 3, 'paint-order': 'stroke', fill: '#1c2733', text: name }));
      }
      byId('compass').replaceChildren(svg);
    }

    // ---- drawing, when something has changed

    let isAsked = false;
    function draw() {
      if (isAsked) return;
      isAsked = true;
      requestAnimationFrame(drawNow);
    }
    function drawNow() {
      isAsked = false;
      const far = camera.position.distanceTo(controls.target);
      camera.near = Math.max(far / 200, .02);
      camera.far = far + size * 3;
      camera.updateProjectionMatrix();
      perMetre = (view.clientHeight || renderer.domElement.height) / (2 * Math.tan(camera.fov * Math.PI / 360) * far);
      for (const material of dashed) material.uniforms.dashScale.value = perMetre;
      lamp.position.copy(camera.position).add(new THREE.Vector3(0, 0, -far * .5));
      lamp.target.position.copy(controls.target);
      renderer.render(scene, camera);
      placeLabelsInView();
      clearTimeout(hiddenTimer);
      hiddenTimer = setTimeout(dimHiddenLabels, 160);
      drawCompass();
      if (!document.body.dataset.drawn) {
        document.body.dataset.drawn = 'yes';
        performance.mark('first picture');
      }
    }
    function resize() {
      if (!view.clientWidth) return;
      const wide = Math.max(1, view.clientWidth), high = Math.max(1, view.clientHeight);
      renderer.setSize(wide, high);
      renderer.domElement.style.width = '100%';
      resolution.set(wide, high);
      camera.aspect = wide / high;
      draw();
    }
    new ResizeObserver(resize).observe(view);

    // ---- picking

    function under(event) {
      const box = view.getBoundingClientRect();
      return [event.clientX - box.left, event.clientY - box.top];
    }
    function cast(at) {
      caster.setFromCamera({ x: at[0] / view.clientWidth * 2 - 1, y: 1 - at[1] / view.clientHeight * 2 }, camera);
      return caster;
    }
    function waypointAt(at, reach) {
      let best = null;
      ways.forEach((way, i) => {
        if (!shown[i]) return;
        way.rows.forEach((row, r) => {
          for (const place of [row.hand, way.hands[Math.min(way.hands.length - 1, row.total_moves)]]) {
            const p = project(vector(place));
            if (!p) continue;
            // The chosen way first, where several have a waypoint at one grip.
            const away = Math.hypot(p[0] - at[0], p[1] - at[1]) - (i === state.way ? 3 : 0);
            if (away < (best ? best.away : reach)) best = { way: i, row: r, away };
          }
        });
      });
      return best;
    }
    function zoneAt(at) {
      const hits = cast(at).intersectObjects(zoneMeshes.filter((mesh) => mesh.visible && zonesOn));
      return hits.length ? [zoneMeshes.indexOf(hits[0].object), hits[0].distance] : [-1, Infinity];
    }
    /// The rail that is drawn nearest to `at`, unless structure at `wall` metres hides it there.
    function railAt(at, reach, wall) {
      let best = -1, away = reach;
      const a = new THREE.Vector3(), b = new THREE.Vector3();
      for (let s = 0; s < railOfSegment.length; ++s) {
        const p = project(a.fromArray(railPairs, s * 6)), q = p && project(b.fromArray(railPairs, s * 6 + 3));
        if (!q) continue;
        const dx = q[0] - p[0], dy = q[1] - p[1], t = Math.max(0, Math.min(1, ((at[0] - p[0]) * dx + (at[1] - p[1]) * dy) / (dx * dx + dy * dy || 1)));
        const d = Math.hypot(p[0] + t * dx - at[0], p[1] + t * dy - at[1]);
        if (d < away && a.lerp(b, t).distanceTo(camera.position) < wall + .15) { away = d; best = railOfSegment[s]; }
      }
      return best;
    }
    function pick(event) {
      const at = under(event), reach = event.pointerType === 'touch' ? 24 : 13;
      const waypoint = waypointAt(at, reach);
      if (waypoint) return choose(waypoint.way, waypoint.row, true);
      const hits = cast(at).intersectObject(structure);
      const [zone, zoneFar] = zoneAt(at);
      const lines = [];
      const rail = railAt(at, reach / 2, hits.length ? hits[0].distance : Infinity);
      if (rail >= 0) {
        const use = data.rails.use[rail];
        lines.push('rail ' + data.rails.id[rail], 'on ' + data.rails.part[rail] + ', for ' + ['hands', 'tether', 'cable'].filter((word, bit) => use & (1 << bit)).join(', '));
      } else if (hits.length) {
        let part = 0;
        while (part + 1 < firstTriangle.length && firstTriangle[part + 1] <= hits[0].faceIndex) ++part;
        const facts = data.parts[part];
        lines.push(facts.name, [facts.name !== facts.id ? facts.id : '', facts.fragile ? 'fragile' : '', facts.no_touch ? 'must not be touched' : ''].filter(Boolean).join(', '));
      }
      if (zone >= 0 && (!hits.length || zoneFar < hits[0].distance) && rail < 0) return chooseZone(zone, false);
      chooseZone(-1);
      lightZone(-1);
      tell(...lines);
    }
    let pressed = null;
    view.addEventListener('pointerdown', (event) => { pressed = under(event); });
    view.addEventListener('pointerup', (event) => {
      const at = under(event);
      if (pressed && Math.hypot(at[0] - pressed[0], at[1] - pressed[1]) < 5 && event.button === 0) pick(event);
      pressed = null;
    });
    let hovered = -1, isHoverAsked = false;
    view.addEventListener('pointermove', (event) => {
      if (event.pointerType !== 'mouse' || event.buttons || isHoverAsked) return;
      isHoverAsked = true;
      requestAnimationFrame(() => {
        isHoverAsked = false;
        const [zone] = zoneAt(under(event));
        if (zone === hovered) return;
        hovered = zone;
        lightZone(zone);
        if (zone >= 0) tell('zone ' + data.zones[zone].id + ': ' + data.zones[zone].reason, data.zones[zone].effect + ' - ' + data.zones[zone].keeps_out);
        else tell();
      });
    });
    function lightZone(i) {
      zoneMeshes.forEach((mesh, k) => { mesh.material.uniforms.veil.value = k === i ? .3 : .1; mesh.material.uniforms.mark.value = k === i ? .75 : .38; });
      draw();
    }

    // ---- buttons and keys

    const bar = byId('views');
    for (const name of Object.keys(named))
      bar.append(make('button', { type: 'button', text: name, 'data-view': name, title: 'key ' + named[name].key, onclick: () => showNamed(name) }));
    bar.append(make('button', { type: 'button', text: 'fit', title: 'key F', onclick: fit }), make('span', { class: 'gap' }));
    function toggle(text, isOn, change) {
      const button = make('button', { type: 'button', text, 'aria-pressed': String(isOn) });
      button.addEventListener('click', () => { const on = button.getAttribute('aria-pressed') !== 'true'; button.setAttribute('aria-pressed', String(on)); change(on); draw(); });
      bar.append(button);
    }
    let zonesOn = true, corridorOn = false, labelsOn = true;
    if (data.zones.length) toggle('zones', true, (on) => { zonesOn = on; zoneMeshes.forEach((mesh, i) => { mesh.visible = on && zoneItems[i].querySelector('input').checked; }); });
    if (tables.some(Boolean)) toggle('corridor', false, (on) => { corridorOn = on; refresh(); });
    toggle('labels', true, (on) => { labelsOn = on; refresh(); });
    view.addEventListener('keydown', (event) => {
      if (event.ctrlKey || event.altKey || event.metaKey) return;
      const turn = .12, move = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
      const name = Object.keys(named).find((n) => named[n].key === event.key);
      flight = null;
      if (move && event.shiftKey) pan(move[0], move[1]);
      else if (move) orbit(move[0] * turn, -move[1] * turn);
      else if (event.key === '+' || event.key === '=') zoom(1 / 1.15);
      else if (event.key === '-') zoom(1.15);
      else if (name) showNamed(name);
      else if (event.key === 'f' || event.key === 'F') fit();
      else if (event.key === 'n' || event.key === 'N') step(1);
      else if (event.key === 'p' || event.key === 'P') step(-1);
      else if (event.key === ' ' && tables.some(Boolean)) play(!state.playing);
      else return;
      event.preventDefault();
    });
    renderer.domElement.addEventListener('webglcontextlost', (event) => {
      event.preventDefault();
      sayGraphics('The graphics of this browser were lost; load the page again to have the view back. All tables stay.');
    });

    function refresh() {
      ways.forEach((way, i) => {
        if (!figures[i]) return;
        wayGroups[i].visible = figures[i].visible = shown[i];
        figures[i].boxes.forEach((mesh) => { mesh.visible = shown[i]; });
        way.tube.visible = corridorOn;
        figureLabels[i].isOn = shown[i] && labelsOn && shown.filter(Boolean).length > 1;
        rowLabels[i].forEach((entry, r) => {
          entry.isOn = shown[i] && i === state.way && (labelsOn || r === state.row);
          entry.rank = i === state.way && r === state.row ? 0 : 3;
          entry.element.classList.toggle('chosen', i === state.way && r === state.row);
        });
      });
      placeLabels.forEach((entry) => { entry.isOn = labelsOn; });
      reasonLabels.forEach((entry) => { entry.isOn = labelsOn; });
      draw();
    }
    function setTimeOfFigures(seconds) {
      ways.forEach((way, i) => {
        if (!figures[i]) return;
        place(i, seconds);
        figureLabels[i].at.copy(figures[i].body);
      });
      draw();
    }
    function flyToRow(w, r) {
      const row = ways[w].rows[r], hand = vector(row.hand), out = vector(row.body).sub(hand).normalize();
      const now = bearing();
      // From outside of the part, as near to the present bearing as that lets.
      const from = now.dot(out) > .35 ? now : now.addScaledVector(out, .9 - now.dot(out)).normalize();
      fly(vector(row.body).lerp(hand, .5), from, Math.max(6, Math.min(9, size * .3)));
    }

    // The first view: from forward, starboard and zenith, where most is seen.
    resize();
    const first = new THREE.Vector3(.45, 1, -.75);
    look(middle, first, distanceFor(min, max, first));

    // For paper: the view on white, as it is now. Chromium asks for it when printing begins.
    function forPaper() {
      drawNow();
      const canvas = document.createElement('canvas'), ratio = renderer.getPixelRatio(), pen = canvas.getContext('2d');
      canvas.width = renderer.domElement.width;
      canvas.height = renderer.domElement.height;
      pen.drawImage(renderer.domElement, 0, 0);
      pen.scale(ratio, ratio);
      pen.font = '600 12px sans-serif';
      pen.textBaseline = 'middle';
      for (const entry of labels) {
        if (!entry.spot) continue;
        const text = entry.element.textContent, wide = pen.measureText(text).width + 8;
        pen.fillStyle = '#fff';
        pen.fillRect(entry.spot[0], entry.spot[1], wide, 16);
        pen.strokeRect(entry.spot[0], entry.spot[1], wide, 16);
        pen.fillStyle = '#000';
        pen.fillText(text, entry.spot[0] + 4, entry.spot[1] + 8);
      }
      byId('print-view').src = canvas.toDataURL('image/png');
    }
    window.addEventListener('beforeprint', forPaper);
    matchMedia('print').addEventListener('change', (event) => { if (event.matches) forPaper(); });

    return {
      refresh, flyToRow, lightZone, forPaper,
      setTime: setTimeOfFigures,
      showZone(i, on) { zoneMeshes[i].visible = on && zonesOn; draw(); },
      flyToWay(i) { const p = ways[i].body.point, list = []; for (let k = 0; k < p.length; k += 3) list.push(new THREE.Vector3(p[k], p[k + 1], p[k + 2])); flyToBox(list, 1); },
      flyToZone(i) { const sphere = zoneMeshes[i].geometry.boundingSphere; fly(sphere.center.clone(), bearing(), Math.max(3, sphere.radius * 6)); },
      flyToPoint(at) { fly(vector(at), bearing(), Math.max(6, Math.min(9, size * .3))); },
      inspect() {
        return { camera: camera.position.toArray(), target: controls.target.toArray(), isFlying: flight !== null,
          figures: figures.map((figure) => figure && { at: figure.position.toArray(), boxes: figure.boxes.map((mesh) => mesh.position.toArray()) }) };
      },
      project: (at) => project(vector(at))
    };
  }

  function sayGraphics(text) {
    byId('graphics').textContent = text;
    byId('graphics').hidden = false;
  }

  try {
    scene3d = build();
  } catch (error) {
    byId('views').classList.add('away');
    sayGraphics('This browser shows no WebGL graphics, so there is no view in three dimensions (' + error.message + '). The tables are complete.');
    document.body.dataset.drawn = 'no';
  }
  refreshShown();
  setTime(0);
  // What scripts may ask of the page: the state, the camera, and where on the screen a point of the structure is.
  window.holdfast = { data, state, inspect: () => scene3d && scene3d.inspect(), project: (at) => scene3d && scene3d.project(at) };
})();
