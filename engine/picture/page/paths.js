// SPDX-License-Identifier: GPL-3.0-or-later
// Paths in the view: where the crew member is at a time, lines of a width in pixels, routes, cables and tethers.

/// The last index at or before `seconds`, and how far on to the next.
function findTime(times, seconds) {
  let low = 0,
    high = times.length - 1;
  if (seconds <= times[0]) return [0, 0];
  if (seconds >= times[high]) return [high, 0];
  while (high - low > 1) {
    const mid = (low + high) >> 1;
    if (times[mid] <= seconds) low = mid;
    else high = mid;
  }
  return [low, (seconds - times[low]) / Math.max(times[high] - times[low], 1e-9)];
}
const vectorAt = (list, k, stride, offset) => new THREE.Vector3().fromArray(list, k * stride + offset);
function vectorBetween(list, k, t, stride, offset) {
  const a = vectorAt(list, k, stride, offset);
  return t > 0 ? a.lerp(vectorAt(list, k + 1, stride, offset), t) : a;
}

/// Where the crew member of a route is at a time: body, the axes of the figure (ahead, side, up), the two grips that the
/// hands hold or go between, and middle and turn of each load.
function stanceAt(way, seconds) {
  const [k, t] = findTime(way.body.at_s, seconds),
    [g, u] = findTime(way.poses.at_s, seconds);
  const body = vectorBetween(way.body.point, k, t, 3, 0);
  const up = body.clone().sub(vectorBetween(way.poses.hand, g, u, 3, 0)).normalize();
  const last = way.body.at_s.length - 1;
  const ahead = vectorAt(way.body.point, Math.min(last, k + 2), 3, 0).sub(
    vectorAt(way.body.point, Math.max(0, k - 1), 3, 0),
  );
  const flat = (v) => v.sub(up.clone().multiplyScalar(v.dot(up)));
  flat(ahead);
  if (ahead.length() < 1e-3) flat(ahead.set(1, 0, 0));
  if (ahead.length() < 1e-3) flat(ahead.set(0, 1, 0));
  ahead.normalize();
  const next = Math.min(g + 1, way.poses.at_s.length - 1);
  const stride = 8 * way.loads.length;
  const turnAt = (at, b) => new THREE.Quaternion().fromArray(way.poses.loads, at * stride + 8 * b + 4);
  return {
    body,
    ahead,
    side: up.clone().cross(ahead),
    up,
    grips: [vectorAt(way.poses.hand, g, 3, 0), vectorAt(way.poses.hand, next, 3, 0)],
    isOdd: g % 2 === 1,
    loads: way.loads.map((_, b) => ({
      middle: vectorBetween(way.poses.loads, g, u, stride, 8 * b + 1),
      turn: u > 0 ? turnAt(g, b).slerp(turnAt(g + 1, b), u) : turnAt(g, b),
    })),
  };
}

/// Along the hands, a little off the rails, each route a little farther than the one before, so that routes over the same
/// rails lie side by side.
function liftedHands(way, index) {
  const lift = 0.05 + 0.05 * (index % 7);
  return way.poses.at_s.map((_, k) =>
    [0, 1, 2].map((c) => way.poses.hand[3 * k + c] + lift * way.poses.stance[3 * k + c]),
  );
}

function pairsOf(points) {
  const pairs = [];
  for (let i = 0; i + 1 < points.length; ++i) pairs.push(...points[i], ...points[i + 1]);
  return pairs;
}
function triplesOf(list) {
  const points = [];
  for (let i = 0; i < list.length; i += 3) points.push(list.slice(i, i + 3));
  return points;
}

/// What makes lines of a width in pixels, in four-part dashes. `resolution`: of the view, kept up to date by the view.
function makeLines(canInstance, resolution) {
  // Lines of a width cost two triangles and more a piece: beyond this many, thin ones keep software rendering at hand.
  const mostWide = 5000;
  const dashed = [];
  function lineMaterial(colour, width, options) {
    const material = new THREE.LineMaterial({ color: new THREE.Color(colour), linewidth: width });
    material.uniforms.resolution.value = resolution;
    material.uniforms.opacity.value = options.opacity || 1;
    material.transparent = (options.opacity || 1) < 1;
    if (options.dash && options.dash[1] > 0) {
      material.defines = { USE_DASH: '' };
      material.uniforms.pattern = { value: new THREE.Vector4(...options.dash.map((d) => d * options.dashWidth)) };
      material.fragmentShader = material.fragmentShader
        .replace('uniform float dashSize;', 'uniform vec4 pattern;')
        .replace('uniform float gapSize;', '')
        .replace(
          /if \( mod\( vLineDistance, dashSize \+ gapSize \) > dashSize \) discard;.*/,
          'float along = mod( vLineDistance, pattern.x + pattern.y + pattern.z + pattern.w ); if ( ( along > pattern.x && along < pattern.x + pattern.y ) || along > pattern.x + pattern.y + pattern.z ) discard;',
        );
      dashed.push(material);
    }
    material.depthFunc = options.behind ? THREE.GreaterDepth : THREE.LessEqualDepth;
    material.depthWrite = !options.behind && !options.below;
    return material;
  }
  return {
    /// `pairs`: ends of pieces, flat.
    segments(pairs, colour, width, options) {
      if (!canInstance || pairs.length / 6 > mostWide) {
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
    },
    /// Dashes keep their length in pixels.
    setPixelsPerMetre(perMetre) {
      for (const material of dashed) material.uniforms.dashScale.value = perMetre;
    },
  };
}

/// Line, grips and corridor of a route; empty where there is none.
function wayGroupOf(way, index, lines, round) {
  const group = new THREE.Group();
  if (!way.rows.length) return group;
  way.hands = liftedHands(way, index);
  if (way.hands.length > 1) {
    const pairs = pairsOf(way.hands);
    group.add(
      lines.segments(pairs, '#ffffff', 8, { order: 1, below: true }),
      lines.segments(pairs, way.colour, 5, { dash: way.dash, dashWidth: 5, order: 2 }),
      lines.segments(pairs, way.colour, 2, { dash: way.dash, dashWidth: 5, opacity: 0.55, behind: true, order: 2 }),
    );
  }
  const grips = dotsOf(way.hands, way.colour, 6, round);
  grips.renderOrder = 3;
  group.add(grips, (way.tube = corridorOf(way)));
  way.tube.visible = false;
  return group;
}

/// A cable or tether with its ties and bends.
function lineGroupOf(line, lines, round) {
  const group = new THREE.Group(),
    isCable = line.kind === 'cable';
  group.add(
    lines.segments(pairsOf(triplesOf(line.point)), isCable ? '#5b2a86' : '#7a4a00', isCable ? 4 : 2.5, {
      dash: isCable ? null : [6, 1, 1, 1],
      dashWidth: 2.5,
      order: 3,
    }),
  );
  const positions = (marks) => marks.map((mark) => mark.at);
  if (line.ties.length) group.add(dotsOf(positions(line.ties), 0x5b2a86, 10, null));
  if (line.bends.length) group.add(dotsOf(positions(line.bends), 0x5b2a86, 6, round));
  return group;
}

/// Puts the figure with its arms and loads where the crew member is.
function poseFigure(figure, stance) {
  figure.position.copy(stance.body);
  figure.quaternion.setFromRotationMatrix(new THREE.Matrix4().makeBasis(stance.ahead, stance.side, stance.up));
  figure.updateMatrixWorld();
  figure.arms.forEach((arm, a) => {
    const to = figure.worldToLocal(stance.grips[stance.isOdd ? 1 - a : a].clone()).sub(arm.shoulder);
    arm.scale.set(1, Math.max(0.2, to.length()), 1);
    arm.position.copy(arm.shoulder).addScaledVector(to, 0.5);
    arm.quaternion.setFromUnitVectors(new THREE.Vector3(0, 1, 0), to.clone().normalize());
  });
  figure.boxes.forEach((mesh, b) => {
    mesh.position.copy(stance.loads[b].middle);
    mesh.quaternion.copy(stance.loads[b].turn);
  });
}
