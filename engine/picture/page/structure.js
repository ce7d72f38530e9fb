// SPDX-License-Identifier: GPL-3.0-or-later
// What stands still in the view: parts, rails, zones, dots.

/// Ends of the pieces of rails, flat, and the rail of each piece; a handhold is a piece without a length. `standing`:
/// numbers of those that are there; without it all.
function railPieces(rails, standing) {
  const points = numbers(rails.point, Float32Array),
    pairs = [],
    railOf = [],
    isThere = standing ? new Set(standing) : null;
  let at = 0;
  rails.count.forEach((n, rail) => {
    for (let k = isThere && !isThere.has(rail) ? n : 0; k < Math.max(1, n - 1); ++k) {
      for (const p of [k, Math.min(k + 1, n - 1)]) pairs.push(...points.slice((at + p) * 3, (at + p) * 3 + 3));
      railOf.push(rail);
    }
    at += n;
  });
  return { pairs, railOf };
}

/// The number of the part whose triangles begin last at or before `triangle`.
function partOfTriangle(firstTriangle, triangle) {
  let part = 0;
  while (part + 1 < firstTriangle.length && firstTriangle[part + 1] <= triangle) ++part;
  return part;
}

/// One buffer for all parts; a triangle's part is found by its number.
function structureOf(parts, canIndex32, scene) {
  const total = parts.reduce((sum, part) => sum + part.mesh.vertices, 0);
  const position = new Float32Array(total * 3),
    normal = new Int8Array(total * 3),
    index = [],
    edge = [],
    firstTriangle = [];
  let base = 0,
    triangles = 0;
  for (const part of parts) {
    const mesh = meshOf(part.mesh);
    position.set(mesh.position, base * 3);
    normal.set(mesh.normal, base * 3);
    const shifted = (list) => Uint32Array.from(list, (i) => i + base);
    index.push(shifted(mesh.triangle));
    edge.push(shifted(mesh.edge));
    firstTriangle.push(triangles);
    triangles += mesh.triangle.length / 3;
    base += part.mesh.vertices;
  }
  const joined = (lists) => {
    const all = new Uint32Array(lists.reduce((sum, list) => sum + list.length, 0));
    let at = 0;
    for (const list of lists) {
      all.set(list, at);
      at += list.length;
    }
    return new THREE.BufferAttribute(all, 1);
  };
  const drawable = (geometry) => (canIndex32 || total < 65536 ? geometry : geometry.toNonIndexed());
  const faces = new THREE.BufferGeometry();
  faces.setAttribute('position', new THREE.BufferAttribute(position, 3));
  faces.setAttribute('normal', new THREE.BufferAttribute(normal, 3, true));
  faces.setIndex(joined(index));
  const mesh = new THREE.Mesh(
    drawable(faces),
    new THREE.MeshLambertMaterial({
      color: 0xd3d8dd,
      side: THREE.DoubleSide,
      polygonOffset: true,
      polygonOffsetFactor: 1,
      polygonOffsetUnits: 1,
    }),
  );
  const edges = new THREE.BufferGeometry();
  edges.setAttribute('position', faces.getAttribute('position'));
  edges.setIndex(joined(edge));
  scene.add(mesh, new THREE.LineSegments(drawable(edges), new THREE.LineBasicMaterial({ color: 0x6d7883 })));
  return { mesh, firstTriangle, triangles };
}

/// A veil with a pattern for each effect, so that zones are told apart without colour.
function zoneMeshOf(zone) {
  const mesh = meshOf(zone.mesh);
  const geometry = new THREE.BufferGeometry();
  geometry.setAttribute('position', new THREE.BufferAttribute(mesh.position, 3));
  geometry.setIndex(new THREE.BufferAttribute(mesh.triangle, 1));
  const material = new THREE.ShaderMaterial({
    uniforms: {
      colour: { value: new THREE.Color({ forbid: '#b3261e', caution: '#8a5a00', limit: '#3d5a80' }[zone.effect]) },
      veil: { value: 0.1 },
      mark: { value: 0.38 },
      kind: { value: { forbid: 0, caution: 1, limit: 2 }[zone.effect] },
    },
    vertexShader: 'void main() { gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0); }',
    fragmentShader:
      'uniform vec3 colour; uniform float veil; uniform float mark; uniform int kind; void main() { bool on; vec2 p = gl_FragCoord.xy;' +
      ' if (kind == 0) on = mod(p.x + p.y, 11.0) < 2.6; else if (kind == 1) on = length(mod(p, 9.0) - 4.5) < 1.7; else on = mod(p.y, 8.0) < 1.6;' +
      ' gl_FragColor = vec4(colour, on ? mark : veil); }',
    transparent: true,
    depthWrite: false,
    side: THREE.FrontSide,
  });
  const solid = new THREE.Mesh(geometry, material);
  solid.renderOrder = 5;
  const edges = new THREE.BufferGeometry();
  edges.setAttribute('position', geometry.getAttribute('position'));
  edges.setIndex(new THREE.BufferAttribute(mesh.edge, 1));
  solid.add(
    new THREE.LineSegments(
      edges,
      new THREE.LineBasicMaterial({ color: material.uniforms.colour.value, transparent: true, opacity: 0.5 }),
    ),
  );
  geometry.computeBoundingSphere();
  return solid;
}

/// Dots of a size in pixels at `list` of positions.
function dotsOf(list, colour, pixels, map) {
  const geometry = new THREE.BufferGeometry();
  geometry.setAttribute('position', new THREE.BufferAttribute(Float32Array.from(list.flat()), 3));
  const cloud = new THREE.Points(
    geometry,
    new THREE.PointsMaterial({ color: colour, size: pixels, sizeAttenuation: false, map, alphaTest: 0.5 }),
  );
  cloud.frustumCulled = false;
  return cloud;
}
