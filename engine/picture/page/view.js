// The view in three dimensions: what is drawn, the camera, labels, picking, buttons and keys.

const named = {
  // from where one looks, and which key
  zenith: { from: [0, 0.001, -1], key: '1' },
  nadir: { from: [0, 0.001, 1], key: '2' },
  port: { from: [0, -1, 0], key: '3' },
  starboard: { from: [0, 1, 0], key: '4' },
  forward: { from: [1, 0, 0], key: '5' },
  aft: { from: [-1, 0, 0], key: '6' },
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
  const min = vector(data.min),
    max = vector(data.max);
  const middle = min.clone().add(max).multiplyScalar(0.5);
  const size = Math.max(max.distanceTo(min), 1);
  const resolution = new THREE.Vector2(1, 1);
  const caster = new THREE.Raycaster();
  let structureTriangles = 0;
  let perMetre = 1; // pixels a metre at the target

  scene.add(new THREE.HemisphereLight(0xffffff, 0x8d99a6, 0.72));
  const lamp = new THREE.DirectionalLight(0xffffff, 0.42);
  scene.add(lamp, lamp.target);

  // The structure: one buffer for all parts; a triangle's part is found by its number.
  const firstTriangle = [];
  const hidden = [];
  let structure = null;
  (function addStructure() {
    const total = data.parts.reduce((sum, part) => sum + part.mesh.vertices, 0);
    const position = new Float32Array(total * 3),
      normal = new Int8Array(total * 3),
      index = [],
      edge = [];
    let base = 0,
      triangles = 0;
    for (const part of data.parts) {
      const mesh = meshOf(part.mesh);
      position.set(mesh.position, base * 3);
      normal.set(mesh.normal, base * 3);
      const shift = (list, out) => {
        const moved = new Uint32Array(list.length);
        for (let i = 0; i < list.length; ++i) moved[i] = list[i] + base;
        out.push(moved);
      };
      shift(mesh.triangle, index);
      shift(mesh.edge, edge);
      firstTriangle.push(triangles);
      triangles += mesh.triangle.length / 3;
      base += part.mesh.vertices;
    }
    structureTriangles = triangles;
    const join = (lists) => {
      const all = new Uint32Array(lists.reduce((sum, list) => sum + list.length, 0));
      let at = 0;
      for (const list of lists) {
        all.set(list, at);
        at += list.length;
      }
      return all;
    };
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute('position', new THREE.BufferAttribute(position, 3));
    geometry.setAttribute('normal', new THREE.BufferAttribute(normal, 3, true));
    geometry.setIndex(new THREE.BufferAttribute(join(index), 1));
    const plain = canIndex32 || total < 65536 ? geometry : geometry.toNonIndexed();
    structure = new THREE.Mesh(
      plain,
      new THREE.MeshLambertMaterial({
        color: 0xd3d8dd,
        side: THREE.DoubleSide,
        polygonOffset: true,
        polygonOffsetFactor: 1,
        polygonOffsetUnits: 1,
      }),
    );
    scene.add(structure);
    const edges = new THREE.BufferGeometry();
    edges.setAttribute('position', geometry.getAttribute('position'));
    edges.setIndex(new THREE.BufferAttribute(join(edge), 1));
    scene.add(
      new THREE.LineSegments(
        canIndex32 || total < 65536 ? edges : edges.toNonIndexed(),
        new THREE.LineBasicMaterial({ color: 0x6d7883 }),
      ),
    );
  })();

  // ---- lines of a width in pixels, in four-part dashes

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
  const dashed = [];
  // Lines of a width cost two triangles and more a piece: beyond this many, thin ones keep software rendering at hand.
  const mostWide = 5000;
  /// `pairs`: ends of pieces, flat.
  function segments(pairs, colour, width, options) {
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
  }
  const pairsOf = (points) => {
    const pairs = [];
    for (let i = 0; i + 1 < points.length; ++i) pairs.push(...points[i], ...points[i + 1]);
    return pairs;
  };

  // Rails: one buffer for all.
  const railPairs = [],
    railOfSegment = [];
  (function addRails() {
    const points = numbers(data.rails.point, Float32Array);
    let at = 0;
    data.rails.count.forEach((n, rail) => {
      for (let k = 0; k < n; ++k) {
        const next = k + 1 < n ? k + 1 : k;
        if (n > 1 && k + 1 === n) break;
        for (const p of [k, next])
          railPairs.push(points[(at + p) * 3], points[(at + p) * 3 + 1], points[(at + p) * 3 + 2]);
        railOfSegment.push(rail);
      }
      at += n;
    });
    if (railPairs.length) scene.add(segments(railPairs, 0x33414f, 2.5, {}));
  })();

  // Zones: veils with a pattern for each effect, so that they are told apart without colour.
  const zoneMeshes = data.zones.map((zone) => {
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
    scene.add(solid);
    return solid;
  });

  function points(list, colour, pixels, map) {
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute('position', new THREE.BufferAttribute(Float32Array.from(list.flat()), 3));
    const cloud = new THREE.Points(
      geometry,
      new THREE.PointsMaterial({ color: colour, size: pixels, sizeAttenuation: false, map, alphaTest: 0.5 }),
    );
    cloud.frustumCulled = false;
    return cloud;
  }
  const round = disc();
  if (data.places.length)
    scene.add(
      points(
        data.places.map((place) => place.at),
        0x1c2733,
        7,
        round,
      ),
    );
  if (data.homes.some((home) => home.farthest.length))
    scene.add(
      points(
        data.homes.flatMap((home) => home.farthest.map((grip) => grip.at)),
        0xb3261e,
        7,
        round,
      ),
    );

  // Cables and tethers, with ties and bends.
  for (const line of data.lines) {
    const list = [];
    for (let i = 0; i < line.point.length; i += 3) list.push(line.point.slice(i, i + 3));
    const isCable = line.kind === 'cable';
    scene.add(
      segments(pairsOf(list), isCable ? '#5b2a86' : '#7a4a00', isCable ? 4 : 2.5, {
        dash: isCable ? null : [6, 1, 1, 1],
        dashWidth: 2.5,
        order: 3,
      }),
    );
    if (line.ties.length)
      scene.add(
        points(
          line.ties.map((tie) => tie.at),
          0x5b2a86,
          10,
          null,
        ),
      );
    if (line.bends.length)
      scene.add(
        points(
          line.bends.map((bend) => bend.at),
          0x5b2a86,
          6,
          round,
        ),
      );
  }

  // Ways: along the hands, a little off the rails, each a little farther than the one before, so that ways over the
  // same rails lie side by side.
  const wayGroups = ways.map((way, i) => {
    const group = new THREE.Group();
    if (!way.rows.length) return group;
    const poses = way.poses,
      n = poses.at_s.length,
      hands = [];
    const lift = 0.05 + 0.05 * (i % 7);
    for (let k = 0; k < n; ++k)
      hands.push([0, 1, 2].map((c) => poses.hand[3 * k + c] + lift * poses.stance[3 * k + c]));
    way.hands = hands;
    if (n > 1) {
      const pairs = pairsOf(hands);
      group.add(
        segments(pairs, '#ffffff', 8, { order: 1, below: true }),
        segments(pairs, way.colour, 5, { dash: way.dash, dashWidth: 5, order: 2 }),
        segments(pairs, way.colour, 2, { dash: way.dash, dashWidth: 5, opacity: 0.55, behind: true, order: 2 }),
      );
    }
    const grips = points(hands, way.colour, 6, round);
    grips.renderOrder = 3;
    group.add(grips);
    group.add((way.tube = corridorOf(way)));
    way.tube.visible = false;
    scene.add(group);
    return group;
  });

  const figures = ways.map((way) => (way.rows.length ? figureOf(way, scene) : null));

  /// The last index at or before `seconds`, and how far on to the next.
  function find(times, seconds) {
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
  const read = (list, k, stride, offset) =>
    new THREE.Vector3(list[k * stride + offset], list[k * stride + offset + 1], list[k * stride + offset + 2]);
  function between(list, k, t, stride, offset) {
    const a = read(list, k, stride, offset);
    return t > 0 ? a.lerp(read(list, k + 1, stride, offset), t) : a;
  }

  function place(i, seconds) {
    const way = ways[i],
      figure = figures[i];
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
    const holds = [
      read(way.poses.hand, g, 3, 0),
      read(way.poses.hand, Math.min(g + 1, way.poses.at_s.length - 1), 3, 0),
    ];
    figure.updateMatrixWorld();
    figure.arms.forEach((arm, a) => {
      const to = figure.worldToLocal(holds[(g + a) % 2].clone()).sub(arm.shoulder);
      const long = Math.max(0.2, to.length());
      arm.scale.set(1, long, 1);
      arm.position.copy(arm.shoulder).addScaledVector(to, 0.5);
      arm.quaternion.setFromUnitVectors(new THREE.Vector3(0, 1, 0), to.clone().normalize());
    });
    const stride = 8 * figure.boxes.length;
    figure.boxes.forEach((mesh, b) => {
      mesh.position.copy(between(way.poses.loads, g, u, stride, 8 * b + 1));
      const turn = (at) =>
        new THREE.Quaternion(...way.poses.loads.slice(at * stride + 8 * b + 4, at * stride + 8 * b + 8));
      mesh.quaternion.copy(turn(g));
      if (u > 0) mesh.quaternion.slerp(turn(g + 1), u);
    });
    figure.body = body;
  }

  // ---- the camera

  const controls = new THREE.OrbitControls(camera, renderer.domElement);
  controls.enableKeys = false;
  controls.screenSpacePanning = true;
  controls.rotateSpeed = 0.7;
  controls.maxDistance = size * 6;
  controls.minDistance = 0.3;
  controls.addEventListener('change', () => draw());
  controls.addEventListener('start', () => {
    flight = null;
  });

  let flight = null;
  function look(target, from, distance) {
    controls.target.copy(target);
    camera.position.copy(target).addScaledVector(from.clone().normalize(), distance);
    controls.update();
    draw();
  }
  function fly(target, from, distance) {
    if (still.matches) return look(target, from, distance);
    const start = {
      target: controls.target.clone(),
      from: camera.position.clone().sub(controls.target),
      at: performance.now(),
    };
    const far = start.from.length();
    start.from.normalize();
    const end = from.clone().normalize();
    if (start.from.dot(end) < -0.999) start.from.add(new THREE.Vector3(0.05, 0.05, 0)).normalize();
    const mine = (flight = {});
    (function move() {
      if (flight !== mine) return;
      const t = Math.min(1, (performance.now() - start.at) / 450),
        s = t * t * (3 - 2 * t);
      look(
        start.target.clone().lerp(target, s),
        t === 1 ? end : start.from.clone().lerp(end, s),
        far + (distance - far) * s,
      );
      if (t < 1) requestAnimationFrame(move);
      else flight = null;
    })();
  }
  const corners = (low, high) =>
    [0, 1, 2, 3, 4, 5, 6, 7].map(
      (k) => new THREE.Vector3(k & 1 ? high.x : low.x, k & 2 ? high.y : low.y, k & 4 ? high.z : low.z),
    );
  /// So far that all of the box is seen from there.
  function distanceFor(low, high, from) {
    const mid = low.clone().add(high).multiplyScalar(0.5),
      back = from.clone().normalize();
    const right = new THREE.Vector3(0, 0, -1).cross(back);
    if (right.length() < 0.05) right.set(1, 0, 0);
    right.normalize();
    const up = back.clone().cross(right),
      half = Math.tan((camera.fov * Math.PI) / 360);
    let distance = 0.5;
    for (const corner of corners(low, high)) {
      const d = corner.sub(mid),
        depth = d.dot(back);
      distance = Math.max(
        distance,
        depth + Math.abs(d.dot(up)) / half,
        depth + Math.abs(d.dot(right)) / (half * camera.aspect),
      );
    }
    return distance * 1.06;
  }
  const bearing = () => camera.position.clone().sub(controls.target).normalize();
  function showNamed(name) {
    const from = vector(named[name].from);
    fly(middle, from, distanceFor(min, max, from));
  }
  function fit() {
    const from = bearing();
    fly(middle, from, distanceFor(min, max, from));
  }
  function boxOf(list) {
    const low = new THREE.Vector3(Infinity, Infinity, Infinity),
      high = low.clone().negate();
    for (const p of list) {
      low.min(p);
      high.max(p);
    }
    return [low, high];
  }
  function flyToBox(list, margin) {
    const [low, high] = boxOf(list);
    low.subScalar(margin);
    high.addScalar(margin);
    const from = bearing();
    fly(low.clone().add(high).multiplyScalar(0.5), from, distanceFor(low, high, from));
  }
  function orbit(right, up) {
    const offset = camera.position.clone().sub(controls.target),
      turn = new THREE.Quaternion().setFromUnitVectors(camera.up, new THREE.Vector3(0, 1, 0));
    offset.applyQuaternion(turn);
    const round = new THREE.Spherical().setFromVector3(offset);
    round.theta += right;
    round.phi = Math.min(Math.PI - 0.001, Math.max(0.001, round.phi + up));
    offset.setFromSpherical(round).applyQuaternion(turn.inverse());
    camera.position.copy(controls.target).add(offset);
    controls.update();
    draw();
  }
  function pan(right, up) {
    const far = camera.position.distanceTo(controls.target) * 0.06;
    const move = new THREE.Vector3(right * far, up * far, 0).applyQuaternion(camera.quaternion);
    camera.position.add(move);
    controls.target.add(move);
    controls.update();
    draw();
  }
  function zoom(by) {
    look(controls.target.clone(), bearing(), camera.position.distanceTo(controls.target) * by);
  }

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
  const figureLabels = ways.map((way, i) => (figures[i] ? label(new THREE.Vector3(), way.letter, 'chip') : null));
  const rowLabels = ways.map((way) => way.rows.map((row, r) => label(vector(row.hand), way.letter + ' ' + r, 'chip')));
  for (const line of data.lines) for (const mark of line.ties.concat(line.bends)) label(vector(mark.at), mark.text, '');
  const reasonLabels = ways.flatMap((way) =>
    way.reasons.slice(0, 1).map((reason) => label(vector(reason.at), way.letter + ' stops here', 'chip')),
  );
  for (const entry of labels)
    ((entry.width = entry.element.offsetWidth), (entry.height = entry.element.offsetHeight || 16));

  const spot = new THREE.Vector3();
  /// Pixels in the view; null behind the camera.
  function project(at) {
    spot.copy(at).project(camera);
    if (spot.z > 1 || spot.z < -1) return null;
    return [((spot.x + 1) / 2) * view.clientWidth, ((1 - spot.y) / 2) * view.clientHeight];
  }
  function placeLabelsInView() {
    const taken = [];
    const wide = view.clientWidth,
      high = view.clientHeight;
    if (!wide) return; // on paper the view itself is not there
    for (const entry of labels.slice().sort((a, b) => a.rank - b.rank)) {
      const at = entry.isOn ? project(entry.at) : null;
      let isShown = false;
      entry.spot = null;
      if (at && at[0] > -20 && at[0] < wide + 20 && at[1] > -10 && at[1] < high + 10) {
        const box = [at[0] + 8, at[1] - entry.height - 3, at[0] + 8 + entry.width, at[1] - 3];
        isShown =
          entry.rank === 0 ||
          !taken.some((other) => box[0] < other[2] && box[2] > other[0] && box[1] < other[3] && box[3] > other[1]);
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
      caster.far = length - 0.12;
      entry.element.classList.toggle('hid', entry.rank > 1 && caster.intersectObject(structure).length > 0);
    }
    caster.far = Infinity;
  }
  function drawCompass() {
    const axes = [
      ['forward', [1, 0, 0]],
      ['aft', [-1, 0, 0]],
      ['starboard', [0, 1, 0]],
      ['port', [0, -1, 0]],
      ['nadir', [0, 0, 1]],
      ['zenith', [0, 0, -1]],
    ];
    const turn = camera.quaternion.clone().inverse();
    const svg = drawn('svg', { viewBox: '-66 -66 132 132' });
    svg.append(drawn('circle', { r: 64, fill: '#fff', 'fill-opacity': 0.75 }));
    for (const [name, axis] of axes
      .map(([n, a]) => [n, vector(a).applyQuaternion(turn)])
      .sort((a, b) => a[1].z - b[1].z)) {
      if (axis.z < -0.3 || Math.hypot(axis.x, axis.y) < 0.25) continue;
      const x = axis.x * 34,
        y = -axis.y * 34;
      svg.append(
        drawn('line', {
          x2: x,
          y2: y,
          stroke: '#1c2733',
          'stroke-width': 1.5,
          'stroke-opacity': axis.z < 0.2 ? 0.6 : 1,
        }),
        drawn('text', {
          x,
          y: y + 4,
          'text-anchor': 'middle',
          'font-size': 13,
          'font-weight': 600,
          stroke: '#fff',
          'stroke-width': 3,
          'paint-order': 'stroke',
          fill: '#1c2733',
          text: name,
        }),
      );
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
    camera.near = Math.max(far / 200, 0.02);
    camera.far = far + size * 3;
    camera.updateProjectionMatrix();
    perMetre = (view.clientHeight || renderer.domElement.height) / (2 * Math.tan((camera.fov * Math.PI) / 360) * far);
    for (const material of dashed) material.uniforms.dashScale.value = perMetre;
    lamp.position.copy(camera.position).add(new THREE.Vector3(0, 0, -far * 0.5));
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
    const wide = Math.max(1, view.clientWidth),
      high = Math.max(1, view.clientHeight);
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
    caster.setFromCamera({ x: (at[0] / view.clientWidth) * 2 - 1, y: 1 - (at[1] / view.clientHeight) * 2 }, camera);
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
    let best = -1,
      away = reach;
    const a = new THREE.Vector3(),
      b = new THREE.Vector3();
    for (let s = 0; s < railOfSegment.length; ++s) {
      const p = project(a.fromArray(railPairs, s * 6)),
        q = p && project(b.fromArray(railPairs, s * 6 + 3));
      if (!q) continue;
      const dx = q[0] - p[0],
        dy = q[1] - p[1],
        t = Math.max(0, Math.min(1, ((at[0] - p[0]) * dx + (at[1] - p[1]) * dy) / (dx * dx + dy * dy || 1)));
      const d = Math.hypot(p[0] + t * dx - at[0], p[1] + t * dy - at[1]);
      if (d < away && a.lerp(b, t).distanceTo(camera.position) < wall + 0.15) {
        away = d;
        best = railOfSegment[s];
      }
    }
    return best;
  }
  function pick(event) {
    const at = under(event),
      reach = event.pointerType === 'touch' ? 24 : 13;
    const waypoint = waypointAt(at, reach);
    if (waypoint) return choose(waypoint.way, waypoint.row, true);
    const hits = cast(at).intersectObject(structure);
    const [zone, zoneFar] = zoneAt(at);
    const lines = [];
    const rail = railAt(at, reach / 2, hits.length ? hits[0].distance : Infinity);
    if (rail >= 0) {
      const use = data.rails.use[rail];
      lines.push(
        'rail ' + data.rails.id[rail],
        'on ' +
          data.rails.part[rail] +
          ', for ' +
          ['hands', 'tether', 'cable'].filter((word, bit) => use & (1 << bit)).join(', '),
      );
    } else if (hits.length) {
      let part = 0;
      while (part + 1 < firstTriangle.length && firstTriangle[part + 1] <= hits[0].faceIndex) ++part;
      const facts = data.parts[part];
      lines.push(
        facts.name,
        [
          facts.name !== facts.id ? facts.id : '',
          facts.fragile ? 'fragile' : '',
          facts.no_touch ? 'must not be touched' : '',
        ]
          .filter(Boolean)
          .join(', '),
      );
    }
    if (zone >= 0 && (!hits.length || zoneFar < hits[0].distance) && rail < 0) return chooseZone(zone, false);
    chooseZone(-1);
    lightZone(-1);
    tell(...lines);
  }
  let pressed = null;
  view.addEventListener('pointerdown', (event) => {
    pressed = under(event);
  });
  view.addEventListener('pointerup', (event) => {
    const at = under(event);
    if (pressed && Math.hypot(at[0] - pressed[0], at[1] - pressed[1]) < 5 && event.button === 0) pick(event);
    pressed = null;
  });
  let hovered = -1,
    isHoverAsked = false,
    lastMove = null;
  view.addEventListener('pointermove', (event) => {
    if (event.pointerType !== 'mouse' || event.buttons) return;
    lastMove = event; // where the pointer came to rest counts, not where it was when the frame was asked for
    if (isHoverAsked) return;
    isHoverAsked = true;
    requestAnimationFrame(() => {
      isHoverAsked = false;
      const [zone] = zoneAt(under(lastMove));
      if (zone === hovered) return;
      hovered = zone;
      lightZone(zone);
      if (zone >= 0)
        tell(
          'zone ' + data.zones[zone].id + ': ' + data.zones[zone].reason,
          data.zones[zone].effect + ' - ' + data.zones[zone].keeps_out,
        );
      else tell();
    });
  });
  function lightZone(i) {
    zoneMeshes.forEach((mesh, k) => {
      mesh.material.uniforms.veil.value = k === i ? 0.3 : 0.1;
      mesh.material.uniforms.mark.value = k === i ? 0.75 : 0.38;
    });
    draw();
  }

  // ---- buttons and keys

  const bar = byId('views');
  for (const name of Object.keys(named))
    bar.append(
      make('button', {
        type: 'button',
        text: name,
        'data-view': name,
        title: 'key ' + named[name].key,
        onclick: () => showNamed(name),
      }),
    );
  bar.append(
    make('button', { type: 'button', text: 'fit', title: 'key F', onclick: fit }),
    make('span', { class: 'gap' }),
  );
  function toggle(text, isOn, change) {
    const button = make('button', { type: 'button', text, 'aria-pressed': String(isOn) });
    button.addEventListener('click', () => {
      const on = button.getAttribute('aria-pressed') !== 'true';
      button.setAttribute('aria-pressed', String(on));
      change(on);
      draw();
    });
    bar.append(button);
  }
  let zonesOn = true,
    corridorOn = false,
    labelsOn = true;
  if (data.zones.length)
    toggle('zones', true, (on) => {
      zonesOn = on;
      zoneMeshes.forEach((mesh, i) => {
        mesh.visible = on && zoneItems[i].querySelector('input').checked;
      });
    });
  if (tables.some(Boolean))
    toggle('corridor', false, (on) => {
      corridorOn = on;
      refresh();
    });
  toggle('labels', true, (on) => {
    labelsOn = on;
    refresh();
  });
  view.addEventListener('keydown', (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const turn = 0.12,
      move = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
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
      figures[i].boxes.forEach((mesh) => {
        mesh.visible = shown[i];
      });
      way.tube.visible = corridorOn;
      figureLabels[i].isOn = shown[i] && labelsOn && shown.filter(Boolean).length > 1;
      rowLabels[i].forEach((entry, r) => {
        entry.isOn = shown[i] && i === state.way && (labelsOn || r === state.row);
        entry.rank = i === state.way && r === state.row ? 0 : 3;
        entry.element.classList.toggle('chosen', i === state.way && r === state.row);
      });
    });
    placeLabels.forEach((entry) => {
      entry.isOn = labelsOn;
    });
    reasonLabels.forEach((entry) => {
      entry.isOn = labelsOn;
    });
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
    const row = ways[w].rows[r],
      hand = vector(row.hand),
      out = vector(row.body).sub(hand).normalize();
    const now = bearing();
    // From outside of the part, as near to the present bearing as that lets.
    const from = now.dot(out) > 0.35 ? now : now.addScaledVector(out, 0.9 - now.dot(out)).normalize();
    fly(vector(row.body).lerp(hand, 0.5), from, Math.max(6, Math.min(9, size * 0.3)));
  }

  // The first view: from forward, starboard and zenith, where most is seen.
  resize();
  const first = new THREE.Vector3(0.45, 1, -0.75);
  look(middle, first, distanceFor(min, max, first));

  // For paper: the view on white, as it is now. Chromium asks for it when printing begins.
  function forPaper() {
    drawNow();
    const canvas = document.createElement('canvas'),
      ratio = renderer.getPixelRatio(),
      pen = canvas.getContext('2d');
    canvas.width = renderer.domElement.width;
    canvas.height = renderer.domElement.height;
    pen.drawImage(renderer.domElement, 0, 0);
    pen.scale(ratio, ratio);
    pen.font = '600 12px sans-serif';
    pen.textBaseline = 'middle';
    for (const entry of labels) {
      if (!entry.spot) continue;
      const text = entry.element.textContent,
        wide = pen.measureText(text).width + 8;
      pen.fillStyle = '#fff';
      pen.fillRect(entry.spot[0], entry.spot[1], wide, 16);
      pen.strokeRect(entry.spot[0], entry.spot[1], wide, 16);
      pen.fillStyle = '#000';
      pen.fillText(text, entry.spot[0] + 4, entry.spot[1] + 8);
    }
    byId('print-view').src = canvas.toDataURL('image/png');
  }
  window.addEventListener('beforeprint', forPaper);
  matchMedia('print').addEventListener('change', (event) => {
    if (event.matches) forPaper();
  });

  return {
    refresh,
    flyToRow,
    lightZone,
    forPaper,
    setTime: setTimeOfFigures,
    showZone(i, on) {
      zoneMeshes[i].visible = on && zonesOn;
      draw();
    },
    flyToWay(i) {
      const p = ways[i].body.point,
        list = [];
      for (let k = 0; k < p.length; k += 3) list.push(new THREE.Vector3(p[k], p[k + 1], p[k + 2]));
      flyToBox(list, 1);
    },
    flyToZone(i) {
      const sphere = zoneMeshes[i].geometry.boundingSphere;
      fly(sphere.center.clone(), bearing(), Math.max(3, sphere.radius * 6));
    },
    flyToPoint(at) {
      fly(vector(at), bearing(), Math.max(6, Math.min(9, size * 0.3)));
    },
    inspect() {
      return {
        camera: camera.position.toArray(),
        target: controls.target.toArray(),
        isFlying: flight !== null,
        figures: figures.map(
          (figure) =>
            figure && { at: figure.position.toArray(), boxes: figure.boxes.map((mesh) => mesh.position.toArray()) },
        ),
      };
    },
    project: (at) => project(vector(at)),
  };
}
