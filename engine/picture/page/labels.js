// SPDX-License-Identifier: GPL-3.0-or-later
// Labels of the view: which of them have room, the words of the compass. All but `makeLabels` runs without a browser.

const doOverlap = (a, b) => a[0] < b[2] && a[2] > b[0] && a[1] < b[3] && a[3] > b[1];

/// Where each of `entries` ({at, width, height, rank, isOn}) stands in a view of `wide` x `high` pixels: [x0, y0, x1, y1],
/// or null where it is off, or has no room in the view beside those of a lower rank. `project` gives pixels of a point, or null.
function labelBoxes(entries, project, wide, high) {
  const taken = [],
    boxes = entries.map(() => null);
  const byRank = entries.map((_, i) => i).sort((a, b) => entries[a].rank - entries[b].rank || a - b);
  for (const i of byRank) {
    const entry = entries[i],
      at = entry.isOn ? project(entry.at) : null;
    if (!at || at[0] < 0 || at[0] > wide || at[1] < 0 || at[1] > high) continue;
    const corners = [
      [at[0] + 8, at[1] - entry.height - 3],
      [at[0] - 8 - entry.width, at[1] - entry.height - 3],
      [at[0] + 8, at[1] + 3],
      [at[0] - 8 - entry.width, at[1] + 3],
    ];
    const box = corners
      .map(([x, y]) => [x, y, x + entry.width, y + entry.height])
      .find(
        (b) => b[0] >= 0 && b[1] >= 0 && b[2] <= wide && b[3] <= high && !taken.some((other) => doOverlap(b, other)),
      );
    if (!box) continue;
    taken.push(box);
    boxes[i] = box;
  }
  return boxes;
}

/// The axes as the camera with `turn` sees them: {name, x, y, isFar, word}, in units of the compass, nearest last. `word` is
/// where its name stands, {x, y, anchor}, or null where that would lie over another name: the nearer one is kept.
function compassAxes(turn) {
  const reach = 34,
    high = 14,
    letter = 8;
  const view = turn.clone().inverse();
  const axes = [
    ['forward', [1, 0, 0]],
    ['aft', [-1, 0, 0]],
    ['starboard', [0, 1, 0]],
    ['port', [0, -1, 0]],
    ['nadir', [0, 0, 1]],
    ['zenith', [0, 0, -1]],
  ]
    .map(([name, axis]) => ({ name, seen: vector(axis).applyQuaternion(view) }))
    .filter(({ seen }) => seen.z >= -0.3 && Math.hypot(seen.x, seen.y) >= 0.25)
    .sort((a, b) => b.seen.z - a.seen.z);
  const taken = [];
  const placed = axes.map(({ name, seen }) => {
    const x = seen.x * reach,
      y = -seen.y * reach,
      wide = name.length * letter;
    const anchor = Math.abs(x) < 10 ? 'middle' : x > 0 ? 'start' : 'end';
    const at = { x: x + (anchor === 'middle' ? 0 : Math.sign(x) * 3), y: y + (anchor === 'middle' ? (y > 0 ? 13 : -4) : 4) };
    const left = anchor === 'middle' ? at.x - wide / 2 : anchor === 'start' ? at.x : at.x - wide;
    const box = [left, at.y - high + 3, left + wide, at.y + 3];
    const isFree = !taken.some((other) => doOverlap(box, other));
    if (isFree) taken.push(box);
    return { name, x, y, isFar: seen.z < 0.2, word: isFree ? { ...at, anchor, box } : null };
  });
  return placed.reverse();
}

function compassPicture(turn) {
  const svg = drawn('svg', { viewBox: '-110 -60 220 120' });
  for (const axis of compassAxes(turn)) {
    svg.append(
      drawn('line', {
        x2: axis.x,
        y2: axis.y,
        stroke: '#1c2733',
        'stroke-width': 1.5,
        'stroke-opacity': axis.isFar ? 0.6 : 1,
      }),
    );
    if (axis.word)
      svg.append(
        drawn('text', {
          x: axis.word.x,
          y: axis.word.y,
          'text-anchor': axis.word.anchor,
          'font-size': 13,
          'font-weight': 600,
          stroke: '#fff',
          'stroke-width': 3,
          'paint-order': 'stroke',
          fill: '#1c2733',
          text: axis.name,
        }),
      );
  }
  return svg;
}

/// The labels in the page. Rank 0: the chosen waypoint; then figures and stops, ends of routes, waypoints, the rest.
function makeLabels(layer) {
  const entries = [];
  const rankOf = { chip: 1, end: 2, row: 3 };
  return {
    entries,
    add(at, text, kind) {
      const element = make('span', { text, class: kind === 'row' ? 'chip' : kind });
      layer.append(element);
      const entry = { at, element, rank: rankOf[kind] || 4, isOn: true, width: 0, height: 0, spot: null };
      entries.push(entry);
      return entry;
    },
    /// Once all are added: reading sizes between additions would lay out the page each time.
    measure() {
      for (const entry of entries)
        ((entry.width = entry.element.offsetWidth), (entry.height = entry.element.offsetHeight || 16));
    },
    place(project, wide, high) {
      labelBoxes(entries, project, wide, high).forEach((box, i) => {
        const { element } = entries[i];
        entries[i].spot = box;
        const display = box ? '' : 'none';
        if (element.style.display !== display) element.style.display = display;
        if (box)
          element.style.transform = 'translate(' + Math.round(box[0]) + 'px,' + Math.round(box[1]) + 'px)';
      });
    },
  };
}
