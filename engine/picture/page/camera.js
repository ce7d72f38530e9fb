// SPDX-License-Identifier: GPL-3.0-or-later
// The camera of the view: named views, how far away all of a box is seen, turning, panning, flying. All but
// `makeCamera`, which is dragged on an element, runs without a browser.

/// From where one looks, and which key shows it.
const namedViews = {
  zenith: { from: [0, 0.001, -1], key: '1' },
  nadir: { from: [0, 0.001, 1], key: '2' },
  port: { from: [0, -1, 0], key: '3' },
  starboard: { from: [0, 1, 0], key: '4' },
  forward: { from: [1, 0, 0], key: '5' },
  aft: { from: [-1, 0, 0], key: '6' },
};
const vector = (list) => new THREE.Vector3(list[0], list[1], list[2]);

/// The smallest box round `points` and `margin` more on every side: [low, high].
function boxOf(points, margin) {
  const low = new THREE.Vector3(Infinity, Infinity, Infinity),
    high = low.clone().negate();
  for (const p of points) {
    low.min(p);
    high.max(p);
  }
  return [low.subScalar(margin), high.addScalar(margin)];
}

/// So far from the middle of the box that all of it is seen from `from` (any length), with a little room round it.
function distanceFor(low, high, from, fovDeg, aspect) {
  const mid = low.clone().add(high).multiplyScalar(0.5),
    back = from.clone().normalize();
  const right = new THREE.Vector3(0, 0, -1).cross(back);
  if (right.length() < 0.05) right.set(1, 0, 0);
  right.normalize();
  const up = back.clone().cross(right),
    half = Math.tan((fovDeg * Math.PI) / 360);
  let distance = 0.5;
  for (let k = 0; k < 8; ++k) {
    const d = new THREE.Vector3(k & 1 ? high.x : low.x, k & 2 ? high.y : low.y, k & 4 ? high.z : low.z).sub(mid),
      depth = d.dot(back);
    distance = Math.max(distance, depth + Math.abs(d.dot(up)) / half, depth + Math.abs(d.dot(right)) / (half * aspect));
  }
  return distance * 1.06;
}

/// An offset from the target, turned by angles about the zenith and toward it; it stops short of the poles.
function turnedOffset(offset, right, up) {
  const turn = new THREE.Quaternion().setFromUnitVectors(new THREE.Vector3(0, 0, -1), new THREE.Vector3(0, 1, 0));
  const round = new THREE.Spherical().setFromVector3(offset.clone().applyQuaternion(turn));
  round.theta += right;
  round.phi = Math.min(Math.PI - 0.001, Math.max(0.001, round.phi + up));
  return new THREE.Vector3().setFromSpherical(round).applyQuaternion(turn.inverse());
}

/// Where the camera stands at `t` of 1 of a flight between stands {target, from (unit), distance}.
function standAt(start, end, t) {
  if (t >= 1) return end;
  const s = t * t * (3 - 2 * t),
    from = start.from.clone();
  if (from.dot(end.from) < -0.999) from.add(new THREE.Vector3(0.05, 0.05, 0)).normalize();
  return {
    target: start.target.clone().lerp(end.target, s),
    from: from.lerp(end.from, s).normalize(),
    distance: start.distance + (end.distance - start.distance) * s,
  };
}

/// The camera on `element`. `size`: of the whole, in metres; `isStill`: without flights; `onChange`: to draw again.
function makeCamera({ element, size, isStill, onChange }) {
  const flight_ms = 450;
  const camera = new THREE.PerspectiveCamera(30, 1, 0.1, 1000);
  camera.up.set(0, 0, -1);
  const controls = new THREE.OrbitControls(camera, element);
  controls.enableKeys = false;
  controls.screenSpacePanning = true;
  controls.rotateSpeed = 0.7;
  controls.maxDistance = size * 6;
  controls.minDistance = 0.3;
  let flight = null;
  controls.addEventListener('change', onChange);
  controls.addEventListener('start', () => {
    flight = null;
  });

  const bearing = () => camera.position.clone().sub(controls.target).normalize();
  const distance = () => camera.position.distanceTo(controls.target);
  function stand(at) {
    controls.target.copy(at.target);
    camera.position.copy(at.target).addScaledVector(at.from, at.distance);
    controls.update();
    onChange();
  }
  function look(target, from, far) {
    flight = null;
    stand({ target, from: from.clone().normalize(), distance: far });
  }
  function fly(target, from, far) {
    if (isStill()) return look(target, from, far);
    const start = { target: controls.target.clone(), from: bearing(), distance: distance() },
      end = { target, from: from.clone().normalize(), distance: far },
      begun = performance.now(),
      mine = (flight = {});
    (function move() {
      if (flight !== mine) return;
      const t = Math.min(1, (performance.now() - begun) / flight_ms);
      stand(standAt(start, end, t));
      if (t < 1) requestAnimationFrame(move);
      else flight = null;
    })();
  }
  const distanceOf = ([low, high], from) => distanceFor(low, high, from, camera.fov, camera.aspect);
  const middleOf = ([low, high]) => low.clone().add(high).multiplyScalar(0.5);
  return {
    camera,
    bearing,
    distance,
    look,
    fly,
    target: () => controls.target,
    isFlying: () => flight !== null,
    stop() {
      flight = null;
    },
    lookAtBox: (box, from) => look(middleOf(box), from, distanceOf(box, from)),
    flyToBox: (box, from) => fly(middleOf(box), from, distanceOf(box, from)),
    orbit(right, up) {
      const offset = turnedOffset(camera.position.clone().sub(controls.target), right, up);
      camera.position.copy(controls.target).add(offset);
      controls.update();
      onChange();
    },
    pan(right, up) {
      const far = distance() * 0.06;
      const move = new THREE.Vector3(right * far, up * far, 0).applyQuaternion(camera.quaternion);
      camera.position.add(move);
      controls.target.add(move);
      controls.update();
      onChange();
    },
    zoom: (by) => look(controls.target.clone(), bearing(), distance() * by),
  };
}
