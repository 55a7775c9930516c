/* SPDX-License-Identifier: MIT */
/* Characteristics as curves, what a light demand leaves at the rear, doubled
   transducers. */

function curveOf(c) {
  return list(c.curves).find((k) => k.input === c.input) || null;
}
function hasCurve(c) {
  return c.threshold && known(c.threshold.value);
}
/* Output over input: the fitted line where it was seen, falling side broken,
   candidates thin. */
function curvePicture(c) {
  const curve = curveOf(c);
  if (!curve) {
    return null;
  }
  const width = 320;
  const height = 240;
  const left = 44;
  const branches = ['rising', 'falling'].map((w) => [w, curve[w]])
    .filter(([, b]) => b && b.threshold && known(b.threshold.value) &&
      b.gain && known(b.gain.value));
  const high = Math.max(100, ...branches.map(([, b]) => Math.max(b.to_kpa || 0,
    b.top_kpa || 0)));
  const axis = ticks(0, inPressure(high), 5);
  const x = (v) => left + v * (width - left - 14) / high;
  const y = (v) => height - 34 - v * (height - 44) / high;
  const parts = axis.all.map((t) => {
    const v = t * words.pressure_factor;
    return [sv('path', {class: 'grid', d: 'M' + x(v) + ',10V' + y(0) + 'M' +
      left + ',' + y(v) + 'H' + (width - 14)}), say(x(v), y(0) + 14,
      fixed(t, axis.decimals), {class: 'small', 'text-anchor': 'middle'}),
    say(left - 4, y(v) + 4, fixed(t, axis.decimals),
      {class: 'small', 'text-anchor': 'end'})];
  });
  const line = (from, gain, to, top) => {
    const end = Math.min(to, top === null ? to : from + top / gain);
    return 'M' + x(from) + ',' + y(0) + 'L' + x(end) + ',' +
      y((end - from) * gain) + (end < to ? 'H' + x(to) : '');
  };
  list(c.candidates).filter((k) => known(k.threshold_kpa) && known(k.gain))
    .forEach((k) => parts.push(sv('path', {class: 'candidate', d:
      line(k.threshold_kpa, k.gain, Math.min(high, k.threshold_kpa +
        high / k.gain), high)})));
  branches.forEach(([way, b]) => parts.push(sv('path', {class: 'curve',
    'stroke-dasharray': way === 'falling' ? '5 3' : null, d:
    line(b.threshold.value, b.gain.value, b.to_kpa, b.saturates &&
      known(b.saturation_output.value) ? b.saturation_output.value :
      known(b.top_kpa) ? b.top_kpa : null)})));
  if (hasCurve(c)) {
    parts.push(mark(0, x(c.threshold.value), y(0), 3.4, {class: 'dot'}));
  }
  parts.push(say(width - 14, height - 4, label(c.input).replace(/-/g, ' ') +
    ', ' + words.pressure + '; up: output', {class: 'small',
    'text-anchor': 'end'}));
  return el('figure', {}, el('figcaption', {}, nameOf(unitName(c.unit), 40),
    ', run ', nameOf(c.run, 20), ': begins at ', level(c.threshold),
    c.choice ? [', ', nameOf(c.choice, 40)] : ''),
  picture(width, height, 'Characteristic of ' + unitName(c.unit), parts));
}
function branchReason(c) {
  const reasons = list(c.curves).flatMap((k) => [k.rising, k.falling])
    .map((b) => b && b.reason).filter(Boolean);
  return [...new Set(reasons)];
}
const curveReasons = {'too-fast': 'the pressure moved too fast: hold it at ' +
  'several levels or ramp it slowly', 'no-input': 'no input was recorded',
'few-points': 'too few holds and ramps', 'no-output': 'no output was recorded'};
function curveTable(all) {
  return table('Units with a curve', ['unit', 'run', 'against', 'begins at',
    'gain', 'hysteresis', 'fits', 'the demand explains it better'],
  all.map((c) => [unitCell(c.unit), nameOf(c.run, 20),
    label(c.input || '\u2013').replace(/-/g, ' '), level(c.threshold),
    c.gain && known(c.gain.value) ? withU(c.gain.value, c.gain.u, 3) : '\u2013',
    level(c.hysteresis), nameOf(c.choice || 'cannot tell', 40),
    c.demand_explains_better === null ? 'cannot tell' :
      shortValue(c.demand_explains_better)]), [0, 0, 0, 1, 1, 1, 0, 0]);
}
/* Units without a curve, by reason; a row per unit. */
function withoutCurve(all) {
  const by = new Map();
  all.forEach((c) => {
    const key = c.unit + '\u0000' + branchReason(c).map((r) =>
      curveReasons[r] || label(r).replace(/-/g, ' ')).join('; ');
    by.set(key, (by.get(key) || []).concat([c.run]));
  });
  return table('No curve could be read', ['unit', 'runs', 'why'],
    [...by].map(([key, names]) => [unitCell(key.split('\u0000')[0]),
      names.map((n, i) => [i ? ', ' : '', nameOf(n, 20)]),
      key.split('\u0000')[1] || 'no reason given']));
}
function rearTables(all) {
  return all.map((r) => {
    const rows = list(r.light);
    const seen = rows.length ? list(rows[0].units).map((u) => u.unit) : [];
    return [rows.length ? table('What a light demand leaves, run ' +
      cut(r.run, 30) + '; a unit brakes from ' + kpa(r.brakes_at_kpa) +
      ' of output on (common practice)', ['demand', ...seen.map((u) =>
      cut(unitName(u), 24))], rows.map((row) => [level(row.demand),
      ...list(row.units).map((u) => [level(u.output), ' ', u.braked === true ?
        '' : u.braked === false ? el('strong', {}, 'not braking') :
          'cannot tell'])]), [1, ...seen.map(() => 1)]) : null,
    list(r.coupling_loss).length ? bulk('Control pressure lost at each coupling' +
      ', run ' + cut(r.run, 30), () => genericTable('Coupling loss, run ' +
      cut(r.run, 30), r.coupling_loss)) : null];
  });
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
  return section('characteristics', 'Characteristic of each unit',
    'Threshold, gain and hysteresis of output against its input, and which of ' +
    'the declared characteristics fits. Full line: rising; broken: falling; ' +
    'thin: candidates.',
    seen.length ? [el('div', {class: 'row'}, seen.map(curvePicture)),
      curveTable(seen)] : null,
    not.length ? withoutCurve(not) : null,
    all.length ? bulk('Every branch, candidate and what was left out',
      () => generic('Characteristics', all)) : null,
    rear.length ? rearTables(rear) : null);
}
function transducers() {
  return filled(result.transducers) ? section('transducers',
    'Doubled transducers', 'Do they agree, and if not, which one is wrong.',
    generic('Pairs', result.transducers)) : null;
}
