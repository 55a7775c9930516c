/* SPDX-License-Identifier: MIT */
/* Limits, and what lag costs: shares of work, push, stopping distance. */

function limitTitle(r) {
  return r.kind === 'own' ? r.limit_name || r.name || 'of the trial' :
    r.regulation + ' ' + r.clause;
}
/* A table per rule, a row per unit and what it is taken as, runs side by side. */
function ruleTable(mine, rows, names) {
  const by = new Map();
  mine.forEach((r) => {
    const key = [r.unit, r.class || '', r.limit].join('\u0000');
    by.set(key, (by.get(key) || []).concat([r]));
  });
  const found = (r) => r === undefined ? '' : !known(r.high) && known(r.low) ?
    el('span', {title: words.limit_reasons[r.reason] || r.n + ' of ' +
      (r.n + r.without) + ' applications'}, (verdictMarks[r.verdict] || '') +
      ' above ' + withU(r.low, r.u, r.limit_unit === 's' ? 3 : 1)) :
    !known(r.high) ? el('span',
    {class: 'why', title: words.limit_reasons[r.reason] || r.reason}, '\u2013') :
    el('span', {title: r.n + ' of ' + (r.n + r.without) + ' applications'},
      (verdictMarks[r.verdict] || '') + ' ', el('span', {'data-limit': rows
        .indexOf(r)}, withU(r.high, r.u, r.limit_unit === 's' ? 3 : 1)));
  const first = mine[0];
  const as = mine.some((r) => r.class);
  return table(cut(limitTitle(first), 60) + ': ' + (first.kind === 'own' ?
    figureName(first.figure) : plain(first.from) + ' to ' + plain(first.to)),
  ['unit', ...(as ? ['taken as'] : []), 'at most', ...names.map((n) =>
    cut(n, 20))], [...by.values()].map((g) => [unitIndex.has(g[0].unit) ?
    unitCell(g[0].unit) : shortValue(g[0].unit), ...(as ? [label(g[0].class)
    .replace(/-/g, ' ')] : []), shortNumber(g[0].limit) + ' ' +
    g[0].limit_unit, ...names.map((n) => found(g.find((r) => r.run === n)))]),
  [0, ...(as ? [0] : []), 1, ...names.map(() => 1)], 'tight');
}
function limits() {
  const rows = list(result.limits);
  if (!rows.length) {
    return null;
  }
  const keyOf = (r) => [r.kind, limitTitle(r), r.figure || '', r.kpa || '',
    r.from, r.to, r.limit_unit].join('\u0000');
  const groups = new Map();
  rows.forEach((r) => groups.set(keyOf(r), (groups.get(keyOf(r)) || [])
    .concat([r])));
  const names = orderedRuns().map((r) => r.name).filter((n) => rows.some((r) =>
    r.run === n));
  const open_ = [...new Set(rows.filter((r) => r.run && r.verdict ===
    'not-decided').map((r) => words.limit_reasons[r.reason] || r.reason))]
    .filter(Boolean);
  const rules = new Map();
  rows.filter((r) => r.conditions_not_met).forEach((r) => rules.set(
    r.regulation + ' ' + r.clause, r.conditions_not_met + ' (' + r.source +
    ', ' + r.confidence + ')'));
  const judged = [...groups.values()].map((g) => g.filter((r) =>
    names.includes(r.run))).filter((g) => g.length);
  const none = [...groups.values()].filter((g) => !g.some((r) =>
    names.includes(r.run)));
  return section('limits', 'Against limits',
    judged.length ? 'The greatest value of each unit in each run, in the unit ' +
    'of its limit. Published limits are numbers beside numbers, never a ' +
    'certification: below a number is not \u201cpassed\u201d, for the conditions of the ' +
    'rule were not met. Limits of the trial file are its own. ' +
    '\u25cf below the number, \u25a0 above the number, ? cannot be compared' +
    (open_.length ? ' (' +
    open_.join('; ') + ')' : '') + '.' : null,
    judged.map((g) => ruleTable(g, rows, names)), judged.length === 0 ? null :
    el('ul', {class: 'plain'}, [...rules].map(([name, text]) => el('li', {},
      el('b', {}, name), ' expects, and a yard test does not give: ', text))),
    none.length ? el('p', {class: 'dim'}, 'No figure of this trial could be ' +
      'compared with: ' + notHeld(none) + '.') : null);
}
/* Each reason once, with the rules it is true of. */
function notHeld(groups) {
  const by = new Map();
  groups.forEach((g) => {
    const why = words.limit_reasons[g[0].reason] || 'no reason given';
    by.set(why, (by.get(why) || new Set()).add(limitTitle(g[0])));
  });
  return [...by].map(([why, names]) => [...names].join(', ') + ' (' + why + ')')
    .join('; ');
}
const verdictMarks = {inside: '\u25cf', outside: '\u25a0', 'not-decided': '?',
  'not decided': '?'};

function costRows() {
  const all = result.dynamics ? list(result.dynamics.rows) : [];
  return all.filter((r) => list(r.speeds).length);
}
function fastest(row) {
  const most = Math.max(...row.speeds.map((s) => s.kmh));
  return row.speeds.find((s) => s.kmh === most);
}
function costHead(r) {
  return cut(r.run, 16) + ', ' + label(r.kind);
}
function dynamics() {
  if (!filled(result.dynamics)) {
    return null;
  }
  const rows = costRows();
  const shown = rows.filter((r) => !references.has((runs.find((x) =>
    x.name === r.run) || {}).condition));
  const missing = list(result.dynamics.missing);
  const metres = (v, u) => known(v) ? withU(v, u, 1) : '\u2013';
  const atUnit = (r, unit, key) => {
    const u = fastest(r).units.find((x) => x.unit === unit);
    return u && known(u[key]) ? fixed(100 * u[key], 1) : '\u2013';
  };
  const seen = units.filter((u) => shown.some((r) => fastest(r).units.some((x) =>
    x.unit === u.unit)));
  const couplings = shown.length ? fastest(shown[0]).couplings : [];
  if (!shown.length && !missing.length) {
    return null;
  }
  return section('dynamics', 'Work share, couplings and stopping distance',
    'Computed from stated masses and forces by a rigid model, not measured on ' +
    'the road. Positive push: the unit behind pushes the one in front.',
    missing.length ? [el('p', {}, 'Not computed, for lack of:'),
      noteList(missing)] : null,
    shown.length ? [table('Stopping distance, metres: whole, what lag adds to ' +
      'it, and what of that would go if every unit kept up with the first',
    ['run', 'kind', 'n', ...shown[0].speeds.flatMap((s) => ['from ' +
      fixed(s.kmh, 0) + ' km/h', 'added by lag', 'behind the first unit'])],
    shown.map((r) => [nameOf(r.run, 20), label(r.kind), String(r.n),
      ...r.speeds.flatMap((s) => [metres(s.stopping_m), metres(
        s.extra_stopping_m, s.u_extra_stopping_m), metres(
        s.extra_against_first_m)])]), [0, 0, 1, ...shown[0].speeds.flatMap(() =>
      [1, 1, 1])]),
    seen.length ? table('Share of mass, and of the braking work at ' +
      fixed(fastest(shown[0]).kmh, 0) + ' km/h, %', ['unit', 'mass',
      ...shown.map(costHead)], seen.map((u) => [unitCell(u.unit),
      atUnit(shown[0], u.unit, 'mass_share'), ...shown.map((r) =>
        atUnit(r, u.unit, 'work_share'))]), [0, 1, ...shown.map(() => 1)]) :
      null,
    couplings.length ? table('Most push at each coupling, kN', ['coupling',
      ...shown.map(costHead)], couplings.map((c) => [shortName(c.front, 24) +
      ' \u2013 ' + shortName(c.rear, 24), ...shown.map((r) => {
      const at = fastest(r).couplings.find((x) => x.front === c.front &&
        x.rear === c.rear);
      return at && known(at.push_most_kn) ? fixed(at.push_most_kn, 1) :
        '\u2013';
    })]), [0, ...shown.map(() => 1)]) : null,
    bulk('Every run, speed, unit and coupling', () => generic('What lag costs',
      result.dynamics))] : null);
}

/* ---- what air alone would give ---- */

const predictNames = {fill: 'first air to 75 % of settled',
  fall: 'release, 90 to 10 % of settled'};
function predictName(figure) {
  return predictNames[figure] || figureName(figure);
}
/* Bands as boxes, what was measured as a mark for each run. */
function bandRows(title, rows) {
  const left = narrow ? 16 : 160;
  const width = narrow ? 336 : 596;
  const step = narrow ? 36 : 24;
  const by = units.map((u) => [u.unit, rows.filter((r) => r.unit === u.unit)])
    .filter((p) => p[1].length);
  const every = rows.flatMap((r) => [r.low_s, r.high_s, r.measured_s])
    .filter(known);
  if (!every.length) {
    return null;
  }
  const low = Math.min(0, ...every);
  const high = Math.max(...every) * 1.03;
  const x = (s) => left + (s - low) * (width - left - 14) / (high - low);
  const axis = ticks(low, high, narrow ? 4 : 6);
  const bottom = 8 + step * by.length;
  const parts = axis.all.map((t) => [sv('path', {class: t === 0 ? 'zero' :
    'grid', d: 'M' + x(t) + ',4V' + bottom}), say(x(t), bottom + 14,
    fixed(t, axis.decimals), {class: 'small x-tick', 'text-anchor': 'middle'})]);
  by.forEach(([unit, mine], i) => {
    const y = (narrow ? 28 : 20) + step * i;
    parts.push(say(4, y + (narrow ? -11 : 4), shortName(unit, 22),
      {class: 'small strong'}));
    mine.forEach((r) => {
      if (known(r.low_s) && known(r.high_s)) {
        parts.push(sv('rect', {x: x(r.low_s), y: y - 7, height: 14, class:
          'interval', width: Math.max(1, x(r.high_s) - x(r.low_s))}));
      }
    });
    mine.forEach((r) => known(r.measured_s) && parts.push(mark(r.verdict ===
      'inside' ? 0 : 1, x(r.measured_s), y, 3.6, {class: r.verdict === 'inside' ?
      'dot' : 'dot late'}), r.bounds ? say(x(r.measured_s) + 6, y + 4,
      'or later', {class: 'small'}) : null));
  });
  parts.push(say(width - 4, bottom + 28, 's',
    {class: 'small', 'text-anchor': 'end'}));
  return el('figure', {}, el('figcaption', {}, title), el('div', {class:
    'wide'}, picture(width, bottom + 32, title, parts)));
}
function predictRows() {
  return list(result.predict).flatMap((u) => list(u.figures).map((f) =>
    Object.assign({unit: u.unit, run: u.run}, f)));
}
function predictWithout() {
  const by = new Map();
  list(result.predict).filter((u) => u.reason).forEach((u) => {
    const key = u.run + '\u0000' + u.reason;
    by.set(key, (by.get(key) || []).concat([u.unit]));
  });
  return [...by].map(([key, who]) => {
    const [run, reason] = key.split('\u0000');
    return el('li', {}, 'run ', nameOf(run, 20), ', ' + (who.length > 1 ?
      'units ' : 'unit ') + who.join(', ') + ': ' + (words.predict_reasons[reason] ||
      reason.replace(/-/g, ' ')));
  });
}
function predict() {
  if (!filled(result.predict)) {
    return null;
  }
  const rows = predictRows();
  const drawn = harder.flatMap((kind) => ['response', 'fill', 'release_end']
    .map((figure) => {
      const mine = rows.filter((r) => r.kind === kind && r.figure === figure);
      return mine.length ? bandRows(label(kind) + ': ' + predictName(figure),
        mine) :
        null;
    })).filter(Boolean);
  const without = predictWithout();
  return section('predict', 'What air alone would take',
    'Boxes: reckoned from lengths, bores and volumes, between the bounds that ' +
    'the trial states or that are usual. Marks: measured, a circle inside, a ' +
    'triangle outside; a unit outside is late for another reason than air.',
    saidOf('predicted'),
    drawn.length ? el('div', {class: 'row'}, drawn) : null,
    without.length ? [el('p', {}, 'No band for these:'), el('ul', {class:
      'plain'}, without)] : null,
    rows.length ? bulk('All bands and what they are based on', () => [
      table('Bands of air alone, s', ['unit', 'run', 'kind', 'figure', 'band',
        'measured', 'n', 'judged'], rows.map((r) => [unitCell(r.unit),
        nameOf(r.run, 20), kindWords(r), predictName(r.figure),
        known(r.low_s) ? fixed(r.low_s, 3) + ' \u2026 ' + fixed(r.high_s, 3) :
          '\u2013', known(r.measured_s) ? (r.bounds ? 'later than ' : '') +
          withU(r.measured_s, r.u_s, 3) :
          '\u2013', String(r.n), r.verdict ? label(r.verdict)
          .replace(/-/g, ' ') : words.predict_reasons[r.reason] || '\u2013']),
      [0, 0, 0, 0, 1, 1, 1, 0]), generic('Prediction', result.predict)]) :
      null);
}
