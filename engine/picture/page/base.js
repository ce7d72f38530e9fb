// SPDX-License-Identifier: GPL-3.0-or-later
// Data of the drawing and small helpers. The files of the page are one script with one scope: base, charts, shapes, view, page.

const data = JSON.parse(document.getElementById('data').textContent);
const byId = (id) => document.getElementById(id);
const ways = data.ways;
const trip = data.excursion; // null: none

function make(tag, properties, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties || {})) {
    if (name === 'text') element.textContent = value;
    else if (name === 'class') element.className = value;
    else if (name.startsWith('on')) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value);
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}
function drawn(tag, attributes, ...children) {
  const element = document.createElementNS('http://www.w3.org/2000/svg', tag);
  for (const [name, value] of Object.entries(attributes || {}))
    if (name === 'text') element.textContent = value;
    else element.setAttribute(name, value);
  element.append(...children);
  return element;
}
function numbers(text, Type) {
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  return new Type(bytes.buffer);
}
/// h:mm:ss, rounded up as everywhere.
function clock(seconds) {
  const whole = Math.ceil(seconds - 1e-6);
  const two = (n) => String(n).padStart(2, '0');
  return Math.floor(whole / 3600) + ':' + two(Math.floor(whole / 60) % 60) + ':' + two(whole % 60);
}
const count = (n, word) => n + ' ' + word + (n === 1 ? '' : 's');
const dashes = (way, width) => (way.dash[1] === 0 ? 'none' : way.dash.map((d) => d * width).join(' '));
function sample(way) {
  const line = (colour, width, dash) =>
    drawn('line', { x1: 2, y1: 8, x2: 78, y2: 8, stroke: colour, 'stroke-width': width, 'stroke-dasharray': dash });
  return drawn(
    'svg',
    { viewBox: '0 0 80 16', 'aria-hidden': 'true' },
    line('#fff', 8, 'none'),
    line(way.colour, 5, dashes(way, 5)),
  );
}
const wayName = (index) => ways[index].letter + ' ' + ways[index].name;
const still = matchMedia('(prefers-reduced-motion: reduce)');
