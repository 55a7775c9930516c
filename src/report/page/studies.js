/* SPDX-License-Identifier: MIT */
/* Sections of studies: they appear when the result holds them. */

function comparisonRows() {
  return list(result.comparison).flatMap((c) => Array.isArray(c.rows) ?
    c.rows.map((r) => Object.assign({base: c.base, against: c.against}, r)) :
    [c]).filter((r) => r && r.figure);
}

/* Any list of objects as a table: for parts without a form of their own, and
   as the plain reading below a drawing. Nothing of the result stays unseen. */
function shortValue(v) {
  if (v === null || v === undefined) {
    return '\u2013';
  }
  if (typeof v === 'boolean') {
    return v ? 'yes' : 'no';
  }
  if (typeof v === 'number') {
    return Number.isInteger(v) ? String(v) : String(Number(v.toPrecision(4)));
  }
  if (typeof v === 'string') {
    return nameOf(v, 300);
  }
  if (Array.isArray(v)) {
    return v.length === 0 ? '\u2013' : v.map((x, i) => [i ? '; ' : '',
      shortValue(x)]);
  }
  if ('s' in v) {
    return known(v.s) ? seconds(v) + ' s' : (words.reasons[v.reason] ||
      '\u2013');
  }
  if ('value' in v && 'unit' in v) {
    return known(v.value) ? level(v) : (words.reasons[v.reason] || v.reason ||
      '\u2013');
  }
  if ('value' in v && 'u' in v) {
    return withU(v.value, v.u, 3);
  }
  return Object.keys(v).filter((k) => v[k] !== null).map((k, i) =>
    [i ? ', ' : '', label(k) + ' ', shortValue(v[k])]);
}
function genericTable(caption, rows, skip) {
  const keys = [];
  rows.forEach((r) => Object.keys(r).forEach((k) => {
    if (!keys.includes(k) && !(skip || []).includes(k)) {
      keys.push(k);
    }
  }));
  const unitAt = keys.indexOf('unit');
  return table(caption, keys.map(label), rows.map((r) => keys.map((k, i) =>
    i === unitAt && unitIndex.has(r[k]) ? unitCell(r[k]) : shortValue(r[k]))),
  keys.map((k) => rows.every((r) => r[k] === null || r[k] === undefined ||
    typeof r[k] === 'number' || (typeof r[k] === 'object' && !Array.isArray(r[k])
      && ('s' in r[k] || 'value' in r[k])))));
}
/* An object: its lists as tables, its plain members as one table. */
function genericObject(title, object) {
  const plainKeys = Object.keys(object).filter((k) => object[k] === null ||
    typeof object[k] !== 'object' || 's' in object[k] || 'value' in object[k]);
  const rest = Object.keys(object).filter((k) => !plainKeys.includes(k));
  return [plainKeys.length ? table(title, ['what', ''], plainKeys.map((k) =>
    [label(k), shortValue(object[k])])) : null,
  rest.map((k) => generic(label(k), object[k]))];
}
function generic(title, part) {
  if (Array.isArray(part)) {
    if (!part.length) {
      return null;
    }
    if (part.every((p) => p && typeof p === 'object' && !Array.isArray(p))) {
      const deep = (v) => v && typeof v === 'object' && !('s' in v) &&
        !('value' in v) && (Array.isArray(v) ? v.some((x) => x &&
        typeof x === 'object' && Object.keys(x).length > 4) :
        Object.values(v).some((x) => x && typeof x === 'object' &&
          !('s' in x) && !('value' in x)));
      const deepKeys = [...new Set(part.flatMap((p) => Object.keys(p).filter(
        (k) => deep(p[k]))))];
      return [genericTable(title, part, deepKeys), part.map((p) =>
        deepKeys.filter((k) => deep(p[k])).map((k) => el('details', {},
          el('summary', {}, [p.unit && unitIndex.has(p.unit) ? unitName(p.unit) :
            p.unit, p.run, p.name, label(k)].filter(Boolean).join(', ')),
          generic(label(k), p[k]))))];
    }
    return table(title, [title], part.map((p) => [shortValue(p)]));
  }
  return part && typeof part === 'object' ? genericObject(title, part) : null;
}
function filled(part) {
  return part && (Array.isArray(part) ? part.length > 0 :
    Object.keys(part).length > 0);
}

/* ---- findings ---- */

const severityMark = {fault: '\u25a0', warning: '\u25b2', note: '\u25cb'};
function evidenceText(e) {
  return typeof e === 'string' ? nameOf(e, 400) : shortValue(e);
}
function findings() {
  if (!result.findings && !result.not_looked_for) {
    return null;
  }
  const order = ['fault', 'warning', 'note'];
  const found = list(result.findings).slice().sort((a, b) =>
    order.indexOf(a.severity) - order.indexOf(b.severity));
  const missing = list(result.not_looked_for);
  return section('findings', 'Findings', null,
    found.length ? el('ol', {class: 'findings'}, found.map((f) => el('li',
      {class: 'finding ' + (order.includes(f.severity) ? f.severity : 'note')},
      el('p', {}, el('span', {class: 'severity'},
        (severityMark[f.severity] || '') + ' ' + f.severity), ' ',
      f.unit !== null && f.unit !== undefined && f.unit !== '' ?
        el('strong', {}, unitIndex.has(String(f.unit)) ?
          unitCell(String(f.unit)) : nameOf(f.unit, 40), ': ') : null,
      nameOf(f.text, 600), ' ', el('code', {}, f.code)),
      list(f.evidence).length ? el('details', {}, el('summary', {},
        'evidence (' + f.evidence.length + ')'),
      f.evidence.every((e) => e && typeof e === 'object') ?
        genericTable('Evidence for ' + f.code, f.evidence) :
        el('ul', {}, f.evidence.map((e) => el('li', {}, evidenceText(e))))) :
        null,
      f.next_check ? el('p', {class: 'next'}, 'Next check: ',
        nameOf(f.next_check, 600)) : null))) :
      el('p', {}, 'Nothing was found among what could be looked for.'),
    missing.length ? el('details', {}, el('summary', {},
      count(missing.length, 'thing') + ' could not be looked for'),
    table('Not looked for', ['code', 'needs'], missing.map((m) =>
      [m.code, shortValue(m.needs)]))) : null);
}

/* ---- comparison ---- */

const verdictText = {'no-values': 'no values', 'run-more':
  'too few to show anything: run more', 'no-change-shown': 'no change shown',
earlier: 'earlier', later: 'later'};
/* The values of one side: figures of the applications of that condition. */
function valuesOf(row, condition) {
  return runs.filter((r) => r.condition === condition || r.name === condition)
    .flatMap((r) => list(r.applications)).filter((a) => !a.excluded &&
      a.kind === row.kind && a.shape === row.shape).flatMap((a) =>
      a.units.filter((u) => u.unit === row.unit).map((u) =>
        row.figure === 'level' ? (list(u.levels).find((l) =>
          l.kpa === (row.kpa || row.level_kpa)) || {}).s : u[row.figure] && u[row.figure].s))
    .filter(known);
}
function comparison() {
  const rows = comparisonRows();
  if (!rows.length) {
    return null;
  }
  const groups = new Map();
  rows.forEach((r) => {
    const key = [r.base, r.against, r.kind, r.shape, r.figure,
      r.kpa || r.level_kpa || ''].join('\u0000');
    groups.set(key, (groups.get(key) || []).concat([r]));
  });
  const speeds = [...new Set(rows.flatMap((r) => list(r.travel_in_lag)
    .map((t) => t.kmh)))];
  const parts = [...groups.values()].filter((g) => ['response', 'apply_75',
    'release_end', 'demand_arrival'].includes(g[0].figure)).map((g) => {
    const lines = g.flatMap((r) => [[r.base, false], [r.against, true]]
      .map(([c, second]) => {
        const dots = valuesOf(r, c);
        return {name: unitName(r.unit) + ', ' + c, dots: dots,
          middle: second ? r.against_median_s : r.base_median_s,
          low: null, high: null};
      })).filter((l) => l.dots.length);
    const title = label(g[0].figure) + ', ' + g[0].kind + ' ' + g[0].shape +
      ': ' + g[0].against + ' against ' + g[0].base;
    const changes = g.filter((r) => known(r.difference_s)).map((r) => ({
      name: unitName(r.unit), dots: [], low: r.low_s, high: r.high_s,
      middle: r.difference_s}));
    return [el('h3', {}, cut(title, 120)),
      lines.length ? el('figure', {}, el('figcaption', {},
        'Every application a dot'), dotRows('values: ' + title, lines, 's')) :
        null,
      changes.length ? el('figure', {}, el('figcaption', {},
        'Difference with its interval; left of 0 is earlier under ',
        nameOf(g[0].against, 40)), dotRows('differences: ' + title, changes,
        's')) : null];
  });
  const cells = rows.map((r) => [unitCell(r.unit), r.kind + ', ' + r.shape,
    label(r.figure) + (known(r.kpa) ? ' ' + kpa(r.kpa) : ''),
    cut(r.against + ' against ' + r.base, 60),
    r.n_against + ' and ' + r.n_base + (r.paired ? ', paired' : ''),
    known(r.difference_s) ? withU(r.difference_s, r.u_s, 3) : '\u2013',
    known(r.low_s) ? fixed(r.low_s, 3) + ' \u2026 ' + fixed(r.high_s, 3) :
      '\u2013',
    known(r.p) ? (r.p < 0.001 ? '< 0.001' : fixed(r.p, 3)) : '\u2013',
    verdictText[r.verdict] || r.verdict || '\u2013',
    ...speeds.map((s) => {
      const t = list(r.travel_in_lag).find((x) => x.kmh === s);
      return t ? withU(t.m, t.u_m, 2) : '\u2013';
    })]);
  return section('comparison', 'How the conditions differ',
    'The difference is the second condition less the first, with the measuring ' +
    'chain\u2019s own difference taken off where a reference was recorded. The ' +
    'distance is what is travelled during the lag, not added stopping distance.',
    parts, table('Differences', ['unit', 'kind', 'figure', 'compared', 'n',
      'difference, s', 'interval, s', 'p', 'shown',
      ...speeds.map((s) => 'm at ' + s + ' km/h')], cells,
    [0, 0, 0, 0, 0, 1, 1, 1, 0, ...speeds.map(() => 1)]));
}

/* ---- the others ---- */

function reach() {
  return filled(result.reach) ? section('reach', 'Did the demand reach each unit',
    'The electronic demand on each link: whether it came, unchanged and at its ' +
    'rate, and how long each coupling added.', hopLadder(),
    generic('Demand path', result.reach)) : null;
}
/* A ladder: one line per unit and run, the median arrival of the demand. */
function hopLadder() {
  const rows = [];
  units.forEach((u) => runs.forEach((r) => {
    const values = list(r.applications).flatMap((a) => a.units.filter((x) =>
      x.unit === u.unit).map((x) => x.demand_arrival && x.demand_arrival.s))
      .filter(known);
    if (values.length) {
      rows.push({name: unitName(u.unit) + ', ' + r.name, dots: values,
        middle: medianOf(values), low: null, high: null});
    }
  }));
  return rows.length ? el('figure', {}, el('figcaption', {},
    'When the demand arrived at each unit after the command'),
  dotRows('arrival of the demand', rows, 's')) : null;
}
function simple(id, title, lead, part) {
  return filled(part) ? section(id, title, lead, generic(title, part)) : null;
}
/* Limits: a line per unit, run and rule; what a yard test does not meet stands
   once per rule below, not in every line. */
function limits() {
  const rows = list(result.limits);
  if (!rows.length) {
    return null;
  }
  const rule = (r) => r.kind === 'own' ? nameOf(r.name || 'of the trial', 60) :
    [r.regulation, ' ', r.clause];
  const found = (r) => !known(r.high) ? (words.reasons[r.reason] || r.reason ||
    '\u2013') : withU(r.high, r.u, 3) + ' ' + r.limit_unit;
  const rules = new Map();
  rows.filter((r) => r.conditions_not_met).forEach((r) => rules.set(
    r.regulation + ' ' + r.clause, r.conditions_not_met + ' (' + r.source +
    ', ' + r.confidence + ')'));
  return section('limits', 'Against limits',
    'Published limits are indicative only: a yard test does not meet the ' +
    'conditions of the rule. Limits of the trial file are its own.',
    table('Greatest value of each unit and run', ['unit', 'run', 'rule', 'from',
      'to', 'limit', 'found', 'n', ''], rows.map((r) => [
      unitIndex.has(r.unit) ? unitCell(r.unit) : shortValue(r.unit),
      nameOf(r.run, 30), rule(r), shortValue(r.from), shortValue(r.to),
      r.limit + ' ' + r.limit_unit, found(r), r.n + ' of ' + (r.n + r.without),
      label(r.verdict || '\u2013')]), [0, 0, 0, 0, 0, 1, 1, 1, 0]),
    el('ul', {}, [...rules].map(([name, text]) => el('li', {},
      el('b', {}, name), ' expects, and a yard test does not give: ', text))));
}
function studySections() {
  const known_ = ['schema', 'tool', 'trial', 'tables', 'recordings', 'runs',
    'comparison', 'comparisons', 'reach', 'characteristics', 'transducers',
    'limits', 'dynamics', 'predict', 'findings', 'not_looked_for'];
  return [
    comparison(), reach(),
    simple('characteristics', 'Characteristic of each unit',
      'Threshold, gain and hysteresis of output against control pressure, and ' +
      'which of the declared characteristics fits.', result.characteristics),
    simple('transducers', 'Doubled transducers',
      'Do they agree, and if not, which one is wrong.', result.transducers),
    limits(),
    simple('dynamics', 'Work share, couplings and stopping distance', null,
      result.dynamics),
    simple('predict', 'What air alone would give', null, result.predict),
    Object.keys(result).filter((k) => !known_.includes(k)).map((k) =>
      simple('part-' + k, label(k), null, result[k]))].flat();
}
