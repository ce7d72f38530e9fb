// SPDX-License-Identifier: GPL-3.0-or-later
// Drives pages in headless Chromium, one browser for all: node drive.js CHROMIUM FOLDER. Each line of the standard input
// is {name, file, result}: a case, its page and, if any, the result that is drawn there. The answer is what failed and
// then a line `done 0`, or `done 1` when something did. Screenshots go to FOLDER.
'use strict';
const assert = require('assert').strict;
const fs = require('fs');
const path = require('path');
const readline = require('readline');
const { pathToFileURL } = require('url');
const { chromium } = require('playwright-core');

const [, , executablePath, folder] = process.argv;
let name, file, resultFile; // of the case that runs
const patience = 300000; // ms, after which a browser that answers nothing has failed, however busy the machine
const common = [
  '--no-sandbox',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];
const software = ['--use-gl=angle', '--use-angle=swiftshader', '--enable-unsafe-swiftshader'];
const shot = (page, what) => page.screenshot({ path: path.join(folder, `${name}${what ? '-' + what : ''}.png`) });
const result = () => JSON.parse(fs.readFileSync(resultFile, 'utf8'));
const inspect = (page) => page.evaluate(() => window.holdfast.inspect());
const close = (a, b, tolerance, what) =>
  assert.ok(Math.hypot(...a.map((v, i) => v - b[i])) <= tolerance, `${what}: ${a} is not ${b}`);
const clock = (s) => {
  const w = Math.ceil(s - 1e-6);
  return `${Math.floor(w / 3600)}:${String(Math.floor(w / 60) % 60).padStart(2, '0')}:${String(w % 60).padStart(2, '0')}`;
};
const up = (m) => (Math.ceil(m * 100 - 1e-6) / 100).toFixed(2);
const down = (m) => (Math.floor(m * 100 + 1e-6) / 100).toFixed(2);

/// The browser that cases share; other flags get one of their own.
let shared = null;
const launch = (flags) => chromium.launch({ executablePath, args: common.concat(flags), timeout: patience });
const opened = []; // to be closed when the case is over
async function contextOf(options, flags) {
  const own = flags !== software && (await launch(flags));
  if (own) opened.push(own);
  const context = await (own || shared).newContext({
    viewport: { width: 1440, height: 900 },
    reducedMotion: 'reduce',
    ...options,
  });
  context.setDefaultTimeout(patience);
  opened.push(context);
  return context;
}
/// Holds what the page wants to do at its next frame until `releaseFrames`, as a busy machine does for a while.
function holdFrames() {
  const real = window.requestAnimationFrame.bind(window),
    held = [];
  window.requestAnimationFrame = (f) => held.push(f);
  window.releaseFrames = () => held.splice(0).forEach((f) => real(f));
}

/// Opens the page; whatever it complains of, asks for or calls out is a failure.
async function open(options = {}, flags = software, before = null) {
  const context = await contextOf(options, flags);
  const page = await context.newPage();
  const faults = [];
  page.on('console', (message) => {
    if (['error', 'warning'].includes(message.type()) && !/GPU stall|swiftshader|software WebGL/i.test(message.text()))
      faults.push(message.text());
  });
  page.on('pageerror', (error) => faults.push(String(error.stack)));
  page.on('dialog', (dialog) => {
    faults.push('a dialog: ' + dialog.message());
    dialog.dismiss();
  });
  page.on('request', (request) => {
    if (!/^(file|data):/.test(request.url())) faults.push('asked for ' + request.url());
  });
  if (before) await page.addInitScript(before);
  await page.goto(pathToFileURL(path.resolve(file)).href);
  assert.ok(await page.evaluate(() => document.body.dataset.drawn), 'the first picture is there when the page is');
  return { page, faults };
}
const still = (page) => page.waitForFunction(() => !window.holdfast.inspect().isFlying);
/// How many colours the middle of the canvas shows: an empty one shows one.
const colours = (page) =>
  page.evaluate(() => {
    const canvas = document.querySelector('#view canvas'),
      copy = document.createElement('canvas');
    copy.width = 200;
    copy.height = 200;
    const pen = copy.getContext('2d');
    pen.drawImage(canvas, 0, 0, 200, 200);
    return new Set(new Uint32Array(pen.getImageData(0, 0, 200, 200).data.buffer)).size;
  });
const row = (page, way, r) => page.locator(`tr[data-way="${way}"][data-row="${r}"]`);
const chosen = (page) =>
  page.evaluate(() =>
    [...document.querySelectorAll('tr.chosen')].map((tr) => [Number(tr.dataset.way), Number(tr.dataset.row)]),
  );
/// Where on the screen a point of the structure is.
async function onScreen(page, at) {
  const box = await page.locator('#view').boundingBox();
  const p = await page.evaluate((q) => window.holdfast.project(q), at);
  return [box.x + p[0], box.y + p[1]];
}

/// No text of a sheet lies over another; there are more of them than `least`.
async function textsStandApart(least) {
  const context = await contextOf({ viewport: { width: 1587, height: 1123 } }, software);
  const page = await context.newPage();
  await page.goto(pathToFileURL(path.resolve(file)).href);
  // What the browser's own letters take: their boxes, less the empty part above and below.
  const texts = await page.evaluate(() =>
    [...document.querySelectorAll('text')].map((text) => {
      const box = text.getBoundingClientRect(),
        air = box.height * 0.2;
      return { words: text.textContent, box: [box.left, box.top + air, box.right, box.bottom - air] };
    }),
  );
  assert.ok(texts.length > least);
  const over = [];
  texts.forEach((a, i) =>
    texts.slice(0, i).forEach((b) => {
      if (a.box[0] < b.box[2] && b.box[0] < a.box[2] && a.box[1] < b.box[3] && b.box[1] < a.box[3])
        over.push(`${a.words} over ${b.words}`);
    }),
  );
  assert.deepEqual(over, []);
  await shot(page);
  return {};
}

const cases = {
  async 'loads-and-shows'() {
    const { page, faults } = await open();
    assert.equal(await page.evaluate(() => document.body.dataset.drawn), 'yes');
    assert.ok((await colours(page)) > 60, 'the structure is seen');
    assert.ok(
      (await page.locator('#about').textContent()).includes('three.js r'),
      'the version of the library is told',
    );
    assert.ok((await page.locator('#caution').textContent()).includes('planning aid'));
    await shot(page);
    return { faults };
  },

  async 'rows-match-the-json'() {
    const { page, faults } = await open();
    const ways = result().ways;
    for (let w = 0; w < ways.length; ++w) {
      let r = 0;
      for (const leg of ways[w].route.legs)
        for (const read of leg.rows) {
          const cells = await row(page, w, r).evaluate((tr) =>
            [...tr.children].map((td) => td.innerText || td.textContent),
          );
          const at = `way ${w} row ${r}`;
          assert.equal(cells[0].trim(), String(r), at);
          assert.ok(cells[1].includes(read.what) && cells[1].includes(read.rail), at + ': ' + cells[1]);
          assert.equal(cells[2], down(read.clearance.m) + (read.clearance.at_least ? '+' : ''), at);
          assert.deepEqual(
            cells.slice(-6),
            [
              up(read.distance_m),
              String(read.moves),
              clock(read.time_s),
              up(read.total_distance_m),
              String(read.total_moves),
              clock(read.total_time_s),
            ],
            at,
          );
          ++r;
        }
      assert.equal(await page.locator(`tr[data-way="${w}"]`).count(), r, 'no rows beside');
    }
    return { faults };
  },

  async 'picking-works-both-ways'() {
    const { page, faults } = await open();
    const legs = result().route.legs;
    // A row is clicked: the clock, the camera and the figure go there.
    const r = 5,
      read = legs[0].rows[r];
    await row(page, 0, r).click();
    await still(page);
    assert.deepEqual(await chosen(page), [[0, r]]);
    assert.equal(await page.locator('#now').textContent(), clock(read.total_time_s));
    const there = await inspect(page);
    close(
      there.target,
      read.hand.map((h, k) => (h + read.body[k]) / 2),
      0.01,
      'the view turns about the waypoint',
    );
    assert.ok((await page.locator('#tip').textContent()).includes(read.rail));
    await shot(page, 'row');
    // A waypoint is clicked in the view: its row is chosen.
    await page.locator('[data-view=zenith]').click();
    await still(page);
    const other = 8;
    const [x, y] = await onScreen(page, legs[0].rows[other].hand);
    await page.mouse.click(x, y);
    const [[way, now]] = await chosen(page);
    assert.equal(way, 0);
    assert.ok(
      Math.hypot(...legs[0].rows[now].hand.map((h, k) => h - legs[0].rows[other].hand[k])) < 0.7,
      `row ${now} lies where row ${other} was clicked`,
    );
    assert.ok(
      await row(page, 0, now).evaluate((tr) => {
        const a = tr.getBoundingClientRect(),
          b = document.getElementById('side').getBoundingClientRect();
        return a.top >= b.top - 1 && a.bottom <= b.bottom + 1;
      }),
      'the row is in sight',
    );
    // A part is clicked: its name is told.
    const [px, py] = await onScreen(page, [2.3, 1.0, -1.8]);
    await page.mouse.click(px, py);
    assert.ok(
      (await page.locator('#tip').textContent()).includes('stores drum'),
      await page.locator('#tip').textContent(),
    );
    // A zone is pointed at: its reason is told, and in the list as well.
    const [zx, zy] = await onScreen(page, [6.4, 2.75, -1.0]);
    await page.mouse.move(zx, zy);
    await page.waitForFunction(() => document.getElementById('tip').textContent.includes('warm radiator face'));
    await page.mouse.click(zx, zy);
    assert.ok((await page.locator('#zones li.chosen').textContent()).includes('radiator-heat'));
    return { faults };
  },

  async 'slider-moves-figure-and-load'() {
    const { page, faults } = await open();
    const poses = result().route.legs.flatMap((leg) => leg.poses);
    const slider = page.locator('#time');
    for (const k of [3, 17, poses.length - 1]) {
      const t = Math.round(poses[k].at_s * 2) / 2; // the slider goes by half seconds
      await slider.evaluate((input, value) => {
        input.value = value;
        input.dispatchEvent(new Event('input'));
      }, String(t));
      const { figures } = await inspect(page);
      const speed = 0.25 * 0.75 + 0.35; // at most so far off in half a second, turned load included
      close(figures[0].at, poses[k].body, speed, 'figure at grip ' + k);
      close(figures[0].boxes[0], poses[k].loads[0].middle, speed, 'load at grip ' + k);
      assert.equal(await page.locator('#now').textContent(), clock(t));
    }
    await slider.evaluate((input) => {
      input.value = '0';
      input.dispatchEvent(new Event('input'));
    });
    const before = (await inspect(page)).figures[0].at;
    await page.locator('#speed').selectOption('60');
    await page.locator('#play').click();
    await page.waitForFunction(() => Number(document.getElementById('time').value) > 60);
    await page.locator('#play').click();
    assert.equal(await page.locator('#play').textContent(), 'Play');
    const after = (await inspect(page)).figures[0].at;
    assert.ok(Math.hypot(...after.map((v, i) => v - before[i])) > 1, 'the figure has gone on');
    await shot(page);
    return { faults };
  },

  async 'views-and-keys-turn-the-camera'() {
    const { page, faults } = await open();
    const from = {
      zenith: [0, 0, -1],
      nadir: [0, 0, 1],
      port: [0, -1, 0],
      starboard: [0, 1, 0],
      forward: [1, 0, 0],
      aft: [-1, 0, 0],
    };
    const bearing = async () => {
      const { camera, target } = await inspect(page);
      const d = camera.map((v, i) => v - target[i]),
        n = Math.hypot(...d);
      return d.map((v) => v / n);
    };
    let key = 0;
    for (const [view, axis] of Object.entries(from)) {
      await page.locator(`[data-view=${view}]`).click();
      await still(page);
      close(await bearing(), axis, 0.01, view);
      if (view === 'zenith' || view === 'starboard') {
        // forward is on the right, so that side and plan agree
        const [a] = await onScreen(page, [0, 0, 0]),
          [b] = await onScreen(page, [5, 0, 0]);
        assert.ok(b > a + 20, 'forward is to the right from ' + view);
      }
      await shot(page, view);
    }
    await page.locator('#view').focus();
    for (const [view, axis] of Object.entries(from)) {
      await page.keyboard.press(String(++key));
      await still(page);
      close(await bearing(), axis, 0.01, 'key ' + key);
    }
    const start = await inspect(page);
    await page.keyboard.press('ArrowLeft');
    const turned = await inspect(page);
    assert.ok(Math.hypot(...turned.camera.map((v, i) => v - start.camera[i])) > 0.5, 'an arrow orbits');
    close(turned.target, start.target, 1e-6, 'and keeps the middle');
    await page.keyboard.press('Shift+ArrowRight');
    assert.ok(
      Math.hypot(...(await inspect(page)).target.map((v, i) => v - start.target[i])) > 0.05,
      'with Shift it pans',
    );
    const far = async () => {
      const { camera, target } = await inspect(page);
      return Math.hypot(...camera.map((v, i) => v - target[i]));
    };
    const before = await far();
    await page.keyboard.press('+');
    assert.ok((await far()) < before);
    await page.keyboard.press('f');
    await still(page);
    for (const corner of await page.evaluate(() => {
      const { min, max } = window.holdfast.data;
      return [min, max];
    })) {
      const [x, y] = await onScreen(page, corner),
        box = await page.locator('#view').boundingBox();
      assert.ok(x > box.x && x < box.x + box.width && y > box.y && y < box.y + box.height, 'all is seen after F');
    }
    // The mouse: drag orbits, the wheel zooms.
    const box = await page.locator('#view').boundingBox(),
      drag = await inspect(page),
      wide = await far();
    await page.mouse.move(box.x + 60, box.y + 300);
    await page.mouse.down();
    await page.mouse.move(box.x + 160, box.y + 330, { steps: 4 });
    await page.mouse.up();
    assert.ok(Math.hypot(...(await inspect(page)).camera.map((v, i) => v - drag.camera[i])) > 0.5, 'dragging orbits');
    await page.mouse.wheel(0, -300);
    await page.waitForFunction((d) => {
      const { camera, target } = window.holdfast.inspect();
      return Math.hypot(...camera.map((v, i) => v - target[i])) < d;
    }, wide);
    return { faults };
  },

  async 'keyboard-alone'() {
    const { page, faults } = await open();
    const button = row(page, 0, 2).locator('button');
    await button.focus();
    await page.keyboard.press('Enter');
    assert.deepEqual(await chosen(page), [[0, 2]]);
    await page.keyboard.press('ArrowDown');
    assert.deepEqual(await chosen(page), [[0, 3]]);
    await page.locator('#view').focus();
    await page.keyboard.press('n');
    assert.deepEqual(await chosen(page), [[0, 4]]);
    await page.keyboard.press('p');
    assert.deepEqual(await chosen(page), [[0, 3]]);
    await page.keyboard.press(' ');
    assert.equal(await page.locator('#play').getAttribute('aria-pressed'), 'true');
    await page.keyboard.press(' ');
    assert.equal(await page.locator('#play').getAttribute('aria-pressed'), 'false');
    // Everything that can be pressed is reached by Tab and has a name.
    const nameless = await page.evaluate(() =>
      [...document.querySelectorAll('button, input, select')]
        .filter((e) => e.tabIndex < 0 || !(e.textContent.trim() || e.getAttribute('aria-label') || e.closest('label')))
        .map((e) => e.outerHTML),
    );
    assert.deepEqual(nameless, []);
    return { faults };
  },

  async 'several-ways-differ-without-colour'() {
    const { page, faults } = await open();
    const ways = await page.evaluate(() =>
      window.holdfast.data.ways.map((way) => ({
        letter: way.letter,
        colour: way.colour,
        dash: way.dash.join(),
        points: way.poses.at_s.length,
      })),
    );
    assert.ok(ways.length >= 2);
    for (const key of ['letter', 'colour', 'dash'])
      assert.equal(new Set(ways.map((way) => way[key])).size, ways.length, key + ' tells ways apart');
    const { figures } = await inspect(page);
    assert.equal(figures.filter(Boolean).length, ways.length, 'one figure each');
    // A way that is switched off leaves the clock and the view to the others.
    const before = await page.evaluate(() => Number(document.getElementById('time').max));
    const longest = await page.evaluate(() => {
      const w = window.holdfast.data.ways;
      return w.reduce((best, way, i) => (way.time_s > w[best].time_s ? i : best), 0);
    });
    await page.locator('#ways input').nth(longest).click();
    assert.ok((await page.evaluate(() => Number(document.getElementById('time').max))) < before);
    await page.emulateMedia({ forcedColors: 'none' });
    await shot(page);
    await page.evaluate(() => {
      document.documentElement.style.filter = 'grayscale(1)';
    });
    await shot(page, 'grey');
    return { faults };
  },

  async 'comparison-charts-and-reasons'() {
    const { page, faults } = await open();
    const rows = result().rows;
    const bars = page.locator('#charts svg').first().locator('g[data-way]');
    assert.equal(await bars.count(), rows.length);
    for (let i = 0; i < rows.length; ++i) {
      const text = await bars.nth(i).textContent();
      assert.ok(text.includes(rows[i].route ? clock(rows[i].route.time_s) : 'no way'), text);
      const bar = bars.nth(i).locator('rect');
      assert.equal(await bar.count(), rows[i].route ? 1 : 0);
    }
    const widths = await bars.locator('rect').evaluateAll((list) => list.map((r) => Number(r.getAttribute('width'))));
    const times = rows.filter((r) => r.route).map((r) => r.route.time_s);
    widths.forEach((w, i) =>
      assert.ok(Math.abs(w / widths[0] - times[i] / times[0]) < 1e-6, 'bars are as long as the times'),
    );
    const refused = rows.findIndex((r) => r.causes);
    const card = page.locator('#ways .way').nth(refused);
    assert.ok((await card.textContent()).includes('No route'));
    assert.ok((await card.textContent()).includes(rows[refused].causes[0].text));
    const at = rows[refused].causes[0].at;
    await card.locator('.reasons button').first().click();
    await still(page);
    close((await inspect(page)).target, at, 0.01, 'the reason is flown to');
    const pressed = rows.findIndex((r, i) => i > 0 && r.route);
    await bars.nth(pressed).click();
    assert.ok(
      await page
        .locator('#ways .way')
        .nth(pressed)
        .evaluate((e) => e.classList.contains('chosen')),
    );
    await page.locator('#charts-box').scrollIntoViewIfNeeded();
    await shot(page);
    return { faults };
  },

  async 'trade-off-chart-and-home'() {
    const { page, faults } = await open();
    const ways = result().ways;
    const svg = page.locator('#charts svg').first();
    const marks = await svg
      .locator('g[data-way] circle')
      .evaluateAll((list) => list.map((c) => [Number(c.getAttribute('cx')), Number(c.getAttribute('cy'))]));
    assert.equal(marks.length, ways.length);
    for (let i = 0; i < ways.length; ++i)
      for (let k = 0; k < ways.length; ++k) {
        if (ways[i].moves > ways[k].moves) assert.ok(marks[i][1] < marks[k][1], 'more moves stand higher');
        if (ways[i].time_s > ways[k].time_s + 0.5)
          assert.ok(marks[i][0] > marks[k][0], 'longer ones stand to the right');
      }
    assert.ok((await svg.textContent()).includes('clear ' + down(ways[0].route.clearance.m)));
    const home = await page.locator('#homes tbody tr').count();
    assert.ok(home > 5, 'the table of the way home');
    await page.locator('#homes tbody tr.pick').first().click();
    await shot(page);
    return { faults };
  },

  async 'lines-show-ties-and-bends'() {
    const { page, faults } = await open();
    assert.ok((await colours(page)) > 20);
    const text = await page.locator('#labels').textContent();
    for (const word of ['tie 1', 'tie 2', 'bend 60 deg']) assert.ok(text.includes(word), text);
    assert.ok((await page.locator('#lines').textContent()).includes('cable trunk'));
    await shot(page);
    return { faults };
  },

  async 'hundred-thousand-grips'() {
    const { page, faults } = await open();
    assert.ok((await colours(page)) > 60);
    const when = await page.evaluate(() => performance.getEntriesByName('first picture')[0].startTime);
    console.log(`first picture after ${(when / 1000).toFixed(1)} s`);
    const start = await inspect(page);
    await page.locator('#view').focus();
    await page.keyboard.press('ArrowLeft');
    const turned = await inspect(page);
    assert.ok(Math.hypot(...turned.camera.map((v, i) => v - start.camera[i])) > 1);
    await shot(page);
    return { faults };
  },

  async 'markup-is-text'() {
    const { page, faults } = await open();
    assert.equal(await page.evaluate(() => window.pwned), undefined);
    assert.equal(
      await page
        .locator('img:not(#print-view), b, i, iframe, script')
        .evaluateAll((list) => list.filter((e) => e.tagName !== 'SCRIPT').length),
      0,
      'no elements of the model',
    );
    assert.equal(await page.locator('script').count(), 3);
    const text = await page.evaluate(() => document.body.innerText);
    for (const word of [
      '<b>Yard</b>',
      '</script><script>window.pwned=1</script>',
      '<img src=x onerror="window.pwned=2">',
    ])
      assert.ok(text.includes(word), word);
    await shot(page);
    return { faults };
  },

  async 'prints-on-white-paper'() {
    const { page, faults } = await open();
    await row(page, 0, 4).click();
    await page.emulateMedia({ media: 'print' });
    await page.waitForFunction(() => document.getElementById('print-view').naturalWidth > 100);
    const seen = (selector) =>
      page
        .locator(selector)
        .first()
        .evaluate((e) => getComputedStyle(e).display !== 'none');
    assert.ok((await seen('#print-view')) && (await seen('#tables table')) && (await seen('#caution')));
    assert.ok(!(await seen('#view')) && !(await seen('#views')) && !(await seen('#clock')));
    assert.equal(await page.evaluate(() => getComputedStyle(document.body).backgroundColor), 'rgb(255, 255, 255)');
    assert.ok(
      await page.evaluate(() => {
        const i = document.getElementById('print-view');
        return i.naturalHeight > 300 && i.naturalWidth > 300;
      }),
      'the picture is as large as the view was',
    );
    await page.setViewportSize({ width: 794, height: 1123 });
    await page.screenshot({ path: path.join(folder, name + '.png'), fullPage: true });
    const pdf = await page.pdf({ path: path.join(folder, name + '.pdf'), preferCSSPageSize: true });
    const sheets = pdf.toString('latin1').match(/\/MediaBox\s*\[[^\]]*\]/g).map((box) => box.match(/[\d.]+/g).map(Number));
    assert.ok(sheets.length >= 2 && sheets[0][2] > sheets[0][3], 'the structure has a lying page');
    assert.ok(sheets.slice(1).every((sheet) => sheet[2] < sheet[3]), 'the tables follow on upright ones');
    const [view, table] = await Promise.all(['#print-view', '#rows-box'].map((s) => page.locator(s).boundingBox()));
    assert.ok(view.height > 600 && table.y > view.y + view.height, 'the picture is as large as its page');
    await page.emulateMedia({ media: 'screen' });
    assert.ok((await colours(page)) > 60, 'the view is there again after printing');
    return { faults };
  },

  async 'late-drawing-drops-no-tap'() {
    const hand = result().route.legs[0].rows[6].hand;
    // A frame that never comes: the first picture stands all the same, and a tap on it counts.
    const { page, faults } = await open({ hasTouch: true }, software, holdFrames);
    const [x, y] = await onScreen(page, hand);
    assert.ok((await colours(page)) > 60, 'the first picture shows the structure');
    await page.touchscreen.tap(x, y);
    assert.deepEqual(await chosen(page), [[0, 6]], 'the first tap picks');
    // The camera has turned and nothing is drawn yet: a tap means what is seen, the picture from before.
    await page.locator('[data-view=zenith]').evaluate((button) => button.click());
    await page.evaluate(() => window.holdfast.project([0, 0, 0])); // draws what is due
    const [u, v] = await onScreen(page, result().route.legs[0].rows[9].hand);
    await page.locator('[data-view=nadir]').evaluate((button) => button.click());
    await page.touchscreen.tap(u, v);
    assert.deepEqual(await chosen(page), [[0, 9]], 'a tap picks from the picture that is seen');
    // Where a point is on the screen is told of the picture as it will be, and that is drawn before it is told.
    await page.locator('[data-view=starboard]').evaluate((button) => button.click());
    const now = await onScreen(page, hand);
    await page.evaluate(() => window.releaseFrames());
    close(await onScreen(page, hand), now, 0.01, 'the point stays where it was told to be');
    // A new size empties a canvas: it is drawn again before anyone sees it.
    await page.setViewportSize({ width: 1000, height: 700 });
    await page.evaluate(
      () => new Promise((done) => new ResizeObserver(() => done()).observe(document.getElementById('view'))),
    );
    assert.ok((await colours(page)) > 60, 'a view of a new size is not empty');
    await shot(page);
    return { faults };
  },

  async 'shows-routes-first-and-keys'() {
    const { page, faults } = await open();
    const box = await page.locator('#view').boundingBox();
    const spread = async () => {
      const xs = [];
      for (const leg of result().route.legs)
        for (const row of leg.rows) {
          const [x, y] = await onScreen(page, row.body);
          assert.ok(x > box.x && x < box.x + box.width && y > box.y && y < box.y + box.height, 'the route is in sight');
          xs.push(x);
        }
      return Math.max(...xs) - Math.min(...xs);
    };
    const first = await spread();
    await page.locator('#views button', { hasText: 'fit' }).click();
    const all = await spread();
    assert.ok(first > 1.1 * all, `the route fills more of the first view than of the whole: ${first}, ${all}`);
    await page.locator('#views button', { hasText: 'routes' }).click();
    assert.ok(Math.abs((await spread()) - first) < 1, 'and again when asked for');
    const keys = page.locator('#keys');
    assert.ok(!(await keys.isVisible()));
    await page.keyboard.press('?');
    for (const word of ['zoom', 'pan', 'orbit', 'from zenith', 'next, previous waypoint'])
      assert.ok((await keys.innerText()).includes(word), word);
    await shot(page);
    await keys.locator('button').click();
    assert.ok(!(await keys.isVisible()));
    await page.locator('#keys-button').click();
    assert.ok(await keys.isVisible());
    await page.locator('#view').focus();
    await page.keyboard.press('Escape');
    assert.ok(!(await keys.isVisible()));
    // The words of the axes never lie over each other.
    for (const view of ['zenith', 'port', 'forward']) {
      await page.locator(`[data-view=${view}]`).click();
      await page.evaluate(() => window.holdfast.inspect());
      const over = await page.evaluate(() => {
        const boxes = [...document.querySelectorAll('#compass text')].map((t) => t.getBoundingClientRect());
        return boxes.some((a, i) =>
          boxes.some((b, k) => k < i && a.left < b.right && b.left < a.right && a.top + 4 < b.bottom && b.top + 4 < a.bottom),
        );
      });
      assert.ok(!over, view);
    }
    return { faults };
  },

  async 'table-is-a-tap-away-on-a-phone'() {
    const { page, faults } = await open({ viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true });
    const top = (selector) => page.locator(selector).evaluate((e) => e.getBoundingClientRect().top);
    await shot(page);
    await page.locator('#jump [data-to=table]').tap();
    assert.ok(Math.abs(await top('#rows-box')) < 40, 'the table is at the top');
    await shot(page, 'table');
    await page.locator('#jump [data-to=stage]').tap();
    assert.ok((await top('#stage')) > -40, 'the view is in sight again');
    return { faults };
  },

  async 'fits-a-tablet'() {
    for (const [what, viewport] of [
      ['upright', { width: 820, height: 1180 }],
      ['lying', { width: 1180, height: 820 }],
      ['narrow', { width: 600, height: 960 }],
    ]) {
      const { page, faults } = await open({
        viewport,
        hasTouch: true,
        isMobile: true,
        deviceScaleFactor: what === 'upright' ? 2 : 1,
      });
      const wide = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
      assert.ok(wide[0] <= wide[1] + 1, `${what}: nothing is wider than the screen, ${wide}`);
      const small = await page.evaluate(
        () => [...document.querySelectorAll('.bar button')].filter((b) => b.getBoundingClientRect().height < 40).length,
      );
      assert.equal(small, 0, what + ': buttons are large enough for fingers');
      const [view, side] = await Promise.all(['#view', '#side'].map((s) => page.locator(s).boundingBox()));
      assert.equal(
        side.y > view.y + view.height - 1,
        viewport.width < 992,
        what + ': the tables stand below a narrow view, beside a wide one',
      );
      assert.ok(view.height > 300, what);
      await row(page, 0, 3).locator('button').tap();
      await still(page);
      assert.deepEqual(await chosen(page), [[0, 3]]);
      await page.evaluate(() => scrollTo(0, 0));
      await page.locator('[data-view=zenith]').tap();
      await still(page);
      await page.waitForFunction(() => scrollY === 0);
      const hand = await page.evaluate(() => window.holdfast.data.ways[0].rows[6].hand);
      const [x, y] = await onScreen(page, hand);
      await page.touchscreen.tap(x, y);
      assert.notDeepEqual(await chosen(page), [[0, 3]], what + ': a tap picks');
      await shot(page, what);
      assert.deepEqual(faults, [], what);
    }
    return {};
  },

  async 'sheet-texts-stand-apart'() {
    return textsStandApart(150);
  },

  async 'timeline-texts-stand-apart'() {
    return textsStandApart(30);
  },

  async 'excursion-moves-by-its-bars'() {
    const { page, faults } = await open();
    const plan = result();
    const crew = plan.crew.map((member) => plan.rows.filter((r) => r.crew === member.id));
    const bar = (c, k) => page.locator(`#timeline rect[data-crew="${c}"][data-step="${k}"]`);
    for (const [c, rows] of crew.entries())
      assert.equal(await page.locator(`#timeline rect[data-crew="${c}"]`).count(), rows.length, 'a bar for each row');
    /// Where the plan has a crew member: the grips between which they are, and the moment at these.
    const between = (rows, t) => {
      let last = null;
      for (const r of rows.filter((row) => row.path && row.path.length))
        for (const stop of r.path) {
          if (stop.arrives_s > t + 1e-6) return last ? [last, stop] : [stop, stop];
          last = stop;
        }
      return [last, last];
    };
    const distance = (a, b) => Math.hypot(...a.map((v, i) => v - b[i]));
    const expectThere = async (t) => {
      const { figures } = await inspect(page);
      crew.forEach((rows, c) => {
        const [a, b] = between(rows, t),
          there = figures[c].at,
          tolerance = 0.02 + (t > a.leaves_s ? 0.35 : 0); // round a corner between two grips
        assert.ok(
          distance(there, a.body) + distance(there, b.body) <= distance(a.body, b.body) + 2 * tolerance,
          `${plan.crew[c].id} at ${t}: ${there} is not between ${a.body} and ${b.body}`,
        );
      });
    };
    // Of each crew member a bar of each kind that is wide enough, and the last leg.
    let clicked = 0;
    for (const [c, rows] of crew.entries()) {
      const kinds = new Set();
      const legs = rows.filter((r) => r.act === 'go');
      for (const [k, r] of rows.entries()) {
        if (kinds.has(r.kind) && r !== legs[legs.length - 1]) continue;
        const box = await bar(c, k).boundingBox();
        if (box.width < 4) continue;
        kinds.add(r.kind);
        await page.mouse.click(box.x + box.width / 2, box.y + box.height / 2);
        assert.equal(await page.locator('#now').textContent(), clock(r.from_s), r.what);
        await expectThere(r.from_s);
        const now = await page.locator('table.now tbody tr').nth(c).textContent();
        assert.ok(now.includes(r.what) && now.includes(clock(r.to_s)), now);
        ++clicked;
      }
    }
    assert.ok(clicked > 5, 'bars were clicked');
    await still(page);
    await shot(page);
    // Scrubbed to moments within legs: both on one clock, what is carried with who carries it.
    const at = async (t) =>
      page.locator('#time').evaluate((input, value) => {
        input.value = value;
        input.dispatchEvent(new Event('input'));
      }, String(t));
    const names = plan.items.map((item) => item.id);
    let carried = 0;
    for (const rows of crew)
      for (const r of rows.filter((each) => each.act === 'go' && each.path.length > 4).slice(0, 2)) {
        const stop = r.path[3],
          t = Math.round(stop.arrives_s * 2) / 2;
        await at(t);
        await expectThere(t);
        const { items } = await inspect(page);
        for (const load of stop.loads) {
          close(items[names.indexOf(load.load)], load.middle, 0.4, load.load + ' in ' + r.what);
          ++carried;
        }
      }
    assert.ok(carried > 0, 'items are carried');
    // Switches as they are thrown.
    for (const thrown of plan.rows.filter((r) => r.act === 'throw')) {
      await at(thrown.from_s - 1);
      assert.equal((await inspect(page)).settings.length, 1);
      const before = (await inspect(page)).settings[0];
      await at((thrown.from_s + thrown.to_s) / 2);
      assert.equal((await inspect(page)).settings.length, 2, 'both positions while it is thrown');
      await shot(page, 'thrown');
      await at(thrown.to_s + 1);
      const after = (await inspect(page)).settings;
      assert.ok(after.length === 1 && after[0] !== before);
      const words = await page.locator('#excursion').textContent();
      for (const [id, position] of Object.entries(thrown.throws)) assert.ok(words.includes(id + '=' + position), words);
    }
    // Played, the clock goes on.
    await at(0);
    await page.locator('#speed').selectOption('60');
    await page.locator('#play').click();
    await page.waitForFunction(() => Number(document.getElementById('time').value) > 30);
    await page.locator('#play').click();
    return { faults };
  },

  async 'cue-cards-print-whole-steps'() {
    const millimetre = 96 / 25.4;
    const context = await contextOf({ viewport: { width: Math.floor(188 * millimetre), height: 1000 } }, software);
    const page = await context.newPage();
    await page.goto(pathToFileURL(path.resolve(file)).href);
    await page.emulateMedia({ media: 'print' });
    const cards = await page.locator('section.card').count();
    assert.equal(cards, result().crew.length);
    const seen = await page.evaluate(() => ({
      torn: [...document.querySelectorAll('tbody')].filter((body) => {
        const style = getComputedStyle(body);
        return !body.closest('.items') && style.breakInside !== 'avoid';
      }).length,
      tallest: Math.max(...[...document.querySelectorAll('.steps tbody')].map((body) => body.getBoundingClientRect().height)),
      wide: document.documentElement.scrollWidth - innerWidth,
      height: Math.max(...[...document.querySelectorAll('section')].map((card) => card.getBoundingClientRect().height)),
      over: [...document.querySelectorAll('td, th, p')].filter((cell) => cell.scrollWidth > cell.clientWidth + 1).length,
    }));
    const high = (297 - 12 - 14) * millimetre;
    assert.equal(seen.torn, 0, 'steps stay whole');
    assert.ok(seen.tallest < high, 'each has room on a page');
    assert.ok(seen.wide <= 0 && seen.over === 0, 'nothing is wider than the page or its cell');
    const pdf = await page.pdf({ preferCSSPageSize: true, path: path.join(folder, name + '.pdf') });
    const pages = (pdf.toString('latin1').match(/\/Type \/Page\b/g) || []).length;
    assert.ok(pages >= cards && pages <= cards * (2 + Math.ceil((1.5 * seen.height) / high)), `${pages} pages`);
    await shot(page);
    return {};
  },

  async 'says-so-without-webgl'() {
    const { page, faults } = await open({}, ['--disable-3d-apis']);
    assert.equal(await page.evaluate(() => document.body.dataset.drawn), 'no');
    assert.ok((await page.locator('#graphics').textContent()).includes('no WebGL'));
    assert.ok((await page.locator('tr[data-row]').count()) > 5, 'the tables are there');
    await row(page, 0, 2).click();
    assert.deepEqual(await chosen(page), [[0, 2]]);
    await shot(page);
    return { faults: faults.filter((fault) => !/WebGL/i.test(fault)) };
  },
};

async function run(question) {
  ({ name, file, result: resultFile } = question);
  let code = 0;
  try {
    const { faults } = await cases[name]();
    assert.deepEqual(faults || [], [], 'the page complains of nothing');
  } catch (error) {
    console.log(error.stack || String(error));
    code = 1;
  }
  for (const each of opened.splice(0).reverse()) await each.close();
  console.log('done ' + code);
}

(async () => {
  shared = await launch(software);
  for await (const line of readline.createInterface({ input: process.stdin })) await run(JSON.parse(line));
  await shared.close();
})();
