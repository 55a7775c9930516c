/* SPDX-License-Identifier: MIT */
/* Characteristics as curves, what a light demand leaves at the rear, doubled
   transducers. */

function curveOf(c) {
  return list(c.curves).find((k) => k.input === c.input) || null;
}
function hasCurve(c) {
  return c.threshold && known(c.threshold.value);
}
/* What an input read while its output was behind it: the fit takes that off. */
function seenInput(curve, p) {
  const lag = known(curve.lag.value) ? curve.lag.value : 0;
  return p.input_kpa - p.rate_kpa_s * lag;
}
const letters = 'abcdefghijklmnop';
/* Input to the right and output up, in pressures; {x, y, parts, high}. */
function curveFrame(width, height, high) {
  const left = 46;
  const axis = ticks(0, inPressure(high), 5);
  const x = (v) => left + v * (width - left - 14) / high;
  const y = (v) => height - 34 - v * (height - 48) / high;
  const parts = axis.all.map((t) => {
    const v = t * words.pressure_factor;
    return [sv('path', {class: 'grid', d: 'M' + x(v) + ',' + y(high) + 'V' +
      y(0) + 'M' + left + ',' + y(v) + 'H' + x(high)}), say(x(v), y(0) + 14,
      fixed(t, axis.decimals), {class: 'small x-tick', 'text-anchor':
        'middle'}), say(left - 4, y(v) + 4, fixed(t, axis.decimals),
      {class: 'small y-tick', 'text-anchor': 'end'})];
  });
  return {x: x, y: y, parts: parts, high: high};
}
/* From where it begins along its gain, then level. */
function curveLine(f, from, gain, to, top) {
  const end = Math.min(to, top === null ? to : from + top / gain);
  return 'M' + f.x(from) + ',' + f.y(0) + 'L' + f.x(end) + ',' +
    f.y((end - from) * gain) + (end < to ? 'H' + f.x(to) : '');
}
/* Thin, each with its letter at its end; one by load has its foot alone. */
function candidateParts(f, c) {
  return list(c.candidates).filter((k) => known(k.threshold_kpa) &&
    k.threshold_kpa <= f.high).map((k) => {
    const i = list(c.candidates).indexOf(k);
    const letter = letters[i] || '*';
    const from = k.threshold_kpa;
    const end = known(k.gain) ? Math.min(f.high, from + f.high / k.gain) : from;
    return [sv('path', {class: 'candidate', 'stroke-dasharray':
      dashes[i % 8].join(' ') || null, d: known(k.gain) ? curveLine(f, from,
      k.gain, end, f.high) : 'M' + f.x(from) + ',' + f.y(0) + 'v-34'}),
    known(k.gain) ? say(f.x(end) + 3, f.y((end - from) * k.gain) + 4, letter,
      {class: 'small letter'}) : say(f.x(from) - 3, f.y(0) - 37, letter,
      {class: 'small letter'})];
  });
}
function seenParts(f, curve) {
  return list(curve.seen).map((p) => mark(p.branch === 'falling' ? 4 : 0,
    f.x(Math.max(0, seenInput(curve, p))), f.y(p.output_kpa), p.from ===
    'hold' ? 2.8 : 1.4, {class: 'dot seen' + (p.branch === 'falling' ? '' :
    ' full')}));
}
function candidateKey(c) {
  const all = list(c.candidates);
  return all.length ? el('p', {class: 'hint'}, all.map((k, i) => [i ? '; ' : '',
    el('b', {}, letters[i] || '*'), ' ', nameOf(k.name, 40), k.fits === true ?
      ' fits' : k.fits === false ? ' does not fit' : ': cannot tell'])) : null;
}
/* Output over input: what was seen, the fitted line through it (falling side
   broken), where it begins with its interval, candidates thin. */
function curvePicture(c) {
  const curve = curveOf(c);
  if (!curve) {
    return null;
  }
  const branches = ['rising', 'falling'].map((w) => [w, curve[w]])
    .filter(([, b]) => b && b.threshold && known(b.threshold.value) &&
      b.gain && known(b.gain.value));
  /* Every point that was seen is drawn, those beyond the fit too. */
  const high = Math.max(100, ...branches.map(([, b]) => Math.max(b.to_kpa || 0,
    b.top_kpa || 0)), ...list(curve.seen).map((p) => Math.max(
    seenInput(curve, p), p.output_kpa)));
  const width = 340;
  const height = 262;
  const f = curveFrame(width, height, high);
  const parts = [f.parts, candidateParts(f, c), branches.map(([way, b]) =>
    sv('path', {class: 'curve', 'stroke-dasharray': way === 'falling' ? '5 3' :
      null, d: curveLine(f, b.threshold.value, b.gain.value, b.to_kpa,
      b.saturates && known(b.saturation_output.value) ?
        b.saturation_output.value : known(b.top_kpa) ? b.top_kpa : null)})),
  seenParts(f, curve)];
  const at = c.threshold.value;
  const u = known(c.threshold.u) ? 2 * c.threshold.u : 0;
  parts.push(sv('path', {class: 'begins', d: 'M' + f.x(at) + ',' + (f.y(0) + 6) +
    'V' + (f.y(0) - 26) + 'M' + f.x(at - u) + ',' + (f.y(0) - 20) + 'H' +
    f.x(at + u)}), say(f.x(at) - 4, f.y(0) - 24, 'begins',
    {class: 'small strong halo', 'text-anchor': 'end'}), say(width - 14, height - 4,
    'across: ' + label(c.input).replace(/-/g, ' ') + ', up: output, ' +
    words.pressure, {class: 'small', 'text-anchor': 'end'}));
  return el('figure', {class: 'curve-figure'}, el('figcaption', {},
    nameOf(unitName(c.unit), 40), ', run ', nameOf(c.run, 20), ': begins at ',
    level(c.threshold), c.choice ? [', ', nameOf(c.choice, 40)] : ''),
  picture(width, height, 'Pressure curve of ' + unitName(c.unit) + ', run ' +
    c.run, parts), candidateKey(c));
}
function branchReason(c) {
  const reasons = list(c.curves).flatMap((k) => [k.rising, k.falling])
    .map((b) => b && b.reason).filter(Boolean);
  return [...new Set(reasons)];
}
const curveReasons = {'too-fast': 'the pressure moved too fast: keep it at ' +
  'several levels or ramp it slowly', 'no-input': 'no input was recorded',
'few-points': 'too few steady pressures and slow ramps', 'no-output': 'no output was recorded'};
function curveTable(all) {
  return table('Units with a curve', ['unit', 'run', 'against', 'opens at',
    'gain', 'hysteresis', 'fits', 'the demand explains it better'],
  all.map((c) => [unitCell(c.unit), nameOf(c.run, 20),
    label(c.input || '\u2013').replace(/-/g, ' '), level(c.threshold),
    c.gain && known(c.gain.value) ? withU(c.gain.value, c.gain.u, 3) : '\u2013',
    level(c.hysteresis), nameOf(c.choice || (list(c.candidates).every((k) =>
      k.fits === false) ? 'none of the candidates' : 'cannot tell'), 40),
    c.demand_explains_better === null ? 'cannot tell' :
      shortValue(c.demand_explains_better)]), [0, 0, 0, 1, 1, 1, 0, 0]);
}
/* Units without a curve: a row per reason and runs. */
function withoutCurve(all) {
  const units_ = new Map();
  all.forEach((c) => {
    const why = branchReason(c).map((r) => curveReasons[r] || label(r)
      .replace(/-/g, ' ')).join('; ');
    const key = c.unit + '\u0000' + why;
    units_.set(key, (units_.get(key) || []).concat([c.run]));
  });
  const by = new Map();
  [...units_].forEach(([key, names]) => {
    const [unit, why] = key.split('\u0000');
    const same = names.join('\u0000') + '\u0001' + why;
    by.set(same, (by.get(same) || {names: names, why: why, who: []}));
    by.get(same).who.push(unit);
  });
  return table('No curve could be read', ['units', 'runs', 'why'],
    [...by.values()].map((r) => [r.who.map((u, i) => [i ? ', ' : '',
      unitCell(u)]), r.names.map((n, i) => [i ? ', ' : '', nameOf(n, 20)]),
    r.why || 'no reason given']), [], 'loose');
}
/* Rows that read alike are one, with how often it was seen. */
function lightTable(r) {
  const seen = list(r.light[0].units).map((u) => u.unit);
  const by = new Map();
  r.light.forEach((row) => {
    const cells = [level(row.demand)].concat(list(row.units).map((u) =>
      level(u.output) + ' ' + (u.braked === true ? '' : u.braked === false ?
        'not braking' : 'cannot tell')));
    const key = cells.join('\u0000');
    by.set(key, {cells: cells, n: (by.get(key) || {n: 0}).n + 1});
  });
  const shown = (text) => text.endsWith(' not braking') ?
    [text.slice(0, -11), el('strong', {}, 'not braking')] : text;
  return table('What a light demand leaves, run ' + cut(r.run, 30) +
    '; a unit brakes from ' + stated(r.brakes_at_kpa) + ' of output on (common ' +
    'practice)', ['demand', 'times', ...seen.map((u) => shortName(u, 24))],
  [...by.values()].map((row) => [row.cells[0], String(row.n),
    ...row.cells.slice(1).map(shown)]), [1, 1, ...seen.map(() => 1)]);
}
function rearTables(all) {
  return all.map((r) => [list(r.light).length ? lightTable(r) : null,
    list(r.coupling_loss).length ? bulk('Control pressure lost at each coupling' +
      ', run ' + cut(r.run, 30), () => genericTable('Coupling loss, run ' +
      cut(r.run, 30), r.coupling_loss)) : null]);
}
function characteristics() {
  const all = list(result.characteristics);
  const rear = list(result.rear).filter((r) => list(r.light).length ||
    list(r.coupling_loss).length);
  if (!all.length && !rear.length) {
    return null;
  }
  const seen = all.filter(hasCurve);
  const not = all.filter((c) => !hasCurve(c));
  return section('characteristics', 'Pressure curve of each unit',
    'Opening pressure, gain and hysteresis of output against its input, and ' +
    'which of the candidates fits. At standstill the electronics may leave out ' +
    'load sensing, or leave the brakes to the air: the gain on the road may ' +
    'differ. Marks are what was seen, large where it was steady, small where it moved slowly: filled circles rising, hollow triangles ' +
    'falling. Full line: rising as fitted; broken: falling; thin with a ' +
    'letter: candidates.',
    saidOf('curves'),
    seen.length ? [el('div', {class: 'row'}, seen.map(curvePicture)),
      curveTable(seen)] : null,
    not.length ? withoutCurve(not) : null,
    all.length ? bulk('Every branch, candidate and what was left out',
      () => generic('Pressure curves', all)) : null,
    rear.length ? rearTables(rear) : null);
}

/* ---- doubled transducers ---- */

function pairTable(all) {
  const ms = (v) => v && known(v.value) ? withU(v.value * 1000, known(v.u) ?
    v.u * 1000 : null, 1) : '\u2013';
  const off = (p, key, text) => [text, p[key] ? el('strong', {}, ' off') : ''];
  return table('Pairs side by side; differences are the second less the first',
    ['unit', 'run', 'second and first', 'offset at released', 'offset at settled',
      'gain', 'delay, ms', 'they part', 'furthest apart', 'which is wrong'],
    all.map((p) => p.compared ? [unitCell(p.unit), nameOf(p.run, 20),
      [nameOf(p.b, 24), ' and ', nameOf(p.a, 24)], off(p, 'offset_off',
        level(p.offset_rest)), level(p.offset_hold), off(p, 'gain_off',
        known(p.gain.value) ? withU(p.gain.value, p.gain.u, 3) : '\u2013'),
      off(p, 'delay_off', ms(p.delay)), p.identical ?
        'identical to the bit: one is wired twice' : p.disagreements ?
          count(p.disagreements, 'time') + ', ' + fixed(p.disagree_s, 1) + ' s' :
          'never', p.largest_kpa > 0 ? kpa(p.largest_kpa) : '\u2013',
      p.wrong ? [nameOf(p[p.wrong], 24), ': ', nameOf(p.wrong_by || '', 120)] :
        'cannot tell'] : [unitCell(p.unit), nameOf(p.run, 20), [nameOf(p.b, 24),
      ' and ', nameOf(p.a, 24)], '\u2013', '\u2013', '\u2013', '\u2013',
    'not compared: not both recorded on tied clocks', '\u2013', '\u2013']),
    [0, 0, 0, 1, 1, 1, 1, 0, 1, 0]);
}
/* The second less the first over the run: a box from the smallest to the
   largest of each stretch, its middle as a line, the limits of a disagreement,
   applications by number below. */
function differencePicture(p) {
  const seen = list(p.difference);
  if (!seen.length) {
    return null;
  }
  const width = 690;
  const height = 190;
  const left = 50;
  const from = Math.min(0, seen[0].from_s);
  const to = seen[seen.length - 1].to_s;
  const most = 1.1 * Math.max(...seen.map((s) => Math.max(Math.abs(s.least_kpa),
    Math.abs(s.most_kpa), 12)));
  const x = (s) => left + (s - from) * (width - left - 14) / (to - from);
  const y = (v) => 12 + (most - v) * (height - 58) / (2 * most);
  const up = ticks(-inPressure(most), inPressure(most), 4);
  const across = ticks(from, to, 8);
  const parts = up.all.map((t) => [sv('path', {class: t === 0 ? 'zero' : 'grid',
    d: 'M' + left + ',' + y(t * words.pressure_factor) + 'H' + (width - 14)}),
  say(left - 4, y(t * words.pressure_factor) + 4, fixed(t, up.decimals),
    {class: 'small y-tick', 'text-anchor': 'end'})]);
  across.all.forEach((t) => parts.push(say(x(t), height - 18, fixed(t,
    across.decimals), {class: 'small x-tick', 'text-anchor': 'middle'})));
  [1, -1].forEach((sign) => parts.push(sv('path', {class: 'limit', d: seen
    .map((s) => 'M' + x(s.from_s) + ',' + y(Math.max(-most, Math.min(most, sign *
      s.may_differ_kpa))) + 'H' + x(s.to_s)).join('')})));
  seen.forEach((s) => parts.push(sv('rect', {class: 'interval', x: x(s.from_s),
    width: Math.max(1, x(s.to_s) - x(s.from_s)), y: y(s.most_kpa), height:
      Math.max(1, y(s.least_kpa) - y(s.most_kpa))}), sv('path', {class: 'middle',
    d: 'M' + x(s.from_s) + ',' + y(s.middle_kpa) + 'H' + x(s.to_s)})));
  const run = runs.find((r) => r.name === p.run);
  list(run && run.applications).filter((a) => known(a.command.apply_s))
    .forEach((a) => parts.push(sv('path', {class: 'grid', d: 'M' +
      x(a.command.apply_s) + ',' + y(-most) + 'v7'}), say(x(a.command.apply_s) +
      2, y(-most) + 9, String(a.number), {class: 'small tiny'})));
  parts.push(say(width - 14, height - 4, 's of the run, small numbers are ' +
    'applications; up: ' + words.pressure, {class: 'small', 'text-anchor':
    'end'}));
  return el('figure', {}, el('figcaption', {}, nameOf(unitName(p.unit), 40),
    ', run ', nameOf(p.run, 20), ': ', nameOf(p.b, 30), ' less ',
    nameOf(p.a, 30)), el('div', {class: 'wide'}, picture(width, height,
    'Difference of the doubled transducers of ' + unitName(p.unit) + ', run ' +
    p.run, parts)));
}
function transducers() {
  const all = list(result.transducers);
  return all.length ? section('transducers', 'Doubled transducers',
    'Do they agree, and if not, which one is wrong. Boxes: smallest to largest ' +
    'difference in each stretch of the run; line: its middle; broken lines: ' +
    'beyond them it counts as parting.', pairTable(all),
    all.filter((p) => p.compared).map(differencePicture),
    bulk('All figures, stretches and episodes of each pair',
      () => generic('Pairs', all))) : null;
}
