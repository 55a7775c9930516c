/* SPDX-License-Identifier: MIT */
/* Drawings that need no interaction: train, lanes, dots, ladders. Each has a
   title and description for those who do not see it; the numbers are in a
   table near by. */

function picture(width, height, title, ...children) {
  return sv('svg', {viewBox: '0 0 ' + width + ' ' + height, role: 'img',
    'aria-label': title, style: null, class: 'pic',
    width: width, height: height}, sv('title', {}, title), children);
}
function say(x, y, text, extra) {
  return sv('text', Object.assign({x: x, y: y}, extra || {}), text);
}

/* Round numbers for an axis. */
function ticks(low, high, wanted) {
  const span = high - low || 1;
  const raw = span / wanted;
  const base = Math.pow(10, Math.floor(Math.log10(raw)));
  const step = [1, 2, 5, 10].map((m) => m * base).find((s) => s >= raw * 0.999);
  const all = [];
  for (let t = Math.ceil(low / step - 1e-9) * step; t <= high + step * 1e-9;
    t += step) {
    all.push(Math.abs(t) < step * 1e-9 ? 0 : t);
  }
  return {all: all, decimals: Math.max(0, -Math.floor(Math.log10(step) + 1e-9))};
}

/* On a telephone a unit's name stands above its row, not beside it. */
let narrow = document.documentElement.clientWidth < 560;

function mark(kind, x, y, size, attributes) {
  const s = size;
  const shapes = [
    'M' + (x - s) + ',' + y + 'a' + s + ',' + s + ' 0 1,0 ' + 2 * s +
      ',0a' + s + ',' + s + ' 0 1,0 ' + -2 * s + ',0z',
    'M' + (x - s) + ',' + (y + s) + 'h' + 2 * s + 'L' + x + ',' + (y - s) + 'z',
    'M' + (x - s) + ',' + (y - s) + 'h' + 2 * s + 'v' + 2 * s + 'h' + -2 * s +
      'z',
    'M' + x + ',' + (y - 1.3 * s) + 'l' + 1.3 * s + ',' + 1.3 * s + 'l' +
      -1.3 * s + ',' + 1.3 * s + 'l' + -1.3 * s + ',' + -1.3 * s + 'z',
    'M' + (x - s) + ',' + (y - s) + 'h' + 2 * s + 'L' + x + ',' + (y + s) + 'z',
    'M' + (x - s) + ',' + (y - s) + 'l' + 2 * s + ',' + 2 * s + 'M' + (x - s) +
      ',' + (y + s) + 'l' + 2 * s + ',' + -2 * s];
  return sv('path', Object.assign({d: shapes[kind % 6]}, attributes));
}

/* The combination, front at the left: a box per unit, what is wired to it
   below, the couplings between with their bus. */
function trainDrawing(combination) {
  const list_ = units.filter((u) => (u.unit.includes('.') ?
    u.unit.split('.')[0] : 'A') === combination);
  const box = 150;
  const gap = 56;
  const width = Math.max(340, list_.length * (box + gap) - gap + 24);
  const parts = [];
  list_.forEach((u, i) => {
    const x = 12 + i * (box + gap);
    const look = lookOf(u.unit);
    parts.push(sv('rect', {x: x, y: 26, width: box, height: 46, rx: 2,
      class: 'body'}));
    if (i === 0) {
      parts.push(sv('path', {d: 'M' + x + ',72v-46h34v46', class: 'cab'}));
    }
    (i === 0 ? [24, 104, 126] : [26, 48, 104, 126]).forEach((dx) =>
      parts.push(sv('circle', {cx: x + dx, cy: 78, r: 8, class: 'wheel'})));
    parts.push(say(x, 16, shortName(u.unit, 24), {class: 'strong'}));
    parts.push(mark(look.mark, x + box - 14, 48, 5,
      {class: 'unit-mark', style: null, stroke: look.hue, fill: 'none'}));
    if (i > 0) {
      parts.push(sv('path', {d: 'M' + (x - gap) + ',66H' + x, class: 'bar'}));
      parts.push(say(x - gap / 2, 60, u.bus ? cut(u.bus, 8) : '',
        {'text-anchor': 'middle', class: 'small'}));
      if (known(u.line_m)) {
        parts.push(say(x - gap / 2, 82, shortNumber(u.line_m) + ' m',
          {'text-anchor': 'middle', class: 'small'}));
      }
    }
    const lines = [];
    if (u.command) {
      lines.push('command ' + u.command);
    }
    if (u.control) {
      lines.push('control ' + u.control);
    }
    list(u.outputs).forEach((o) => lines.push(
      'output ' + (o.label ? o.label + ' ' : '') + o.from));
    if (!lines.length) {
      lines.push('nothing wired');
    }
    const load = [known(u.mass_kg) ? tonnes(u.mass_kg) : null,
      u.load === 'mass' ? 'load ' + tonnes(u.load_kg) : u.load].filter(Boolean);
    if (load.length) {
      parts.push(say(x + 42, 48, load.join(', '), {class: 'small'}));
    }
    lines.slice(0, 5).forEach((line, k) => parts.push(
      say(x, 104 + 15 * k, cut(line, list_.length > 1 ? 26 : 48), {class: 'small'})));
    if (lines.length > 5) {
      parts.push(say(x, 104 + 75, 'and ' + (lines.length - 5) + ' more',
        {class: 'small'}));
    }
  });
  const rows = Math.max(...list_.map((u) =>
    Math.min(6, list(u.outputs).length + (u.command ? 1 : 0) +
      (u.control ? 1 : 0))), 1);
  return el('div', {class: 'wide train' + (list_.length > 6 ? ' longer' :
    list_.length > 4 ? ' long' : ''), tabindex: '0', role: 'region',
  'aria-label': 'the train, front at the left'},
  picture(width, 104 + 15 * rows, 'The combination, front at the left: ' +
    list_.map((u) => unitName(u.unit)).join(', '), parts));
}

/*
 * Lanes: a row per unit, in it a bar per run from the first figure to the
 * second, thin lines over the applications' extremes. All on one scale.
 * rows: [{unit, bars: [{name, style, first, second}]}], first and second are
 * summary entries (median_s, low_s, high_s) or undefined.
 */
function lanes(title, rows, names, limits) {
  const left = narrow ? 46 : 158;
  const right = 16;
  const many = Math.max(...rows.map((r) => r.bars.length));
  const bar = many > 5 ? 11 : many > 3 ? 12 : 15;
  let high = 0.05;
  let low = 0;
  rows.forEach((r) => r.bars.forEach((b) => [b.first, b.second].forEach((f) => {
    if (f) {
      high = Math.max(high, f.high_s);
      low = Math.min(low, f.low_s);
    }
  })));
  limits.forEach((l) => {
    high = Math.max(high, l.max_s);
  });
  const width = narrow ? 336 : 596;
  const above = narrow ? 15 : 0;
  const scale = (width - left - right) / ((high - low) * 1.04);
  const at = (s) => left + (s - low) * scale;
  const parts = [];
  const axis = ticks(low, high, narrow ? 4 : 7);
  let y = limits.length ? 20 : 6;
  const top = y;
  const body = [];
  rows.forEach((r, n) => {
    const height = Math.max(1, r.bars.length) * bar + 8 + above;
    if (n % 2) {
      body.push(sv('rect', {x: 0, y: y, width: width, height: height,
        class: 'stripe'}));
    }
    body.push(say(4, y + 15, shortName(r.unit, 20), {class: 'strong'}));
    if (!r.bars.length) {
      body.push(say(left + 4, y + 15 + above, 'no figure', {class: 'small'}));
    }
    r.bars.forEach((b, i) => {
      const mid = y + 4 + above + bar * i + bar / 2;
      body.push(say(left - 6, mid + 4, cut(b.name, 9),
        {class: 'small', 'text-anchor': 'end'}));
      if (!b.first && !b.second) {
        body.push(say(at(0) + 4, mid + 4, b.none || 'no figure',
          {class: 'small'}));
        return;
      }
      const from = (b.first || b.second).median_s;
      const to = (b.second || b.first).median_s;
      body.push(sv('rect', {x: Math.min(at(from), at(to)), y: mid - bar / 3,
        width: Math.max(1.5, Math.abs(at(to) - at(from))), height: bar * 2 / 3,
        class: 'lane lane' + b.style},
      sv('title', {}, unitName(r.unit) + ', ' + b.name + ': ' +
        (b.first ? names[0] + ' ' + fixed(b.first.median_s, 3) + ' s' : '') +
        (b.second ? ', ' + names[1] + ' ' + fixed(b.second.median_s, 3) + ' s' :
          ''))));
      [b.first, b.second].forEach((f) => {
        if (f && f.n > 1) {
          body.push(sv('path', {class: 'whisker', d: 'M' + at(f.low_s) + ',' +
            mid + 'H' + at(f.high_s) + 'M' + at(f.low_s) + ',' + (mid - 3) +
            'v6M' + at(f.high_s) + ',' + (mid - 3) + 'v6'}));
        }
      });
    });
    y += height;
  });
  axis.all.forEach((t) => {
    parts.push(sv('path', {class: 'grid', d: 'M' + at(t) + ',' + top + 'V' + y}));
    parts.push(say(at(t), y + 14, fixed(t, axis.decimals),
      {'text-anchor': 'middle', class: 'small x-tick'}));
  });
  limits.forEach((l) => {
    body.push(sv('path', {class: 'limit', d: 'M' + at(l.max_s) + ',' +
      (top - 4) + 'V' + y}));
    body.push(say(at(l.max_s) - 3, top - 6, cut(l.name, 30),
      {'text-anchor': 'end', class: 'small'}));
  });
  parts.push(say(width - right, y + 28, 's',
    {'text-anchor': 'end', class: 'small'}));
  return el('div', {class: 'wide'},
    picture(width, y + 32, title, parts, body));
}
