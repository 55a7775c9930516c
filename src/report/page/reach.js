/* SPDX-License-Identifier: MIT */
/* The demand's way through the train, and what supply and links did meanwhile. */

const reachWords = {reached: '\u25cf\u00a0reached',
  'reached-with-defects': '\u25b2\u00a0with\u00a0defects',
  'not-reached': '\u25a0\u00a0not\u00a0reached', 'cannot-tell': '\u25cb\u00a0cannot\u00a0tell'};

/* Times of arrival: marks of every application, and the medians of each kind of
   application joined from unit to unit, a line per run and kind: a rung is what
   a coupling adds. */
function hopLadder() {
  const lines = runs.map((r) => ({run: r.name, at: units.map((u) => ({unit: u.unit,
    dots: list(r.applications).flatMap((a) => a.units.filter((x) =>
      x.unit === u.unit).map((x) => x.demand_arrival && x.demand_arrival.s))
      .filter(known)})).filter((p) => p.dots.length), medians: kindsIn(
    list(r.summary)).map((kind) => units.map((u) => list(r.summary).find((s) =>
    s.unit === u.unit && kindWords(s) === kind && s.figure === 'demand_arrival' &&
    known(s.median_s))).filter(Boolean))})).filter((l) => l.at.length);
  if (!lines.length) {
    return null;
  }
  const rows = units.filter((u) => lines.some((l) => l.at.some((p) =>
    p.unit === u.unit)));
  const left = narrow ? 16 : 170;
  const width = narrow ? 336 : 690;
  const every = lines.flatMap((l) => l.at.flatMap((p) => p.dots));
  const low = Math.min(0, ...every);
  const high = Math.max(0.01, ...every);
  const x = (s) => left + (s - low) * (width - left - 20) / (high - low);
  const y = (unit) => (narrow ? 26 : 20) + 30 * rows.findIndex((u) =>
    u.unit === unit);
  const bottom = 20 + 30 * rows.length;
  const axis = ticks(low, high, narrow ? 4 : 7);
  const parts = axis.all.map((t) => [sv('path', {class: t === 0 ? 'zero' :
    'grid', d: 'M' + x(t) + ',6V' + (bottom - 8)}), say(x(t), bottom + 6,
    fixed(t, axis.decimals), {class: 'small x-tick', 'text-anchor': 'middle'})]);
  rows.forEach((u) => parts.push(say(4, y(u.unit) + (narrow ? -8 : 4),
    shortName(u.unit, 24), {class: 'small strong'})));
  lines.forEach((l, i) => {
    parts.push(l.medians.filter((m) => m.length).map((m) => sv('path', {class:
      'ladder', 'stroke-dasharray': dashes[i % 8].join(' ') || null, d: 'M' +
      m.map((s) => x(s.median_s) + ',' + y(s.unit)).join('L')})));
    l.at.forEach((p) => p.dots.forEach((s) => parts.push(mark(i % 6, x(s),
      y(p.unit), 2.4, {class: 'dot'}))));
  });
  parts.push(say(width - 4, bottom + 20, 's after the command',
    {class: 'small', 'text-anchor': 'end'}));
  return el('figure', {}, el('figcaption', {}, 'When the demand arrived: every ' +
    'application a mark, medians of each kind joined from unit to unit; ', lines.map((l, i) =>
    [sv('svg', {width: 34, height: 12, 'aria-hidden': 'true'},
      sv('path', {class: 'ladder', 'stroke-dasharray': dashes[i % 8].join(' ') ||
        null, d: 'M1,6H33'}), mark(i % 6, 17, 6, 2.4, {class: 'dot'})), ' run ',
    nameOf(l.run, 20), '  '])),
  el('div', {class: 'wide'}, picture(width, bottom + 24,
    'Arrival of the demand at each unit, run by run', parts)));
}
function shareText(v) {
  return known(v) ? fixed(100 * v, v > 0 && v < 0.01 ? 2 : 1) + ' %' : '\u2013';
}
const claimWords = {yes: 'yes', no: 'no', 'cannot-tell': '?'};
function claimCell(claim) {
  return claim ? el('span', {title: inUnits(String(claim.why || ''))},
    claimWords[claim.answer] || claim.answer) : '\u2013';
}
function reachTable(run) {
  const ms = (v, decimals) => known(v) ? fixed(v * 1000, decimals) : '\u2013';
  const plainMs = (v) => v && known(v.s) ? withU(v.s * 1000, known(v.u_s) ?
    v.u_s * 1000 : null, 1) : v ? el('span', {class: 'why', title:
    words.reasons[v.reason] || v.reason}, '\u2013') : '\u2013';
  const rows = list(run.units).map((u) => {
    const d = u.demand || {};
    const lost = d.without_value || {};
    const said = ['arrives', 'unchanged', 'at_its_rate', 'in_time', 'acted_on']
      .map((c) => claimCell((u.claims || {})[c]));
    return [unitCell(u.unit), reachWords[u.verdict] || u.verdict, ...said,
      d.present ? nameOf(u.bus || '\u2013', 20) : 'no demand seen',
      d.present ? String(d.frames) : '\u2013',
      d.present ? ms(d.interval.median_s, 2) + ' (most ' +
        ms(d.interval.most_s, 1) + ')' : '\u2013',
      d.present ? d.lost + ' (' + shareText(d.lost_share) + ')' : '\u2013',
      d.present ? String(lost.not_available + lost.error + lost.other) :
        '\u2013',
      d.delay && d.delay.s === 0 && d.delay.u_s === 0 ? 'first link' :
        plainMs(d.delay), plainMs(d.added), u.follows === 'unknown' ?
        'cannot tell' : label(u.follows),
      nameOf(u.called_for || '\u2013', 30),
      el('td', {'data-head': 'why'}, list(u.why).map((w, i) => [i ? '; ' : '', nameOf(inUnits(String(w)), 200)]))];
  });
  return tableOfSaid('Run ' + cut(run.run, 40) + ': the demand at each unit',
    ['unit', 'verdict', 'arrives', 'unchanged', 'at its rate', 'in time',
      'acted on', 'link', 'frames', 'interval, ms', 'lost',
      'without value', 'after the first link, ms', 'added by the hop, ms',
      'follows', 'called for', 'why'], rows,
  [0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 0, 0, 0], 'stack');
}
function reach() {
  const all = list(result.reach);
  if (!all.length) {
    return null;
  }
  const off = all.filter((r) => r.declared_off);
  return section('reach', 'Did the demand reach each unit',
    'The electronic demand on each link: whether it came, unchanged and at its ' +
    'rate, and how long each coupling added.', hopLadder(),
    all.filter((r) => !r.declared_off).map((r) => [reachTable(r),
      r.shown ? el('p', {}, 'Run ', nameOf(r.run, 30), ': ' + r.shown) : null]),
    off.length ? el('p', {}, 'Declared without power or data, so no demand is ' +
      'expected: ', off.map((r, i) => [i ? ', ' : '', nameOf(r.run, 30)]), '.') :
      null,
    bulk('Status signals, gaps, buses, names and trouble codes of each run',
      () => generic('Demand path', all)));
}

/* ---- supply and links ---- */

/* Per unit and application: the least supply, and what the frames lacked. */
function supplyRows() {
  const rows = units.map((u) => ({unit: u.unit, at: []}));
  runs.forEach((r) => {
    const reached = list(result.reach).find((x) => x.run === r.name);
    list(r.applications).forEach((a) => rows.forEach((row) => {
      const here = a.units.find((u) => u.unit === row.unit) || {};
      const unit = reached && list(reached.units).find((x) =>
        x.unit === row.unit);
      const n = unit && unit.demand && list(unit.demand.by_application)
        .find((c) => c.application === a.number);
      row.at.push({run: r.name, number: a.number, reservoir:
        here.reservoir_least || {}, voltage: here.voltage_least || {},
      frames: n ? n.frames : null, lost: n ? n.lost : null});
    }));
  });
  return rows.filter((row) => row.at.some((p) => known(p.reservoir.value) ||
    known(p.voltage.value) || known(p.lost)));
}
const stripParts = [
  ['reservoir', 'Least reservoir pressure, ', () => words.pressure],
  ['voltage', 'Least supply voltage, ', () => 'V'],
  ['lost', 'Demand frames lost, ', () => '% of those due']];
function stripValue(p, what) {
  const v = p[what];
  return what === 'voltage' ? v.value : what === 'reservoir' ? known(v.value) ?
    inPressure(v.value) : null : known(p.lost) && p.frames + p.lost > 0 ?
    100 * p.lost / (p.frames + p.lost) : null;
}
/* A strip per unit, applications in order of the runs. */
function strip(what, title, rows) {
  const with_ = rows.filter((row) => row.at.some((p) =>
    known(stripValue(p, what))));
  if (!with_.length) {
    return null;
  }
  if (what === 'lost' && !with_.some((row) => row.at.some((p) => p.lost > 0))) {
    return el('p', {}, 'No demand frame was lost in any application, at ' +
      with_.map((row) => unitName(row.unit)).join(', ') + '.');
  }
  const left = 170;
  const width = 690;
  const n = with_[0].at.length;
  const step = (width - left - 70) / Math.max(n, 1);
  const high = Math.max(what === 'lost' ? 5 : 1, ...with_.flatMap((row) =>
    row.at.map((p) => stripValue(p, what)).filter(known)));
  const parts = [];
  with_.forEach((row, k) => {
    const base = 40 + 34 * k;
    const values = row.at.map((p) => stripValue(p, what));
    parts.push(sv('path', {class: 'grid', d: 'M' + left + ',' + base + 'H' +
      (width - 64)}), say(4, base - 6, shortName(row.unit, 24),
      {class: 'small strong'}));
    values.forEach((v, i) => known(v) && v > 0 && parts.push(sv('rect', {x: left +
      i * step + 0.5, width: Math.max(1, step - 1.5), y: base - 24 *
      Math.max(0, v) / high, height: Math.max(0.8, 24 * Math.max(0, v) / high),
    class: what === 'lost' ? 'bar-lost' : 'bar-level'})));
    const seen = values.filter(known);
    parts.push(say(width - 58, base - 6, what === 'lost' ? 'most ' +
      fixed(Math.max(...seen), 1) : 'least ' + fixed(Math.min(...seen), what ===
      'voltage' ? 2 : pressureDecimals()), {class: 'small'}));
  });
  let from = 0;
  const bottom = 40 + 34 * (with_.length - 1);
  runs.forEach((r) => {
    const many = with_[0].at.filter((p) => p.run === r.name).length;
    if (many) {
      parts.push(sv('path', {class: 'grid', d: 'M' + (left + from * step) +
        ',10V' + bottom}), say(left + (from + many / 2) * step, bottom + 16,
        cut(r.name, 10), {class: 'small', 'text-anchor': 'middle'}));
    }
    from += many;
  });
  return el('figure', {}, el('figcaption', {}, title + '; a bar per application'),
    el('div', {class: 'wide'}, picture(width, bottom + 22, title, parts)));
}
function supply() {
  const rows = supplyRows();
  const none = ['reservoir', 'voltage'].filter((w) => !units.some((u) => u[w]));
  const drawn = stripParts.map((p) => strip(p[0], p[1] + p[2](), rows))
    .filter(Boolean);
  return section('supply', 'Supply and links while braking', null,
    none.length ? el('p', {class: 'dim'}, 'Not recorded, so nothing can be said ' +
      'of it: ' + none.join(', ') + '.') : null, drawn,
    rows.length ? bulk('Values of each application', () => table(
      'Least values and frames of each application', ['unit', 'run',
        'application', 'reservoir', 'voltage', 'frames', 'lost'],
      rows.flatMap((row) => row.at.map((p) => [unitCell(row.unit),
        nameOf(p.run, 20), String(p.number), level(p.reservoir),
        known(p.voltage.value) ? withU(p.voltage.value, p.voltage.u, 2) + ' V' :
          '\u2013', known(p.frames) ? String(p.frames) :
          '\u2013', known(p.lost) ? String(p.lost) : '\u2013'])),
      [0, 0, 1, 1, 1, 1, 1])) : null);
}
