// SPDX-License-Identifier: GPL-3.0-or-later
// Worksites and sight: figures in their restraints, what their hands reach, fields of view, what is seen of patches.

/// A target's sign: filled where it is reached, else empty and crossed by how it is not. Told apart without colour.
function drawSign(pen, kind, colour, middle, radius) {
  const r = radius,
    line = (x0, y0, x1, y1) => {
      pen.beginPath();
      pen.moveTo(middle + x0 * r, middle + y0 * r);
      pen.lineTo(middle + x1 * r, middle + y1 * r);
      pen.stroke();
    };
  pen.lineWidth = r / 3.2;
  pen.strokeStyle = colour;
  pen.fillStyle = kind === 'two-hand' ? colour : '#fff';
  pen.beginPath();
  if (kind === 'forbidden') pen.rect(middle - r, middle - r, 2 * r, 2 * r);
  else pen.arc(middle, middle, r, 0, 7);
  pen.fill();
  pen.stroke();
  pen.fillStyle = colour;
  if (kind === 'one-hand' || kind === 'too-near') {
    pen.beginPath();
    if (kind === 'one-hand') pen.arc(middle, middle, r, -Math.PI / 2, Math.PI / 2);
    else pen.arc(middle, middle, 0.4 * r, 0, 7);
    pen.fill();
  }
  if (kind === 'forbidden') line(-1, 1, 1, -1);
  if (kind === 'faces-away') line(-1, 0, 1, 0);
  if (kind === 'blocked') {
    line(-0.7, -0.7, 0.7, 0.7);
    line(-0.7, 0.7, 0.7, -0.7);
  }
}
function signCanvas(kind, size) {
  const canvas = document.createElement('canvas');
  canvas.width = canvas.height = size;
  drawSign(canvas.getContext('2d'), kind, data.kinds[kind].colour, size / 2, size * 0.38);
  return canvas;
}

function solidOf(packed, options, edge) {
  const mesh = meshOf(packed),
    geometry = new THREE.BufferGeometry();
  geometry.setAttribute('position', new THREE.BufferAttribute(mesh.position, 3));
  geometry.setAttribute('normal', new THREE.BufferAttribute(mesh.normal, 3, true));
  geometry.setIndex(new THREE.BufferAttribute(mesh.triangle, 1));
  const solid = new THREE.Mesh(geometry, new THREE.MeshLambertMaterial(options));
  const edges = new THREE.BufferGeometry();
  edges.setAttribute('position', geometry.getAttribute('position'));
  edges.setIndex(new THREE.BufferAttribute(mesh.edge, 1));
  solid.add(new THREE.LineSegments(edges, new THREE.LineBasicMaterial({ color: edge || 0x1c2733 })));
  return solid;
}
function veilOf(packed, colour, opacity) {
  const veil = solidOf(
    packed,
    { color: colour, transparent: true, opacity, depthWrite: false, side: THREE.DoubleSide },
    colour,
  );
  veil.renderOrder = 6;
  return veil;
}

/// Figure, zones and targets of a worksite: {figure, zones, targets}, each a group.
function worksiteOf(site, lines) {
  const figure = new THREE.Group(),
    zones = new THREE.Group(),
    targets = new THREE.Group();
  const suit = { color: 0xf7f9fb, transparent: true, opacity: 0.85 };
  figure.add(solidOf(site.body, suit), solidOf(site.trunk, Object.assign({}, suit, { opacity: 0.55 })));
  if (site.plate) figure.add(solidOf(site.plate, { color: 0x48525c }));
  if (site.post.length) figure.add(lines.segments(site.post, 0x1c2733, 5, {}));
  const visor = new THREE.Mesh(
    new THREE.SphereBufferGeometry(0.55 * site.helmet_radius, 20, 14),
    new THREE.MeshLambertMaterial({ color: 0x33414f }),
  );
  visor.position.copy(vector(site.helmet)).addScaledVector(vector(site.forward), 0.62 * site.helmet_radius);
  figure.add(visor);
  if (!site.fits) figure.add(lines.segments(pairsOf([site.chest, site.helmet]), '#d55e00', 6, {}));
  if (site.both) {
    zones.add(veilOf(site.both, 0x00694c, 0.3), veilOf(site.left, 0x0072b2, 0.09), veilOf(site.right, 0x0072b2, 0.09));
  }
  for (const target of site.targets)
    for (const shoulder of target.shoulders)
      targets.add(lines.segments(pairsOf([shoulder, target.at]), '#1c2733', 2.5, { order: 3 }));
  for (const kind of Object.keys(data.kinds)) {
    const at = site.targets.filter((target) => target.kind === kind).map((target) => target.at);
    if (!at.length) continue;
    const dots = dotsOf(at, 0xffffff, 20, new THREE.CanvasTexture(signCanvas(kind, 64)));
    dots.renderOrder = 8;
    targets.add(dots);
  }
  return { figure, zones, targets };
}

/// A cone to what the eye sees; its direction alone where the field is no cone.
function fieldOf(eye, lines) {
  const group = new THREE.Group(),
    at = vector(eye.at),
    ahead = vector(eye.direction);
  const style = { dash: [6, 3, 1.5, 3], dashWidth: 1.5, order: 3 };
  if (eye.half_angle > 1.4) {
    const end = at.clone().addScaledVector(ahead, eye.length);
    group.add(lines.segments([...at.toArray(), ...end.toArray()], '#7a4a00', 2, style));
  } else {
    const side = (Math.abs(ahead.z) < 0.9 ? new THREE.Vector3(0, 0, 1) : new THREE.Vector3(1, 0, 0)).cross(ahead).normalize(),
      other = ahead.clone().cross(side),
      wide = eye.length * Math.tan(eye.half_angle),
      rim = [];
    for (let k = 0; k <= 36; ++k) {
      const angle = (2 * Math.PI * k) / 36;
      rim.push(
        at
          .clone()
          .addScaledVector(ahead, eye.length)
          .addScaledVector(side, wide * Math.cos(angle))
          .addScaledVector(other, wide * Math.sin(angle))
          .toArray(),
      );
    }
    const pairs = pairsOf(rim);
    for (let k = 0; k < 36; k += 6) pairs.push(...eye.at, ...rim[k]);
    group.add(lines.segments(pairs, '#7a4a00', 1.5, style));
  }
  group.add(dotsOf([eye.at], 0x7a4a00, 11, null));
  return group;
}

/// Squares on a patch, dark where one of the eyes that `isOn` sees them: {mesh, refresh}.
function patchOf(patch, isOn) {
  const count = patch.side.length,
    position = new Float32Array(count * 12),
    colour = new Float32Array(count * 12),
    index = [];
  for (let s = 0; s < count; ++s) {
    const normal = vectorAt(patch.normal, s, 3, 0),
      middle = vectorAt(patch.at, s, 3, 0).addScaledVector(normal, 0.006);
    const x = (Math.abs(normal.z) < 0.9 ? new THREE.Vector3(0, 0, 1) : new THREE.Vector3(1, 0, 0)).cross(normal).normalize(),
      y = normal.clone().cross(x),
      half = 0.46 * patch.side[s];
    [
      [-1, -1],
      [1, -1],
      [1, 1],
      [-1, 1],
    ].forEach(([u, v], k) => {
      middle
        .clone()
        .addScaledVector(x, u * half)
        .addScaledVector(y, v * half)
        .toArray(position, (4 * s + k) * 3);
    });
    index.push(4 * s, 4 * s + 1, 4 * s + 2, 4 * s, 4 * s + 2, 4 * s + 3);
  }
  const geometry = new THREE.BufferGeometry();
  geometry.setAttribute('position', new THREE.BufferAttribute(position, 3));
  geometry.setAttribute('color', new THREE.BufferAttribute(colour, 3));
  geometry.setIndex(index);
  const mesh = new THREE.Mesh(geometry, new THREE.MeshBasicMaterial({ vertexColors: THREE.VertexColors, side: THREE.DoubleSide }));
  const seen = new THREE.Color(seenColours.seen),
    unseen = new THREE.Color(seenColours.unseen);
  const refresh = () => {
    for (let s = 0; s < count; ++s) {
      const isSeen = patch.looks.some((look) => isOn(look.eye) && look.seen[s] === '1');
      for (let k = 0; k < 4; ++k) (isSeen ? seen : unseen).toArray(colour, (4 * s + k) * 3);
    }
    geometry.getAttribute('color').needsUpdate = true;
  };
  refresh();
  return { mesh, refresh };
}
const seenColours = { seen: '#0a4a78', unseen: '#fff7e0' };

/// All of it in the view. `state`: {figures, zones, eyes}, lists of booleans that the page keeps.
function makeWorksites(scene, lines, labels, shownWorksites) {
  const sites = data.worksites.map((site) => worksiteOf(site, lines)),
    fields = data.eyes.map((eye) => fieldOf(eye, lines)),
    patches = data.patches.map((patch) => patchOf(patch, (eye) => shownWorksites.eyes[eye]));
  for (const site of sites) scene.add(site.figure, site.zones, site.targets);
  for (const thing of fields.concat(patches.map((patch) => patch.mesh))) scene.add(thing);
  const names = data.worksites
    .map((site) => labels.add(vector(site.helmet), site.name, 'chip'))
    .concat(data.eyes.map((eye) => labels.add(vector(eye.at), eye.name, 'end')));
  return {
    refresh(isLabelled) {
      sites.forEach((site, i) => {
        site.figure.visible = site.targets.visible = shownWorksites.figures[i];
        site.zones.visible = shownWorksites.figures[i] && shownWorksites.zones[i];
      });
      fields.forEach((field, i) => {
        field.visible = shownWorksites.eyes[i];
      });
      for (const patch of patches) patch.refresh();
      names.forEach((entry, i) => {
        entry.isOn = isLabelled && shownWorksites.figures.concat(shownWorksites.eyes)[i];
      });
    },
  };
}
const shownWorksites = {
  figures: data.worksites.map(() => true),
  zones: data.worksites.map((_, i) => i === 0),
  eyes: data.eyes.map((_, e) => data.patches.some((patch) => patch.looks.some((look) => look.eye === e && look.seen.includes('1')))),
};
/// Points that the worksites, eyes and patches take up.
function worksitePoints() {
  return data.worksites
    .flatMap((site) => [site.helmet, site.chest].concat(site.targets.filter((t) => t.shoulders.length).map((t) => t.at)))
    .concat(data.patches.map((patch) => patch.middle))
    .concat(data.eyes.filter((_, e) => shownWorksites.eyes[e]).map((eye) => eye.at));
}

/// The lists beside the view, and their part of the key to signs.
function listWorksites(refresh, flyTo, flyToFigure, sign) {
  const box = (name, list, i) => {
    const input = make('input', { type: 'checkbox', 'aria-label': name });
    input.checked = list[i];
    input.addEventListener('change', () => {
      list[i] = input.checked;
      refresh();
    });
    return input;
  };
  const picture = (kind) => {
    const canvas = signCanvas(kind, 32);
    canvas.style.width = canvas.style.height = '16px';
    canvas.setAttribute('aria-hidden', 'true');
    return canvas;
  };
  data.worksites.forEach((site, i) => {
    const targets = make('ul', { class: 'targets' });
    for (const target of site.targets)
      targets.append(
        make(
          'li',
          {},
          picture(target.kind),
          make('button', { type: 'button', text: target.id, onclick: () => flyTo(target.at, target.id, target.words) }),
          make('span', { class: 'soft', text: target.words }),
        ),
      );
    const item = make(
      'li',
      {},
      box('show the figure in ' + site.name, shownWorksites.figures, i),
      make('button', { type: 'button', text: site.name, onclick: () => flyToFigure(i) }),
      make('span', { class: 'soft', text: site.words + ' - ' + site.source }),
    );
    if (site.both)
      item.append(make('label', {}, box('show what its hands reach', shownWorksites.zones, i), ' what its hands reach'));
    item.append(targets);
    byId('worksites').append(item);
  });
  data.eyes.forEach((eye, e) => {
    const sees = make('ul', { class: 'targets' });
    for (const patch of data.patches)
      for (const look of patch.looks)
        if (look.eye === e)
          sees.append(
            make(
              'li',
              {},
              make('button', { type: 'button', text: patch.id, onclick: () => flyTo(patch.middle, patch.name, look.words) }),
              make('span', { class: 'soft', text: look.words }),
            ),
          );
    byId('eyes').append(
      make(
        'li',
        {},
        box('show what ' + eye.name + ' sees', shownWorksites.eyes, e),
        make('button', { type: 'button', text: eye.name, onclick: () => flyTo(eye.at, eye.name) }),
        sees,
      ),
    );
  });
  for (const kind of Object.keys(data.kinds))
    if (data.worksites.some((site) => site.targets.some((target) => target.kind === kind)))
      sign(picture(kind), 'a target: ' + data.kinds[kind].words);
  const swatch = (colour) => {
    const element = make('span', { class: 'swatch' });
    element.style.background = colour;
    return element;
  };
  if (data.worksites.some((site) => site.both)) {
    sign(swatch('rgb(0 105 76 / 45%)'), 'the two-hand zone of the upright body');
    sign(swatch('rgb(0 114 178 / 20%)'), 'the one-hand zones');
    sign(make('span', { class: 'sign', text: '-' }), 'a line from a shoulder: the arm that reaches a target, the body leaning where it does');
    sign(swatch('rgb(247 249 251 / 80%)'), 'the room that the figure takes: body, and trunk with its backpack');
  }
  if (data.patches.length) {
    sign(swatch(seenColours.seen), 'of a patch: seen by one of the eyes that are switched on');
    sign(swatch(seenColours.unseen), 'of a patch: not seen by them');
    sign(make('span', { class: 'sign', text: '- . -' }), 'a field of view, drawn to what it sees');
  }
}
