// SPDX-License-Identifier: GPL-3.0-or-later
// Charts of what is compared with each other, as SVG.

function barChart(chart) {
  const list = chart.ways,
    rowHeight = 30,
    left = 148,
    right = 62,
    width = 480;
  const most = Math.max(1, ...list.map((i) => ways[i].time_s));
  const svg = drawn('svg', {
    class: 'chart',
    viewBox: `0 0 ${width} ${list.length * rowHeight + 8}`,
    role: 'img',
    'aria-label': chart.title,
  });
  list.forEach((i, k) => {
    const way = ways[i],
      y = k * rowHeight + 4,
      long = ((width - left - right) * way.time_s) / most;
    const name = way.name.slice(way.name.lastIndexOf(', ') + 2);
    const group = drawn(
      'g',
      { 'data-way': i },
      drawn('text', {
        x: left - 6,
        y: y + 17,
        'text-anchor': 'end',
        text: way.letter + '  ' + (name.length > 20 ? name.slice(0, 19) + '…' : name),
      }),
    );
    if (way.rows.length) {
      group.append(
        drawn('rect', {
          x: left,
          y: y + 3,
          width: long,
          height: rowHeight - 10,
          fill: way.colour,
          'fill-opacity': 0.3,
          stroke: way.colour,
        }),
        drawn('line', {
          x1: left,
          x2: left + long,
          y1: y + 13,
          y2: y + 13,
          stroke: way.colour,
          'stroke-width': 4,
          'stroke-dasharray': dashes(way, 4),
        }),
        drawn('text', { x: left + long + 5, y: y + 17, 'font-weight': 600, text: way.time }),
      );
    } else {
      group.append(drawn('text', { x: left + 4, y: y + 17, 'font-weight': 600, text: 'no way' }));
    }
    svg.append(group);
  });
  return svg;
}

function scatterChart(chart) {
  const list = chart.ways.filter((i) => ways[i].rows.length),
    width = 480,
    height = 260,
    left = 46,
    bottom = 40,
    top = 12,
    right = 36;
  const span = (values) => {
    const low = Math.min(...values),
      high = Math.max(...values),
      pad = Math.max((high - low) * 0.12, 1);
    return [low - pad, high + pad];
  };
  const [t0, t1] = span(list.map((i) => ways[i].time_s)),
    [m0, m1] = span(list.map((i) => ways[i].moves));
  const x = (t) => left + ((width - left - right) * (t - t0)) / (t1 - t0),
    y = (m) => height - bottom - ((height - bottom - top) * (m - m0)) / (m1 - m0);
  const svg = drawn(
    'svg',
    { class: 'chart', viewBox: `0 0 ${width} ${height}`, role: 'img', 'aria-label': chart.title },
    drawn('path', { d: `M${left} ${top}V${height - bottom}H${width - right}`, fill: 'none', stroke: '#54606e' }),
    drawn('text', { x: (left + width - right) / 2, y: height - 4, 'text-anchor': 'middle', text: 'time' }),
    drawn('text', {
      x: 12,
      y: (top + height - bottom) / 2,
      'text-anchor': 'middle',
      transform: `rotate(-90 12 ${(top + height - bottom) / 2})`,
      text: 'hand moves',
    }),
  );
  for (let k = 0; k <= 4; ++k) {
    const t = t0 + ((t1 - t0) * k) / 4;
    svg.append(
      drawn('line', { x1: x(t), x2: x(t), y1: height - bottom, y2: height - bottom + 4, stroke: '#54606e' }),
      drawn('text', { x: x(t), y: height - bottom + 16, 'text-anchor': 'middle', text: clock(t) }),
    );
  }
  const step = Math.max(1, Math.ceil((m1 - m0) / 5));
  for (let m = Math.ceil(m0); m <= m1; m += step)
    svg.append(
      drawn('line', { x1: left - 4, x2: left, y1: y(m), y2: y(m), stroke: '#54606e' }),
      drawn('text', { x: left - 7, y: y(m) + 4, 'text-anchor': 'end', text: m }),
    );
  const taken = [];
  for (const i of list) {
    const way = ways[i];
    const at = [x(way.time_s), y(way.moves)];
    while (taken.some((other) => Math.hypot(other[0] - at[0], other[1] - at[1]) < 20)) at[0] += 20;
    taken.push(at);
    svg.append(
      drawn(
        'g',
        { 'data-way': i },
        drawn('line', { x1: x(way.time_s), y1: y(way.moves), x2: at[0], y2: at[1], stroke: way.colour }),
        drawn('circle', { cx: at[0], cy: at[1], r: 10, fill: '#fff', stroke: way.colour, 'stroke-width': 3 }),
        drawn('text', { x: at[0], y: at[1] + 4, 'text-anchor': 'middle', 'font-weight': 700, text: way.letter }),
        drawn('text', {
          x: at[0] > width * 0.7 ? at[0] - 14 : at[0] + 14,
          'text-anchor': at[0] > width * 0.7 ? 'end' : 'start',
          y: at[1] - 8,
          text: 'clear ' + way.clearance + ' m' + (way.caution !== '0:00:00' ? ', caution ' + way.caution : ''),
        }),
      ),
    );
  }
  return svg;
}
