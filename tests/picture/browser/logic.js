// SPDX-License-Identifier: GPL-3.0-or-later
// The logic of the page's view, in node without a browser: node logic.js PAGE_FOLDER THREE. What fails is printed, and
// makes the exit code 1.
'use strict';
const assert = require('assert').strict;
const fs = require('fs');
const path = require('path');

const [, , folder, three] = process.argv;
global.THREE = require(three);
const names =
  'namedViews vector boxOf distanceFor turnedOffset standAt findTime stanceAt liftedHands pairsOf triplesOf labelBoxes doOverlap' +
  ' compassAxes projector waypointAt railAt makeTap actionOf keyTable makePainter partOfTriangle railPieces' +
  ' stepAt settingsAt itemAt';
const source = ['camera', 'structure', 'paths', 'labels', 'picking', 'controls', 'excursion']
  .map((name) => fs.readFileSync(path.join(folder, name + '.js'), 'utf8'))
  .join('\n');
// `numbers` reads packed arrays in the page; here they are given as they are.
const page = new Function('numbers', `${source}\nreturn { ${names.split(' ').join(', ')} };`)((list) => Float32Array.from(list));
const { vector } = page;
const near = (a, b, tolerance, what) => assert.ok(a.distanceTo(b) <= tolerance, `${what}: ${a.toArray()}, ${b.toArray()}`);

/// mulberry32: the same numbers on every machine.
function random(seed) {
  let a = seed;
  return () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}
function cameraAt(target, from, distance, aspect) {
  const camera = new THREE.PerspectiveCamera(30, aspect, 0.01, 1000);
  camera.up.set(0, 0, -1);
  camera.position.copy(target).addScaledVector(from.clone().normalize(), distance);
  camera.lookAt(target);
  camera.updateMatrixWorld();
  camera.updateProjectionMatrix();
  return camera;
}

const tests = {
  'all of a box is seen from the distance for it, and no more than needed'() {
    const r = random(1);
    for (let k = 0; k < 300; ++k) {
      const low = vector([r() * 10 - 5, r() * 10 - 5, r() * 10 - 5]),
        high = low.clone().add(vector([0.1 + r() * 20, 0.1 + r() * 9, 0.1 + r() * 9]));
      const from = vector([r() - 0.5, r() - 0.5, r() - 0.5]),
        aspect = 0.4 + 2 * r();
      const far = page.distanceFor(low, high, from, 30, aspect);
      const camera = cameraAt(low.clone().add(high).multiplyScalar(0.5), from, far, aspect);
      let most = 0;
      for (let c = 0; c < 8; ++c) {
        const p = vector([c & 1 ? high.x : low.x, c & 2 ? high.y : low.y, c & 4 ? high.z : low.z]).project(camera);
        most = Math.max(most, Math.abs(p.x), Math.abs(p.y));
      }
      assert.ok(most <= 1 && (most > 0.8 || far < 0.6), `box ${k}: ${most}`);
    }
  },

  'turning keeps the distance, goes about the zenith and stops at the poles'() {
    const start = vector([3, 2, -1]);
    near(page.turnedOffset(start, 0, 0), start, 1e-9, 'no turn');
    const turned = page.turnedOffset(start, 0.7, 0);
    assert.ok(Math.abs(turned.length() - start.length()) < 1e-9 && Math.abs(turned.z - start.z) < 1e-9);
    assert.ok(Math.abs(Math.atan2(turned.y, turned.x) - Math.atan2(start.y, start.x)) - 0.7 < 1e-9);
    near(page.turnedOffset(page.turnedOffset(start, 0.7, 0.2), -0.7, -0.2), start, 1e-9, 'there and back');
    assert.ok(page.turnedOffset(start, 0, -9).z / start.length() < -0.999, 'over the zenith no farther');
  },

  'a flight begins and ends where it should and never comes too near'() {
    const stand = (t, f, d) => ({ target: vector(t), from: vector(f).normalize(), distance: d });
    for (const [a, b] of [
      [stand([0, 0, 0], [1, 0, 0], 10), stand([5, 1, 0], [0, 1, 0], 4)],
      [stand([0, 0, 0], [0, 1, 0], 3), stand([0, 0, 0], [0, -1, 0], 6)],
    ]) {
      assert.equal(page.standAt(a, b, 1), b);
      near(page.standAt(a, b, 0).target, a.target, 1e-12, 'start');
      for (let t = 0; t <= 1; t += 0.05) {
        const at = page.standAt(a, b, t);
        assert.ok(Math.abs(at.from.length() - 1) < 1e-9, 'a bearing');
        assert.ok(at.distance >= Math.min(a.distance, b.distance) - 1e-9, 'no nearer than either end');
      }
    }
  },

  'a time is found as a slow search finds it'() {
    const r = random(2);
    for (let k = 0; k < 200; ++k) {
      const times = [0];
      while (times.length < 1 + k % 9) times.push(times[times.length - 1] + (r() < 0.2 ? 0 : r()));
      const seconds = r() * (times[times.length - 1] + 0.4) - 0.2;
      const [i, t] = page.findTime(times, seconds);
      const clamped = Math.min(Math.max(seconds, 0), times[times.length - 1]);
      const value = t > 0 ? times[i] + t * (times[i + 1] - times[i]) : times[i];
      assert.ok(Math.abs(value - clamped) < 1e-9, `${seconds} in ${times}: ${i} ${t}`);
    }
  },

  'the figure holds both grips and its axes are right-handed'() {
    const way = {
      loads: [0],
      poses: { at_s: [0, 2, 4], hand: [0, 0, 0, 0.5, 0, 0, 1, 0, 0], stance: [], loads: [] },
      body: { at_s: [0, 2, 4], point: [0, 0, -0.5, 0.5, 0, -0.5, 1, 0, -0.5] },
    };
    for (let k = 0; k < 3; ++k) {
      way.poses.stance.push(0, 0, -1);
      way.poses.loads.push(0, k, 1, -1, 0, 0, 0, 1);
    }
    const at = page.stanceAt(way, 3);
    near(at.body, vector([0.75, 0, -0.5]), 1e-9, 'body');
    near(at.up, vector([0, 0, -1]), 1e-9, 'away from the rail');
    near(at.ahead, vector([1, 0, 0]), 1e-9, 'head first');
    near(at.side, at.up.clone().cross(at.ahead), 1e-9, 'side');
    near(at.grips[0], vector([0.5, 0, 0]), 1e-9, 'one hand');
    near(at.grips[1], vector([1, 0, 0]), 1e-9, 'the other');
    near(at.loads[0].middle, vector([1.5, 1, -1]), 1e-9, 'load');
    near(page.stanceAt(way, 99).body, vector([1, 0, -0.5]), 1e-9, 'the end is kept');
    near(page.stanceAt({ ...way, poses: { ...way.poses, at_s: [0] }, body: { at_s: [0], point: [0, 0, -0.5] } }, 1).body, vector([0, 0, -0.5]), 1e-9, 'a route of one grip');
    assert.ok(Math.abs(page.liftedHands(way, 0)[1][2] + 0.05) < 1e-12 && page.liftedHands(way, 3)[1][2] < page.liftedHands(way, 2)[1][2]);
  },

  'labels never overlap, stay in the view, and rank decides'() {
    const r = random(3);
    for (let k = 0; k < 60; ++k) {
      const entries = Array.from({ length: 80 }, () => ({
        at: [r() * 400, r() * 300],
        width: 10 + r() * 90,
        height: 16,
        rank: Math.floor(r() * 5),
        isOn: r() < 0.9,
      }));
      const boxes = page.labelBoxes(entries, (at) => at, 400, 300);
      const shown = boxes.filter(Boolean);
      assert.ok(shown.length > 10, 'some have room');
      shown.forEach((a, i) => {
        assert.ok(a[0] >= 0 && a[1] >= 0 && a[2] <= 400 && a[3] <= 300);
        shown.slice(0, i).forEach((b) => assert.ok(!(a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]), `${k}`));
      });
      entries.forEach((entry, i) => assert.ok(entry.isOn || !boxes[i]));
      // Alone, the chosen one always has its place.
      entries[7] = { ...entries[7], rank: -1, isOn: true, at: [200, 150] };
      assert.ok(page.labelBoxes(entries, (at) => at, 400, 300)[7]);
    }
    assert.deepEqual(page.labelBoxes([{ at: [9, 99], width: 9, height: 9, rank: 0, isOn: true }], () => null, 99, 99), [null]);
  },

  'words of the compass never overlap, whatever the bearing'() {
    const r = random(4);
    for (let k = 0; k < 2000; ++k) {
      const camera = cameraAt(vector([0, 0, 0]), vector([r() - 0.5, r() - 0.5, r() - 0.5]), 5, 1);
      const words = page.compassAxes(camera.quaternion).filter((axis) => axis.word);
      assert.ok(words.length >= 1, 'one at least');
      words.forEach((a, i) => {
        assert.ok(a.word.box[0] >= -110 && a.word.box[2] <= 110 && a.word.box[1] >= -60 && a.word.box[3] <= 60, a.name);
        words.slice(0, i).forEach((b) => assert.ok(!page.doOverlap(a.word.box, b.word.box), `${a.name} over ${b.name}`));
      });
    }
  },

  'the nearest waypoint is picked, the chosen route before others'() {
    const way = (shift) => ({
      rows: [0, 1, 2].map((x) => ({ hand: [x, shift, 0], pose: x })),
      hands: [0, 1, 2].map((x) => [x, shift, 0]),
    });
    const ways = [way(0), way(0), way(0.2)],
      project = (p) => [100 * p.x, 100 * p.y];
    const pick = (at, chosen, shown = [true, true, true]) => page.waypointAt(ways, shown, chosen, at, 13, project);
    assert.deepEqual([pick([102, 3], 0).way, pick([102, 3], 0).row], [0, 1]);
    assert.equal(pick([102, 3], 1).way, 1, 'the chosen route');
    assert.equal(pick([102, 3], 1, [true, false, true]).way, 0, 'not one that is switched off');
    assert.equal(pick([102, 18], 0).way, 2);
    assert.equal(pick([50, 50], 0), null);
  },

  'a rail is picked where it is drawn, unless structure hides it'() {
    const pieces = page.railPieces({ point: [0, 0, 0, 1, 0, 0, 1, 1, 0, 5, 5, 0], count: [3, 1] });
    assert.deepEqual(pieces.railOf, [0, 0, 1]);
    assert.equal(pieces.pairs.length, 18);
    const project = (p) => [100 * p.x, 100 * p.y],
      eye = vector([0, 0, -10]);
    const at = (x, y, wall = Infinity) => page.railAt(pieces, [x, y], 6, wall, project, eye);
    assert.equal(at(50, 4), 0);
    assert.equal(at(104, 60), 0, 'its second piece');
    assert.equal(at(502, 499), 1, 'a handhold');
    assert.equal(at(50, 8), -1, 'too far off');
    assert.equal(at(50, 4, 9), -1, 'behind a wall');
  },

  'a part is found by its triangle'() {
    assert.deepEqual([0, 4, 5, 6, 99].map((t) => page.partOfTriangle([0, 5, 5, 7], t)), [0, 0, 2, 2, 3]);
  },

  'a tap is one finger, down and up on one spot, by the picture seen when it came down'() {
    const tap = page.makeTap(5);
    tap.down(1, [10, 10], 'old');
    assert.equal(tap.up(1, [13, 10]), 'old');
    assert.equal(tap.up(1, [13, 10]), null, 'once');
    tap.down(1, [10, 10], 'old');
    assert.equal(tap.up(1, [16, 10]), null, 'a drag');
    tap.down(1, [10, 10], 'a');
    tap.down(2, [50, 10], 'a');
    assert.equal(tap.up(1, [10, 10]), null, 'two fingers');
    assert.equal(tap.up(2, [50, 10]), null);
    tap.down(1, [10, 10], 'a');
    tap.cancel();
    assert.equal(tap.up(1, [10, 10]), null, 'cancelled');
    tap.down(1, [10, 10], 'lost outside');
    tap.down(1, [20, 20], 'again');
    assert.equal(tap.up(1, [20, 20]), 'again', 'a button let go outside of the view does not drop the next');
  },

  'a picture is painted once a frame, or at once when it is asked after'() {
    const frames = [];
    let painted = 0;
    const painter = page.makePainter(
      () => ++painted,
      (f) => frames.push(f),
    );
    painter.flush();
    assert.equal(painted, 0, 'nothing is due');
    painter.ask();
    painter.ask();
    assert.deepEqual([frames.length, painted], [1, 0]);
    painter.flush();
    assert.equal(painted, 1);
    frames.shift()();
    assert.equal(painted, 1, 'the frame finds nothing due');
    painter.ask();
    frames.shift()();
    painter.now();
    assert.equal(painted, 3);
  },

  'keys do what the panel says, and leave those of the browser alone'() {
    const key = (k, more) => page.actionOf({ key: k, ...more });
    assert.deepEqual(key('1'), ['showNamed', 'zenith']);
    assert.deepEqual(key('ArrowLeft'), ['orbit', -0.12, -0]);
    assert.deepEqual(key('ArrowLeft', { shiftKey: true }), ['pan', -1, 0]);
    for (const [k, action] of [['F', 'fit'], ['f', 'fit'], ['r', 'fitRoutes'], ['N', 'step'], [' ', 'play'], ['?', 'help'], ['+', 'zoom'], ['-', 'zoom']])
      assert.equal(key(k)[0], action, k);
    assert.equal(key('q'), null);
    assert.equal(key('f', { ctrlKey: true }), null);
    // Every single key of the panel has an action.
    const told = page.keyTable().flatMap(([keys]) => keys.split(' ')).filter((k) => k.length === 1);
    assert.ok(told.length >= 12);
    for (const k of told) assert.ok(key(k), k);
  },

  'an excursion is where its clock says'() {
    // Steps that take no time give way to what follows at the same moment.
    const steps = [[0, 10], [10, 10], [10, 30], [30, 40]].map(([from_s, to_s]) => ({ from_s, to_s }));
    for (const [t, k] of [[0, 0], [9.9, 0], [10, 2], [29, 2], [30, 3], [99, 3]]) assert.equal(page.stepAt(steps, t), k, t);
    const stages = [{ from_s: 0, settings: [0] }, { from_s: 50, settings: [0, 1] }, { from_s: 60, settings: [1] }];
    for (const [t, shown] of [[0, [0]], [49, [0]], [50, [0, 1]], [60, [1]], [1e6, [1]]])
      assert.deepEqual(page.settingsAt(stages, t), shown, t);
    // Seen and still, on the way, put away; half a turn about z on the way.
    const turn = [0, 0, Math.SQRT1_2, Math.SQRT1_2];
    const item = {
      at_s: [0, 10, 20, 40],
      seen: [1, 2, 1, 0],
      place: [[0, 0, 0, 0, 0, 0, 1], [2, 0, 0, 0, 0, 0, 1], [4, 0, 0, ...turn], [9, 9, 9, 0, 0, 0, 1]].flat(),
    };
    for (const [t, x] of [[0, 0], [9, 0], [10, 2], [15, 3], [20, 4], [39, 4]]) {
      const now = page.itemAt(item, t);
      assert.ok(now.isSeen);
      near(now.middle, vector([x, 0, 0]), 1e-9, 'at ' + t);
    }
    assert.ok(Math.abs(page.itemAt(item, 15).turn.z - Math.sin(Math.PI / 8)) < 1e-9);
    assert.equal(page.itemAt(item, 40).isSeen, false);
  },

  'a point is in pixels where the camera sees it'() {
    const camera = cameraAt(vector([0, 0, 0]), vector([0, 1, 0]), 10, 2);
    const project = page.projector(camera, 800, 400);
    const [x, y] = project(vector([0, 0, 0]));
    assert.ok(Math.abs(x - 400) < 1e-6 && Math.abs(y - 200) < 1e-6);
    assert.ok(project(vector([1, 0, 0]))[0] > 400, 'forward is on the right from starboard');
    assert.ok(project(vector([0, 0, -1]))[1] < 200, 'zenith is up');
    assert.equal(project(vector([0, 20, 0])), null, 'behind');
  },
};

for (const [name, test] of Object.entries(tests))
  try {
    test();
  } catch (error) {
    console.error(`${name}: ${error.stack || error}`);
    process.exitCode = 1;
  }
