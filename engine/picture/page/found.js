// SPDX-License-Identifier: GPL-3.0-or-later
// Rails found in a mesh: drawn by how sure they are, the doubtful ones numbered as in the list.

/// Ends of the pieces of one found rail, flat; a handhold is a short level stroke.
function foundPairs(piece) {
  const points = triplesOf(piece.point);
  if (points.length === 1) {
    const [x, y, z] = points[0];
    return [x - 0.06, y, z, x + 0.06, y, z];
  }
  return points.slice(1).flatMap((p, k) => points[k].concat(p));
}
const middleOf = (piece) => triplesOf(piece.point)[Math.floor(piece.point.length / 6)];
const foundName = (piece) => (piece.number ? piece.number + ' ' : '') + piece.id;

/// What the rails found add to the scene: one drawable for each kind.
function foundGroupOf(found, lines) {
  const group = new THREE.Group();
  for (const kind of ['post', 'sure', 'likely', 'doubtful']) {
    const pieces = found.filter((piece) => piece.kind === kind);
    if (!pieces.length) continue;
    const width = kind === 'post' ? 2 : 5,
      { colour, dash } = pieces[0];
    const pairs = pieces.flatMap(foundPairs);
    group.add(
      lines.segments(pairs, colour, width, { dash: dash[1] ? dash : undefined, dashWidth: width, order: 3 }),
      lines.segments(pairs, colour, 1.2, { behind: true, opacity: 0.45, order: 4 }),
    );
  }
  return group;
}

/// Counts by kind, then the doubtful pieces by number with what speaks against each.
function listFound(found, list, fly) {
  const sampleOf = (piece) =>
    drawn(
      'svg',
      { viewBox: '0 0 60 16', width: 60, height: 16, 'aria-hidden': 'true' },
      drawn('line', {
        x1: 2,
        y1: 8,
        x2: 58,
        y2: 8,
        stroke: piece.colour,
        'stroke-width': piece.kind === 'post' ? 2 : 5,
        'stroke-dasharray': piece.dash[1] ? piece.dash.map((d) => d * 5).join(' ') : 'none',
      }),
    );
  for (const kind of ['sure', 'likely', 'doubtful', 'post']) {
    const pieces = found.filter((piece) => piece.kind === kind);
    if (pieces.length)
      list.append(make('li', {}, sampleOf(pieces[0]), make('span', { text: pieces[0].says + ': ' + pieces.length })));
  }
  for (const piece of found.filter((p) => p.number))
    list.append(
      make(
        'li',
        {},
        make('button', { type: 'button', text: foundName(piece), onclick: () => fly(piece) }),
        make('span', { text: piece.words }),
      ),
    );
}
