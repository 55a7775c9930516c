/* SPDX-License-Identifier: MIT */
/* The first screen: the verdict, the train with the unit in question filled,
   when every unit applied and released, and how its pressure rose and fell.
   Everything drawn here is in `answer` and `picture` of the result. */

const pictures = list(result.picture);
const verdicts = list(result.answer).filter((s) => s.first && s.topic !== 'unread');
const oddUnits = new Set(verdicts.slice(0, 1).map((s) => s.unit)
  .filter((u) => u !== null && unitIndex.has(u)));
const foundUnits = new Set(list(result.findings).filter((f) =>
  f.severity !== 'note' && unitIndex.has(f.unit)).map((f) => f.unit));

/* As wide as the page is, or the sheet. */
const sheetWidth = 690;
let sheet = false;
function roomWidth() {
  const all = document.documentElement.clientWidth;
  return sheet ? sheetWidth : Math.min(1508, all - (all < 560 ? 20 : 32));
}

/* ---- verdict ---- */

/* Values of the first sentence, with what they are. */
function keyNumber(e) {
  return el('div', {class: 'number'}, el('b', {}, e.unit === 's' && known(e.value) ?
    withU(e.value, e.u, 2) + ' s' : evidenceValue(e)),
  ' ', el('span', {}, nameOf(label(e.label || ''), 130), e.run && runs.length > 1 ?
    [', run ', nameOf(e.run, 20)] : null));
}
/* A number and its unit stay on one line. */
function tied(text) {
  return text.replace(/(\d) (?=(?:%|s|kPa|bar|psi|m|V|Hz|km\/h)(?![\p{L}\d]))/gu,
    '$1\u00a0');
}
/* What was found stands out; where to look and what else is known follow. */
function sayFound(text) {
  const whole = tied(cut(inUnits(text), 900));
  const end = whole.search(/[.] (?=\p{Lu})/u);
  return el('p', {class: 'said'}, end < 0 ? whole : [whole.slice(0, end + 1),
    el('span', {class: 'then'}, whole.slice(end + 1))]);
}
function verdict() {
  const odd = oddUnits.size > 0;
  const said = verdicts.length ? verdicts.map((s, i) => i ? el('p', {class:
    'said more'}, tied(cut(inUnits(String(s.text)), 900))) : sayFound(String(s.text))) :
    el('p', {class: 'said'}, 'No answer could be given.');
  const numbers = odd ? list(verdicts[0].evidence).filter((e, i, all) =>
    all.findIndex((o) => o.label === e.label) === i).slice(0, 2) : [];
  return el('div', {class: 'verdict' + (odd ? ' odd' : '')}, el('h2', {id:
    'first-title', class: 'sr'}, 'What was found'), el('div', {class: 'words'},
    said), numbers.length ? el('div', {class: 'numbers'}, numbers.map(keyNumber)) :
    null);
}

/* ---- the train from the side ---- */

function sideBox(u, x, w, front, look) {
  const top = look.top;
  const h = look.high;
  const fill = oddUnits.has(u.unit) ? 'body marked' : 'body';
  const parts = [sv('rect', {x: x, y: top, width: w, height: h, rx: 2,
    class: fill, 'data-unit': u.unit})];
  if (front) {
    parts.push(sv('path', {class: 'cab', d: 'M' + (x + w * 0.3) + ',' + top +
      'v' + h}));
  }
  const r = Math.max(3, Math.min(7, w / 11));
  (front ? [0.16, 0.68, 0.86] : [0.16, 0.68, 0.86]).forEach((f) => parts.push(
    sv('circle', {cx: x + w * f, cy: top + h + r - 2, r: r, class: 'wheel'})));
  parts.push(say(x + w * (front ? 0.65 : 0.5), top + h / 2 + 6, numberOf(u),
    {class: 'unit-number' + (oddUnits.has(u.unit) ? ' on-mark' : ''),
      'text-anchor': 'middle'}));
  if (foundUnits.has(u.unit) && !oddUnits.has(u.unit)) {
    parts.push(say(x + w - 4, top + 12, severityMark.warning, {class: 'small',
      'text-anchor': 'end'}, sv('title', {}, 'another finding')));
  }
  return parts;
}
/* A name above its unit: whole, on two lines, or cut short. */
function nameLines(u, most) {
  const name = plain(calledOf(u));
  const breaks = [...name].map((c, i) => c === ' ' ? i : -1).filter((i) => i > 0 &&
    i <= most && name.length - i - 1 <= most);
  if (name.length <= most || !breaks.length) {
    return [shortOf(u, most)];
  }
  const at = breaks[breaks.length - 1];
  return [name.slice(0, at), name.slice(at + 1)];
}
/* Front at the left; names where there is room, that of the marked one always. */
function sideTrain(combination) {
  const mine = unitsOf(combination);
  const width = roomWidth();
  const gap = Math.max(5, Math.min(24, width / mine.length / 7));
  const w = Math.min(170, (width - 4 - gap * (mine.length - 1)) / mine.length);
  const parts = [];
  const roomy = w > 74;
  /* Letters that fit above a unit, at their usual width; strong ones are wider. */
  const names = mine.map((u) => !oddUnits.has(u.unit) ? (roomy ? nameLines(u,
    Math.max(6, Math.floor((w + gap - 4) / 6.6))) : []) : roomy ? nameLines(u,
    Math.max(6, Math.floor((w + gap - 4) / 7.6))) : [shortOf(u, 30)]);
  const look = {high: w < 70 ? 28 : 36, top: names.some((n) => n.length > 1) ?
    33 : 20};
  mine.forEach((u, i) => {
    const x = 2 + i * (w + gap);
    if (i) {
      parts.push(sv('path', {class: 'bar', d: 'M' + (x - gap) + ',' +
        (look.top + look.high - 5) + 'H' + x}));
    }
    parts.push(sideBox(u, x, w, i === 0, look));
    const odd = oddUnits.has(u.unit);
    if (names[i].length) {
      const mid = x + w / 2;
      const end = !roomy && mid > width * 0.66 ? 'end' : !roomy && mid < width *
        0.33 ? 'start' : 'middle';
      names[i].forEach((line, k) => parts.push(say(end === 'end' ? x + w : end ===
        'start' ? x : mid, look.top - 7 - 13 * (names[i].length - 1 - k), line,
      {class: odd ? 'strong mark-name' : 'small', 'text-anchor': end})));
    }
  });
  const used = 4 + mine.length * w + gap * (mine.length - 1);
  return picture(Math.max(used, 200), look.top + look.high + 16,
    'The combination from the side, front at the left: ' + mine.map((u) =>
      calledOf(u) + (oddUnits.has(u.unit) ? ' (marked: the one in question)' :
        '')).join(', '), parts);
}

/* ---- bars ---- */

/* From the first figure to the second, front to rear; behind them how far the
   others reach. */
function barPanel(group, name, high, width) {
  const side = group[name];
  const odd = side.units.some((u) => u.odd && known(u.second.median_s));
  const step = sheet ? Math.max(11.5, Math.min(15, 90 / side.units.length)) : 19;
  const left = width < 250 ? 26 : width < 340 ? 94 : 118;
  const right = width < 340 ? 58 : 70;
  const top = odd ? 16 : 5;
  const bottom = top + step * side.units.length;
  const x = (s) => left + Math.max(0, s) * (width - left - right) / high;
  const parts = [];
  const o = side.others;
  if (odd && o.units > 1 && known(o.low_s)) {
    parts.push(sv('rect', {class: 'others', x: x(o.low_s), y: top - 3,
      width: Math.max(2, x(o.high_s) - x(o.low_s)), height: bottom - top + 5},
    sv('title', {}, 'the others: ' + fixed(o.low_s, 2) + ' to ' +
      fixed(o.high_s, 2) + ' s')), say(Math.min(x(o.low_s), width - 118), 10,
      'others ' + fixed(o.low_s, 2) + ' to ' + fixed(o.high_s, 2),
      {class: 'small'}));
  }
  ticks(0, high, 4).all.forEach((t) => parts.push(sv('path',
    {class: 'grid', d: 'M' + x(t) + ',' + (top - 2) + 'V' + (bottom + 2)}),
  say(x(t), bottom + 15, fixed(t, ticks(0, high, 4).decimals), {class:
    'small x-tick', 'text-anchor': 'middle'})));
  parts.push(say(width - 2, bottom + 15, 's', {class: 'small', 'text-anchor':
    'end'}));
  side.units.forEach((u, i) => {
    const y = top + step * i;
    const unit = units[unitIndex.get(u.unit)];
    parts.push(say(left - 6, y + step * 0.68, left < 60 ? numberOf(unit) :
      shortOf(unit, left < 100 ? 14 : 17), {'text-anchor': 'end', class: u.odd ?
      'strong' : 'small'}));
    const from = known(u.first.median_s) ? u.first : u.second;
    const to = known(u.second.median_s) ? u.second : u.first;
    if (!known(to.median_s)) {
      parts.push(say(x(0) + 4, y + step * 0.68, side.second === 'demand_arrival' ?
        'no demand' : list(unit.outputs).length ? 'none seen' : 'not measured',
      {class: 'small halo no-bar', 'data-unit': u.unit}));
      return;
    }
    const off = u.odd && !(o.units > 1 && to.median_s <= o.high_s);
    parts.push(sv('rect', {class: 'span ' + (off ? 'marked' : 'rest'), x: x(from.median_s), y: y + 3, height: step - 7, width:
      Math.max(2.5, x(to.median_s) - x(from.median_s))}));
    parts.push(say(x(to.median_s) + 4, y + step * 0.68, fixed(to.median_s, u.odd ? 3 : 2) +
      (u.odd ? ' s' : ''), {class: (u.odd ? 'strong' : 'small') + ' halo'}));
  });
  return picture(width, bottom + 18, title(group, name) + ', ' +
    group.condition, parts);
}
function title(group, name) {
  const side = group[name];
  return side.first === side.second ? 'Demand arrives' : name === 'apply' ?
    'Apply: first air to ' + figureName(side.second).replace(' of settled', '') :
    'Release: start to end';
}

/* ---- courses ---- */

/* Where the applications of a group lie: their windows of traces. */
function windowsOf(group) {
  return runs.filter((r) => r.condition === group.condition).flatMap((r) => {
    const traces = traceRuns.find((t) => t && t.run === r.name);
    return list(r.applications).filter((a) => !a.excluded && a.kind ===
      group.kind && a.shape === group.shape && a.combination ===
      group.combination).map((a) => [a, traces && traces.applications.find((w) =>
      w.number === a.number && w.combination === a.combination)]);
  }).filter((p) => p[1]);
}
function thinPaths(group, name, x, y, to) {
  const side = group[name];
  const paths = new Map();
  windowsOf(group).forEach(([a, window_]) => {
    const zero = name === 'apply' ? a.command.apply_s : a.command.release_s;
    window_.traces.filter((t) => t.what === 'output' && t.measured_in === 'kPa')
      .forEach((t) => {
        const line = unpack(window_, t, known(zero) ? zero : NaN);
        let d = '';
        line.x.forEach((s, i) => {
          if (s >= side.from_s && s <= to && Number.isFinite(line.y[i])) {
            d += (d ? 'L' : 'M') + x(s).toFixed(1) + ',' +
              y(line.y[i]).toFixed(1);
          }
        });
        paths.set(t.unit, (paths.get(t.unit) || '') + d);
      });
  });
  return [...paths].map(([unit, d]) => sv('path', {d: d, class: 'thin' +
    (side.units.some((u) => u.odd && u.unit === unit) ? ' marked' : '')}));
}
function courseLine(side, u, x, y) {
  let d = '';
  let pen = 'M';
  list(u.kpa).forEach((v, i) => {
    if (!known(v)) {
      pen = 'M';
      return;
    }
    d += pen + x(side.from_s + i * side.step_s).toFixed(1) + ',' +
      y(inPressure(v)).toFixed(1);
    pen = 'L';
  });
  return d;
}
/* Labels at the ends of lines, in the order of the lines and apart by at least
   their own height: those that would touch share the middle of their places. */
function apart(places, least, low, high) {
  const groups = [];
  places.sort((p, q) => p.from - q.from);
  places.forEach((p, i) => {
    let last = {first: i, sum: p.from - i * least, n: 1};
    while (groups.length && groups[groups.length - 1].sum /
      groups[groups.length - 1].n >= last.sum / last.n) {
      const before = groups.pop();
      last = {first: before.first, sum: before.sum + last.sum, n: before.n + last.n};
    }
    groups.push(last);
  });
  groups.forEach((g) => {
    for (let i = g.first; i < g.first + g.n; i++) {
      places[i].at = g.sum / g.n + i * least;
    }
  });
  places.forEach((p, i) => {
    p.at = Math.max(p.at, i ? places[i - 1].at + least : low);
  });
  for (let i = places.length - 1; i >= 0; i--) {
    places[i].at = Math.min(places[i].at, i + 1 < places.length ?
      places[i + 1].at - least : high);
  }
}
function coursePanel(group, name, top_, width) {
  const side = group[name];
  const drawn = side.units.filter((u) => list(u.kpa).length);
  if (!drawn.length) {
    return null;
  }
  const height = sheet ? 96 : 190;
  const left = 40;
  const right = width < 280 ? 84 : 104;
  const to = side.from_s + side.step_s * (list(drawn[0].kpa).length - 1);
  const x = (s) => left + (s - side.from_s) * (width - left - right) /
    (to - side.from_s);
  const y = (v) => height - 22 - v * (height - 32) / top_;
  const parts = [];
  const across = ticks(side.from_s, to, 4);
  const up = ticks(0, top_, 4);
  across.all.forEach((t) => parts.push(sv('path', {class: t === 0 ? 'zero' : 'grid',
    d: 'M' + x(t) + ',8V' + (height - 22)}), say(x(t), height - 8, fixed(t,
    across.decimals), {class: 'small x-tick', 'text-anchor': 'middle'})));
  up.all.forEach((v) => parts.push(sv('path', {class: 'grid', d: 'M' + left +
    ',' + y(v) + 'H' + (width - right)}), say(left - 4, y(v) + 4, fixed(v,
    up.decimals), {class: 'small y-tick', 'text-anchor': 'end'})));
  parts.push(say(width - right + 11, height - 8, 's', {class: 'small'}));
  parts.push(thinPaths(group, name, x, y, to));
  const ends = [];
  drawn.filter((u) => !u.odd).concat(drawn.filter((u) => u.odd)).forEach((u) => {
    parts.push(sv('path', {class: 'course' + (u.odd ? ' marked' : ''), d:
      courseLine(side, u, x, y), 'data-unit': u.unit}));
  });
  drawn.forEach((u) => {
    const at = list(u.kpa).map((v) => known(v) ? inPressure(v) : NaN);
    const last = at.length - 1 - at.slice().reverse().findIndex(
      Number.isFinite);
    if (Number.isFinite(at[last])) {
      ends.push({unit: u, at: y(at[last]), from: y(at[last]),
        x: x(side.from_s + last * side.step_s)});
    }
  });
  const labels = together(ends);
  apart(labels, 13, 12, height - 24);
  const most = right < 90 ? 11 : 15;
  labels.forEach((e) => parts.push(sv('path', {class: 'lead' + (e.odd ? ' marked' :
    ''), d: 'M' + (e.x + 1) + ',' + e.from + 'L' + (width - right + 9) + ',' +
    e.at}), say(width - right + 11, e.at + 4, e.units.length === 1 ?
    shortOf(e.units[0], e.odd ? Math.min(most, 13) : most) : e.units.length ===
    drawn.length - oddUnits.size ? oddUnits.size ? 'the others' : 'all ' +
    e.units.length : e.units.length > 4 ? e.units.length + ' units' :
    e.units.map(numberOf).join(', '), {class: e.odd ? 'strong' : 'small'})));
  return picture(width, height, (name === 'apply' ? 'Rise' : 'Release') +
    ' of the outputs, ' + group.condition + ': ' + words.pressure +
    ' over seconds after the command', parts);
}

/* Lines that end at one place have one label there; the odd one has its own. */
function together(ends) {
  const labels = [];
  ends.forEach((e) => {
    const same = e.unit.odd ? null : labels.find((l) => !l.odd &&
      Math.abs(l.from - e.from) < 7);
    if (same) {
      same.units.push(units[unitIndex.get(e.unit.unit)]);
    } else {
      labels.push({odd: e.unit.odd, units: [units[unitIndex.get(e.unit.unit)]],
        at: e.at, from: e.from, x: e.x});
    }
  });
  return labels;
}

/* ---- all of it ---- */

const conditionsDrawn = 3;
const after = ', s after command';
function groupBlock(group, scale, width, courses) {
  const half = width < 420 ? width : Math.floor((width - 16) / 2);
  const panel = (caption, drawing) => drawing ? wideAs(half, el('figure', {},
    el('figcaption', {}, caption), drawing)) : null;
  const many = (name) => group[name].units.some((u) =>
    known(u.second.median_s) || known(u.first.median_s));
  const high = (name) => scale[group.combination][name];
  return wideAs(width, el('div', {class: 'condition'}, el('h3', {}, nameOf(group.condition, 40),
    el('small', {}, ' ' + count(group.applications, 'application') + ' (' +
      kindWords(group) + '), medians')),
  el('div', {class: 'row'}, panel(title(group, 'apply') + after,
    barPanel(group, 'apply', high('apply'), half)), many('release') ?
    panel(title(group, 'release') + after, barPanel(group,
      'release', high('release'), half)) : null),
  !courses ? null : el('div', {class: 'row courses'}, panel('Rise, ' + words.pressure +
    '; thin: each application', coursePanel(group, 'apply',
    scale[group.combination].top, half)), panel('Release, ' + words.pressure +
    '; thin: each application', coursePanel(group, 'release',
    scale[group.combination].top, half)))));
}
function wideAs(width, node) {
  node.style.width = width + 'px';
  return node;
}
/* One scale for what is to be compared. */
function scales() {
  const scale = {};
  pictures.forEach((g) => {
    const mine = scale[g.combination] || (scale[g.combination] = {apply: 0.05,
      release: 0.05, top: 10});
    ['apply', 'release'].forEach((name) => g[name].units.forEach((u) => {
      [u.first.median_s, u.second.median_s].filter(known).forEach((s) => {
        mine[name] = Math.max(mine[name], s);
      });
      list(u.kpa).filter(known).forEach((v) => {
        mine.top = Math.max(mine.top, inPressure(v) * 1.03);
      });
    }));
  });
  return scale;
}
function firstBody() {
  const width = roomWidth();
  const scale = scales();
  const plan = sheet ? sheetPlan() : null;
  return combinations.map((c) => {
    const mine = pictures.filter((g) => g.combination === c)
      .slice(0, sheet ? plan.conditions : conditionsDrawn);
    const beside = !sheet && width > 640 && mine.length > 1 ? Math.min(mine.length,
      width > 1300 ? 3 : 2) : 1;
    const each = Math.floor((width - 28 * (beside - 1)) / beside);
    return [combinations.length > 1 ? el('h3', {}, 'Combination ' + c) : null,
      el('div', {class: 'side'}, sideTrain(c)), el('div', {class: 'conditions'},
        mine.map((g, i) => groupBlock(g, scale, each, !sheet || i < plan.courses))),
    pictures.filter((g) =>
        g.combination === c).length > mine.length ? el('p', {class: 'hint'},
        'Further conditions stand under \u201cWhich unit is late\u201d.') : null];
  });
}
function first() {
  contents.push(['first', 'What was found']);
  const body = el('div', {class: 'first-body'}, firstBody());
  const node = el('section', {id: 'first', 'aria-labelledby': 'first-title'},
    verdict(), body);
  node.again = () => body.replaceChildren(...[firstBody()].flat(Infinity)
    .filter(Boolean));
  let wide = roomWidth();
  window.addEventListener('resize', () => {
    if (!sheet && Math.abs(roomWidth() - wide) > 8) {
      wide = roomWidth();
      node.again();
    }
  });
  return node;
}
