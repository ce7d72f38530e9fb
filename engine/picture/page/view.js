// SPDX-License-Identifier: GPL-3.0-or-later
// The view in three dimensions, put together from camera, structure, paths, labels, picking and controls.

function build() {
  const view = byId('view');
  const renderer = new THREE.WebGLRenderer({ antialias: true, alpha: true, preserveDrawingBuffer: true });
  const canInstance = !!renderer.extensions.get('ANGLE_instanced_arrays');
  const canIndex32 = !!renderer.extensions.get('OES_element_index_uint');
  const screenRatio = Math.min(window.devicePixelRatio || 1, 2);
  renderer.setPixelRatio(screenRatio);
  view.prepend(renderer.domElement);
  const scene = new THREE.Scene();
  const whole = [vector(data.min), vector(data.max)];
  const size = Math.max(whole[1].distanceTo(whole[0]), 1);
  const eye = makeCamera({
    element: renderer.domElement,
    size,
    isStill: () => still.matches,
    onChange: () => painter.ask(),
  });
  const { camera } = eye;
  const painter = makePainter(paint, (f) => requestAnimationFrame(f));

  // ---- what is drawn

  scene.add(new THREE.HemisphereLight(0xffffff, 0x8d99a6, 0.72));
  const lamp = new THREE.DirectionalLight(0xffffff, 0.42);
  scene.add(lamp, lamp.target);
  const resolution = new THREE.Vector2(1, 1);
  const lines = makeLines(canInstance, resolution);
  const round = disc();
  // Parts, rails and places of each setting of the switches, made when it is first shown.
  const stands = [];
  function standOf(k) {
    if (stands[k]) return stands[k];
    const setting = trip ? trip.settings[k] : null,
      numbersOf = (list, standing) => standing || list.map((_, i) => i);
    const group = new THREE.Group(),
      parts = numbersOf(data.parts, setting && setting.parts),
      places = numbersOf(data.places, setting && setting.places),
      rails = railPieces(data.rails, setting && setting.rails);
    const structure = structureOf(
      parts.map((i) => data.parts[i]),
      canIndex32,
      group,
    );
    if (rails.pairs.length) group.add(lines.segments(rails.pairs, 0x33414f, 2.5, {}));
    if (places.length)
      group.add(
        dotsOf(
          places.map((i) => data.places[i].at),
          0x1c2733,
          7,
          round,
        ),
      );
    scene.add(group);
    const zones = new Set(numbersOf(data.zones, setting && setting.zones));
    return (stands[k] = { group, structure, parts, rails, zones, places: new Set(places) });
  }
  let settings = [0]; // shown
  let stand = standOf(0); // of the first of them: what taps pick
  const zoneMeshes = data.zones.map(zoneMeshOf);
  if (zoneMeshes.length) scene.add(...zoneMeshes);
  const farthest = data.homes.flatMap((home) => home.farthest.map((grip) => grip.at));
  if (farthest.length) scene.add(dotsOf(farthest, 0xb3261e, 7, round));
  for (const line of data.lines) scene.add(lineGroupOf(line, lines, round));
  if (data.found.length) scene.add(foundGroupOf(data.found, lines));
  const wayGroups = ways.map((way, i) => wayGroupOf(way, i, lines, round));
  if (wayGroups.length) scene.add(...wayGroups);
  const figures = ways.map((way) => (way.rows.length ? figureOf(way, scene) : null));
  const items = trip ? trip.items.map((item) => boxOfItem(item, scene)) : [];

  const labels = makeLabels(byId('labels'));
  const ends = new Set(ways.flatMap((way) => way.name.split(',')[0].split(' to ')));
  const placeLabels = data.places.map((place) =>
    labels.add(vector(place.at), place.id, ends.has(place.id) ? 'end' : ''),
  );
  const crewOf = ways.map((_, i) => (trip && trip.crew.find((member) => member.way === i)) || null);
  const figureLabels = ways.map((way, i) =>
    figures[i] ? labels.add(new THREE.Vector3(), crewOf[i] ? crewOf[i].id : way.letter, 'chip') : null,
  );
  const rowLabels = ways.map((way) =>
    way.rows.map((row, r) => labels.add(vector(row.hand), way.letter + ' ' + r, 'row')),
  );
  const itemLabels = items.map((_, i) => labels.add(new THREE.Vector3(), trip.items[i].id, ''));
  for (const line of data.lines)
    for (const mark of line.ties.concat(line.bends)) labels.add(vector(mark.at), mark.text, '');
  for (const piece of data.found) if (piece.number) labels.add(vector(middleOf(piece)), String(piece.number), 'chip');
  const reasonLabels = ways.flatMap((way) =>
    way.reasons.slice(0, 1).map((reason) => labels.add(vector(reason.at), way.letter + ' stops here', 'chip')),
  );
  const worksites = makeWorksites(scene, lines, labels, shownWorksites);
  labels.measure();

  // ---- drawing, when something has changed

  const seen = camera.clone(); // as the picture shown now has it: input means that one, however late the next one is
  let hiddenTimer = 0;
  /// The scene for a surface of `high` pixels of the page.
  function render(high) {
    const far = eye.distance();
    camera.near = Math.max(far / 200, 0.02);
    camera.far = far + size * 3;
    camera.updateProjectionMatrix();
    lines.setPixelsPerMetre(high / (2 * Math.tan((camera.fov * Math.PI) / 360) * far));
    lamp.position.copy(camera.position).add(new THREE.Vector3(0, 0, -far * 0.5));
    lamp.target.position.copy(eye.target());
    renderer.render(scene, camera);
  }
  function paint() {
    const wide = view.clientWidth,
      high = view.clientHeight;
    if (!wide || !high) return; // on paper the view itself is not there
    render(high);
    seen.copy(camera);
    labels.place(projector(seen, wide, high), wide, high);
    clearTimeout(hiddenTimer);
    hiddenTimer = setTimeout(dimHiddenLabels, 160);
    byId('compass').replaceChildren(compassPicture(seen.quaternion));
    if (!document.body.dataset.drawn) {
      document.body.dataset.drawn = 'yes';
      performance.mark('first picture');
    }
  }
  function setSize(wide, high, ratio) {
    renderer.setPixelRatio(ratio);
    renderer.setSize(wide, high);
    renderer.domElement.style.width = renderer.domElement.style.height = '100%';
    resolution.set(wide, high);
    camera.aspect = wide / high;
    camera.updateProjectionMatrix();
  }
  let sized = [0, 0];
  function resize() {
    const now = [view.clientWidth, view.clientHeight];
    if (!now[0] || !now[1] || (now[0] === sized[0] && now[1] === sized[1])) return;
    sized = now;
    setSize(...now, screenRatio);
    painter.now(); // a new size empties the canvas: painted before anyone sees that
  }

  /// Labels of what lies behind structure are dimmed, once the camera rests; not on models where that takes long.
  const caster = new THREE.Raycaster();
  function dimHiddenLabels() {
    if (stand.structure.triangles > 80000) return;
    const toward = new THREE.Vector3();
    for (const entry of labels.entries) {
      if (!entry.spot) continue;
      toward.copy(entry.at).sub(seen.position);
      const length = toward.length();
      caster.set(seen.position, toward.normalize());
      caster.near = 0;
      caster.far = length - 0.12;
      entry.element.classList.toggle('hid', entry.rank > 1 && caster.intersectObject(stand.structure.mesh).length > 0);
    }
    caster.far = Infinity;
  }

  // ---- picking, by the picture that was seen

  function cast(at, by) {
    caster.setFromCamera({ x: (at[0] / view.clientWidth) * 2 - 1, y: 1 - (at[1] / view.clientHeight) * 2 }, by);
    return caster;
  }
  function zoneAt(at, by) {
    const hits = cast(at, by).intersectObjects(zoneMeshes.filter((mesh) => mesh.visible));
    return hits.length ? [zoneMeshes.indexOf(hits[0].object), hits[0].distance] : [-1, Infinity];
  }
  function partWords(face) {
    const facts = data.parts[stand.parts[partOfTriangle(stand.structure.firstTriangle, face)]];
    const more = [
      facts.name !== facts.id ? facts.id : '',
      facts.fragile ? 'fragile' : '',
      facts.no_touch ? 'must not be touched' : '',
    ];
    return [facts.name, more.filter(Boolean).join(', ')];
  }
  function railWords(rail) {
    const use = data.rails.use[rail];
    const uses = ['hands', 'tether', 'cable'].filter((word, bit) => use & (1 << bit));
    return ['rail ' + data.rails.id[rail], 'on ' + data.rails.part[rail] + ', for ' + uses.join(', ')];
  }
  function pick(at, by, isFinger) {
    const reach = isFinger ? 24 : 13,
      project = projector(by, view.clientWidth, view.clientHeight);
    const waypoint = waypointAt(ways, shown, state.way, at, reach, project);
    if (waypoint) return choose(waypoint.way, waypoint.row, true);
    const [zone, zoneFar] = zoneAt(at, by);
    const [hit] = cast(at, by).intersectObject(stand.structure.mesh);
    const rail = railAt(stand.rails, at, reach / 2, hit ? hit.distance : Infinity, project, by.position);
    if (zone >= 0 && (!hit || zoneFar < hit.distance) && rail < 0) return chooseZone(zone, false);
    chooseZone(-1);
    lightZone(-1);
    tell(...(rail >= 0 ? railWords(rail) : hit ? partWords(hit.faceIndex) : []));
  }
  let hovered = -1;
  function hover(at, by) {
    const [zone] = zoneAt(at, by);
    if (zone === hovered) return;
    hovered = zone;
    lightZone(zone);
    if (zone < 0) return tell();
    const { id, reason, effect, keeps_out } = data.zones[zone];
    tell('zone ' + id + ': ' + reason, effect + ' - ' + keeps_out);
  }
  function lightZone(i) {
    zoneMeshes.forEach((mesh, k) => {
      mesh.material.uniforms.veil.value = k === i ? 0.3 : 0.1;
      mesh.material.uniforms.mark.value = k === i ? 0.75 : 0.38;
    });
    painter.ask();
  }

  // ---- buttons and keys

  /// All that the routes and lines take up, with the corridor; null without any.
  function routesBox() {
    const points = [];
    for (const way of ways) points.push(...triplesOf(way.body.point), ...way.reasons.slice(0, 1).map((r) => r.at));
    for (const line of data.lines) points.push(...triplesOf(line.point));
    points.push(...worksitePoints());
    return points.length ? boxOf(points.map(vector), Math.max(1, ...ways.map((way) => way.radius))) : null;
  }
  const routes = routesBox();
  let zonesOn = true,
    corridorOn = false,
    labelsOn = true;
  const actions = {
    orbit: eye.orbit,
    pan: eye.pan,
    zoom: eye.zoom,
    showNamed: (name) => eye.flyToBox(whole, vector(namedViews[name].from)),
    fit: () => eye.flyToBox(whole, eye.bearing()),
    fitRoutes: () => eye.flyToBox(routes || whole, eye.bearing()),
    step,
    play: () => tables.some(Boolean) && play(!state.playing),
    help: () => showKeys(byId('keys').hidden),
    closeHelp: () => showKeys(false),
  };
  const toggles = [
    data.zones.length && {
      text: 'zones',
      isOn: true,
      change(on) {
        zonesOn = on;
        refreshZones();
      },
    },
    tables.some(Boolean) && {
      text: 'corridor',
      isOn: false,
      change(on) {
        corridorOn = on;
        refresh();
      },
    },
    {
      text: 'labels',
      isOn: true,
      change(on) {
        labelsOn = on;
        refresh();
      },
    },
  ];
  fillBar(byId('views'), actions, toggles.filter(Boolean), routes !== null);
  const showKeys = makeKeyPanel(byId('keys'), () => byId('keys-button'));
  for (const name of Object.keys(actions)) {
    const act = actions[name];
    actions[name] = (...what) => {
      eye.stop();
      act(...what);
    };
  }
  listenToKeys(view, actions);
  listenToPointers(view, () => seen.clone(), pick, hover);
  renderer.domElement.addEventListener('webglcontextlost', (event) => {
    event.preventDefault();
    sayGraphics('The graphics of this browser were lost; load the page again to have the view back. All tables stay.');
  });

  // ---- what the rest of the page may ask for

  // Of an excursion the waypoints of what goes on are named, not all of hours.
  const legNow = ways.map(() => -1);
  function findLegs(seconds) {
    const now = ways.map((way, i) =>
      crewOf[i] && crewOf[i].steps.length ? way.rows[crewOf[i].steps[stepAt(crewOf[i].steps, seconds)].row].leg : -1,
    );
    const isNew = now.some((leg, i) => leg !== legNow[i]);
    now.forEach((leg, i) => {
      legNow[i] = leg;
    });
    return isNew;
  }
  const isStanding = (kind, i) => settings.some((k) => standOf(k)[kind].has(i));
  function refreshZones() {
    zoneMeshes.forEach((mesh, i) => {
      mesh.visible = zonesOn && zoneItems[i].querySelector('input').checked && isStanding('zones', i);
    });
    painter.ask();
  }
  function showSettings(now) {
    if (now.join() === settings.join()) return;
    settings = now;
    stand = standOf(now[0]);
    for (const k of now) standOf(k);
    stands.forEach((each, k) => {
      if (each) each.group.visible = now.includes(k);
    });
    refreshZones();
    refresh();
  }
  refreshZones();
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
        const isChosen = i === state.way && r === state.row;
        const isNow = !crewOf[i] || way.rows[r].leg === legNow[i];
        entry.isOn = shown[i] && i === state.way && ((labelsOn && isNow) || r === state.row);
        entry.rank = isChosen ? 0 : 3;
        entry.element.classList.toggle('chosen', isChosen);
      });
    });
    worksites.refresh(labelsOn);
    for (const entry of reasonLabels) entry.isOn = labelsOn;
    placeLabels.forEach((entry, i) => {
      entry.isOn = labelsOn && isStanding('places', i);
    });
    items.forEach((mesh, i) => {
      itemLabels[i].isOn = labelsOn && mesh.visible;
    });
    painter.ask();
  }
  const near = () => Math.max(6, Math.min(9, size * 0.3));

  // For paper: the view on white, from where it is looked at now, in the shape of the page that it is to fill. Chromium
  // asks for it when printing begins.
  const paper = { wide: 1108, high: 660, ratio: 2 }; // 277 x 165 mm, A4 lying less margins and the title, at 4 px/mm
  function forPaper() {
    const far = eye.distance(),
      from = eye.bearing(),
      { aspect } = camera;
    setSize(paper.wide, paper.high, paper.ratio);
    // What was seen stays in sight where the paper is narrower than the screen.
    const shrunk = Math.min(1, camera.aspect / aspect);
    camera.position.copy(eye.target()).addScaledVector(from, far / shrunk);
    render(paper.high);
    const boxes = labelBoxes(labels.entries, projector(camera, paper.wide, paper.high), paper.wide, paper.high);
    const canvas = document.createElement('canvas'),
      pen = canvas.getContext('2d');
    canvas.width = renderer.domElement.width;
    canvas.height = renderer.domElement.height;
    pen.drawImage(renderer.domElement, 0, 0);
    pen.scale(paper.ratio, paper.ratio);
    pen.font = '600 12px sans-serif';
    pen.textBaseline = 'middle';
    boxes.forEach((box, i) => {
      if (!box) return;
      const text = labels.entries[i].element.textContent,
        wide = Math.max(pen.measureText(text).width + 6, 10);
      pen.fillStyle = '#fff';
      pen.fillRect(box[0], box[1], wide, 16);
      pen.strokeRect(box[0], box[1], wide, 16);
      pen.fillStyle = '#000';
      pen.fillText(text, box[0] + 3, box[1] + 8);
    });
    byId('print-view').src = canvas.toDataURL('image/png');
    camera.position.copy(eye.target()).addScaledVector(from, far);
    if (!sized[0]) return;
    setSize(...sized, screenRatio);
    render(sized[1]); // here and now: on paper the view has no size, and it comes back with the one it had
  }
  window.addEventListener('beforeprint', forPaper);
  matchMedia('print').addEventListener('change', (event) => {
    if (event.matches) forPaper();
  });

  // The first view: from forward, starboard and zenith, where most is seen; the routes, where there are any.
  resize();
  eye.lookAtBox(routes || whole, new THREE.Vector3(0.45, 1, -0.75));
  new ResizeObserver(resize).observe(view);

  return {
    refresh,
    lightZone,
    paintNow: painter.now,
    setTime(seconds) {
      ways.forEach((way, i) => {
        if (!figures[i]) return;
        poseFigure(figures[i], stanceAt(way, seconds));
        figureLabels[i].at.copy(figures[i].position);
      });
      items.forEach((mesh, i) => {
        const now = itemAt(trip.items[i], seconds);
        mesh.visible = now.isSeen;
        mesh.position.copy(now.middle);
        mesh.quaternion.copy(now.turn);
        itemLabels[i].at.copy(now.middle);
        itemLabels[i].isOn = labelsOn && now.isSeen;
      });
      if (trip) {
        if (findLegs(seconds)) refresh();
        showSettings(settingsAt(trip.stages, seconds));
      }
      painter.ask();
    },
    showZone: refreshZones,
    flyToRow(w, r) {
      const row = ways[w].rows[r],
        hand = vector(row.hand),
        out = vector(row.body).sub(hand).normalize();
      const now = eye.bearing();
      // From outside of the part, as near to the present bearing as that lets.
      const from = now.dot(out) > 0.35 ? now : now.addScaledVector(out, 0.9 - now.dot(out)).normalize();
      eye.fly(vector(row.body).lerp(hand, 0.5), from, near());
    },
    flyToWay(i) {
      eye.flyToBox(boxOf(triplesOf(ways[i].body.point).map(vector), 1), eye.bearing());
    },
    flyToZone(i) {
      const sphere = zoneMeshes[i].geometry.boundingSphere;
      eye.fly(sphere.center.clone(), eye.bearing(), Math.max(3, sphere.radius * 6));
    },
    /// From behind and above the figure: its back is turned to what it works on, and its head away from structure.
    flyToFigure(i) {
      const site = data.worksites[i],
        chest = vector(site.chest),
        ahead = vector(site.forward),
        up = vector(site.helmet).sub(chest).normalize();
      const from = up
        .clone()
        .multiplyScalar(0.6)
        .addScaledVector(ahead, -0.6)
        .addScaledVector(up.clone().cross(ahead), 0.5);
      eye.fly(chest, from.normalize(), 5.5);
    },
    flyToPoint(at) {
      eye.fly(vector(at), eye.bearing(), near());
    },
    /// Of the picture as it is once what is due is drawn.
    inspect() {
      painter.flush();
      return {
        camera: camera.position.toArray(),
        target: eye.target().toArray(),
        isFlying: eye.isFlying(),
        settings,
        items: items.map((mesh) => (mesh.visible ? mesh.position.toArray() : null)),
        figures: figures.map(
          (figure) =>
            figure && { at: figure.position.toArray(), boxes: figure.boxes.map((mesh) => mesh.position.toArray()) },
        ),
      };
    },
    project(at) {
      painter.flush();
      return projector(seen, view.clientWidth, view.clientHeight)(vector(at));
    },
  };
}
