// SPDX-License-Identifier: GPL-3.0-or-later
// What is under a finger or the pointer, by the camera of the picture that was seen then. Runs without a browser.

/// Pixels in a view of `wide` x `high` as `camera` sees it; null behind the camera.
function projector(camera, wide, high) {
  const spot = new THREE.Vector3();
  return (at) => {
    spot.copy(at).project(camera);
    if (spot.z > 1 || spot.z < -1) return null;
    return [((spot.x + 1) / 2) * wide, ((1 - spot.y) / 2) * high];
  };
}

/// The waypoint within `reach` pixels of `at` on the shown routes, {way, row}, or null; at its hand or where its route is
/// drawn. The chosen route goes first where several have a waypoint at one grip.
function waypointAt(ways, shown, chosen, at, reach, project) {
  let best = null;
  ways.forEach((way, i) => {
    if (!shown[i]) return;
    way.rows.forEach((row, r) => {
      for (const place of [row.hand, way.hands[Math.min(way.hands.length - 1, row.pose)]]) {
        const p = project(vector(place));
        if (!p) continue;
        const away = Math.hypot(p[0] - at[0], p[1] - at[1]) - (i === chosen ? 3 : 0);
        if (away < (best ? best.away : reach)) best = { way: i, row: r, away };
      }
    });
  });
  return best;
}

/// The rail drawn nearest to `at`, within `reach` pixels, unless structure at `wall` metres from `eye` hides it; else -1.
function railAt(pieces, at, reach, wall, project, eye) {
  let best = -1,
    away = reach;
  const a = new THREE.Vector3(),
    b = new THREE.Vector3();
  for (let s = 0; s < pieces.railOf.length; ++s) {
    const p = project(a.fromArray(pieces.pairs, s * 6)),
      q = p && project(b.fromArray(pieces.pairs, s * 6 + 3));
    if (!q) continue;
    const dx = q[0] - p[0],
      dy = q[1] - p[1],
      t = Math.max(0, Math.min(1, ((at[0] - p[0]) * dx + (at[1] - p[1]) * dy) / (dx * dx + dy * dy || 1)));
    const d = Math.hypot(p[0] + t * dx - at[0], p[1] + t * dy - at[1]);
    if (d < away && a.lerp(b, t).distanceTo(eye) < wall + 0.15) {
      away = d;
      best = pieces.railOf[s];
    }
  }
  return best;
}

/// A tap: one finger or button down and up at nearly the same spot. `down` and `cancel` are told of every pointer; `up`
/// gives what `down` was given as `seen`, or null when it was no tap.
function makeTap(slack) {
  let pressed = null;
  return {
    down(pointer, at, seen) {
      // A second finger: no tap until one is up. A mouse released elsewhere comes down again under its own number.
      pressed = pressed && pressed.pointer !== pointer ? { pointer: null } : { pointer, at, seen };
    },
    up(pointer, at) {
      const was = pressed;
      pressed = null;
      if (!was || was.pointer !== pointer || Math.hypot(at[0] - was.at[0], at[1] - was.at[1]) >= slack) return null;
      return was.seen;
    },
    cancel() {
      pressed = null;
    },
  };
}
