/* SPDX-License-Identifier: MIT */
/* Sections of studies: they appear when the result holds them. What has no form
   of its own is shown as tables all the same. */

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
    return shortNumber(v);
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
  return [plainKeys.length ? table(title, ['what', 'value'], plainKeys.map((k) =>
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
      const whose = (p) => [p.unit && unitIndex.has(p.unit) ? unitName(p.unit) :
        p.unit, p.run, p.name];
      const said = (p, more) => whose(p).concat([more]).filter(Boolean)
        .join(', ');
      const flat = new Set(part.flatMap((p) => Object.keys(p)
        .filter((k) => !deepKeys.includes(k))));
      /* What has more members than a sheet has room for stands upright. */
      return [flat.size > 16 ? part.map((p) => table(said(p, title),
        ['what', 'value'], [...flat].filter((k) => k in p).map((k) => [label(k),
          shortValue(p[k])]))) : genericTable(title, part, deepKeys),
      part.map((p) => deepKeys.filter((k) => deep(p[k])).map((k) =>
        el('details', {}, el('summary', {}, said(p, label(k))),
          generic(label(k), p[k]))))];
    }
    return table(title, [title], part.map((p) => [shortValue(p)]));
  }
  return part && typeof part === 'object' ? genericObject(title, part) : null;
}
/* A part that is long: closed, made when it is opened, printed when it is open. */
function bulk(title, make) {
  const body = el('div', {});
  const details = el('details', {class: 'bulk'}, el('summary', {}, title), body);
  let made = false;
  details.fillIn = () => {
    if (!made) {
      made = true;
      body.append(...[make()].flat(Infinity).filter(Boolean));
    }
  };
  details.addEventListener('toggle', () => details.open && details.fillIn());
  return details;
}
function filled(part) {
  return part && (Array.isArray(part) ? part.length > 0 :
    Object.keys(part).length > 0);
}

/* ---- findings ---- */

const severityMark = {fault: '\u25a0', warning: '\u25b2', note: '\u25cb'};
const severityOrder = ['fault', 'warning', 'note'];
/* The text of a finding without the unit's name, which is in front of it. */
function findingText(f) {
  const begin = f.unit ? unitName(f.unit) : '';
  const text = inUnits(String(f.text));
  return f.unit && text.startsWith(begin + ' ') ?
    text.slice(begin.length + 1) : text;
}
function sameCheck(f, next) {
  return next && next.next_check === f.next_check && next.code === f.code &&
    next.severity === f.severity;
}
function whereOf(f) {
  const in_ = list(f.runs).length ? f.runs : f.run ? [f.run] : [];
  return in_.length ? el('span', {class: 'dim'}, in_.length > 1 ? ' runs ' :
    ' run ', in_.map((n, i) => [i ? ', ' : '', nameOf(n, 24)])) : null;
}
function evidenceValue(e) {
  if (!known(e.value)) {
    return '\u2013';
  }
  if (e.unit === 'kPa') {
    return level({value: e.value, u: e.u, unit: 'kPa'});
  }
  return e.unit ? withU(e.value, e.u, e.unit === 's' ? 3 : 1) + ' ' + e.unit :
    withU(e.value, e.u, Number.isInteger(e.value) ? 0 : 3);
}
function evidenceLine(e) {
  return [nameOf(e.label || '', 130), ' ', evidenceValue(e), e.run ? [' (run ',
    nameOf(e.run, 20), ')'] : ''];
}
/* What to check stands once below findings that ask for the same. */
function findingItem(f, at, all) {
  const evidence = list(f.evidence);
  const lines = evidence.length && evidence.every((e) => e &&
    typeof e === 'object' && 'label' in e && 'value' in e);
  const short = lines && evidence.length < 4;
  const shown = f.of ? ', beyond doubt in ' + f.shown_in + ' of ' + f.of : '';
  return el('li', {class: 'finding ' + (severityOrder.includes(f.severity) ?
    f.severity : 'note')},
  el('p', {}, el('span', {class: 'severity'},
    (severityMark[f.severity] || '') + ' ' + f.severity), ' ',
  f.unit !== null && f.unit !== undefined && f.unit !== '' ?
    el('strong', {}, unitIndex.has(String(f.unit)) ?
      unitCell(String(f.unit)) : nameOf(f.unit, 40), ': ') : null,
  nameOf(tied(findingText(f)), 600), ' ', el('code', {}, f.code), whereOf(f)),
  short ? el('p', {class: 'evidence'}, 'Evidence: ', evidence.map((e, i) =>
    [i ? '; ' : '', evidenceLine(e)]), shown) :
    evidence.length ? el('details', {}, el('summary', {}, 'Evidence (' +
      evidence.length + ')' + shown), lines ? el('ul', {}, evidence.map((e) =>
      el('li', {}, evidenceLine(e)))) : genericTable('Evidence for ' + f.code,
      evidence)) : null,
  f.next_check && !sameCheck(f, all[at + 1]) ? el('p', {class: 'next'}, 'Next check: ',
    nameOf(f.next_check, 600), f.caution ? [' ', el('strong', {}, 'Caution: '),
      nameOf(f.caution, 700)] : null) : null);
}
/* Things of one code that need the same, with the units and runs they miss. */
function missingTable(missing) {
  const by = new Map();
  missing.forEach((m) => {
    const key = m.code + '\u0000' + JSON.stringify(m.needs);
    by.set(key, (by.get(key) || []).concat([m]));
  });
  const some = (all, key) => {
    const found = [...new Set(all.map((m) => m[key]).filter((v) => v !== null &&
      v !== undefined))];
    return found.map((v, i) => [i ? ', ' : '', nameOf(v, 20)]);
  };
  return table('Not looked for, and what would be needed', ['code', 'needs',
    'units', 'runs'], [...by.values()].map((all) => [all[0].code,
    shortValue(all[0].needs), some(all, 'unit'), some(all, 'run')]));
}
function findings() {
  if (!result.findings && !result.not_looked_for) {
    return null;
  }
  const found = list(result.findings);
  const open = list(result.cannot_tell);
  return section('findings', 'Findings', null,
    found.length ? el('ol', {class: 'findings'}, found.map(findingItem)) :
      el('p', {}, 'Nothing was found among what could be looked for.'),
    open.length ? el('p', {}, el('a', {href: '#looked'},
      count(open.length, 'thing') + ' cannot be decided'), '; what would decide ' +
      'it stands there.') : null);
}
function looked() {
  const missing = list(result.not_looked_for);
  const all = list(result.looked_for);
  const open = list(result.cannot_tell);
  return all.length || missing.length || open.length ? section('looked', 'What ' +
    'cannot be told, and what was looked for', null, open.length ? el('ol',
    {class: 'findings'}, open.map(findingItem)) : null, all.length ? el('p', {class: 'dim'},
    'Looked for: ', all.map((c, i) => [i ? ', ' : '', el('code', {}, c)]), '.') :
    null, missing.length ? missingTable(missing) : null) : null;
}

/* ---- comparison ---- */

const verdictText = {'no-values': 'no values', 'run-more':
  'of these runs only: make more runs', 'no-change-shown': 'no change shown',
same: 'the same within the margin', 'command-differs':
  'the command differs', earlier: 'earlier', later: 'later'};
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
function fastestTravel(rows) {
  const all = rows.flatMap((r) => list(r.travel_in_lag)).map((t) => t.kmh);
  return all.length ? Math.max(...all) : null;
}
/* Marks of one side, spread a little so that each can be seen. */
function sideMarks(values, at, y, kind) {
  return values.map((s, n) => sv('circle', {cx: at(s), cy: y + (n * 4) % 11 - 5,
    r: 2.6, class: kind ? 'dot full' : 'dot hollow'}));
}
/* A row per unit: every application of both conditions a mark, base hollow
   above, against filled below; beside it the difference with its interval. */
function pairRows(title, rows) {
  const width = 690;
  const left = 212;
  const mid = 430;
  const right = 606;
  const step = 38;
  const sides = rows.map((r) => [valuesOf(r, r.base), valuesOf(r, r.against)]);
  const values = sides.flat(2);
  if (!values.length) {
    return null;
  }
  const scale = (low, high, from, to) => {
    const pad = (high - low || 0.01) * 0.04;
    return {at: (s) => from + (s - low + pad) * (to - from) /
      (high - low + 2 * pad), axis: ticks(low, high, 4)};
  };
  const v = scale(Math.min(0, ...values), Math.max(...values), left, mid - 20);
  const ends = rows.flatMap((r) => [r.low_s, r.high_s, r.difference_s])
    .filter(known);
  const d = scale(Math.min(0, ...ends), Math.max(0, ...ends), mid + 10,
    right - 8);
  const bottom = 22 + step * rows.length;
  const fast = fastestTravel(rows);
  const lines = (s, mark_) => s.axis.all.map((t) => [sv('path', {class: t === 0 ?
    'zero' : 'grid', d: 'M' + s.at(t) + ',18V' + bottom}), say(s.at(t),
    bottom + 13, fixed(t, s.axis.decimals), {'text-anchor': 'middle',
      class: 'small ' + mark_})]);
  const parts = [lines(v, 'x-tick'), ends.length ? lines(d, 'd-tick') : null,
    say(left, 10, 'every application, s', {class: 'small'}),
    say(mid + 10, 10, 'difference, interval, s', {class: 'small'}), fast ?
      say(right + 2, 10, 'm at ' + fixed(fast, 0) + ' km/h', {class: 'small'}) :
      null];
  rows.forEach((r, i) => {
    const y = 22 + step * i;
    const travel = list(r.travel_in_lag).find((t) => t.kmh === fast);
    parts.push(i % 2 ? sv('rect', {x: 0, y: y, width: width, height: step,
      class: 'stripe-over'}) : null, say(4, y + 22, shortName(r.unit, 20),
      {class: 'small strong'}));
    [r.base, r.against].forEach((name, k) => parts.push(say(left - 6, y + 14 +
      17 * k, cut(name, 12), {class: 'small', 'text-anchor': 'end'}),
    sideMarks(sides[i][k], v.at, y + 10 + 17 * k, k)));
    if (known(r.low_s)) {
      parts.push(sv('rect', {x: d.at(r.low_s), y: y + 12, height: 14,
        width: Math.max(1, d.at(r.high_s) - d.at(r.low_s)), class: 'interval'}));
    }
    if (known(r.difference_s)) {
      parts.push(sv('path', {class: 'middle', d: 'M' + d.at(r.difference_s) +
        ',' + (y + 9) + 'v20'}), say(right + 2, y + 22, travel &&
        known(travel.m) ? fixed(travel.m, 1) : '', {class: 'small'}));
    } else {
      parts.push(say(mid + 12, y + 22, verdictText[r.verdict] || '',
        {class: 'small dim'}));
    }
  });
  return el('div', {class: 'wide'}, picture(width, bottom + 20, title, parts));
}
function differenceKey(r) {
  return [r.base, r.against, r.unit, r.kind, r.shape, r.figure,
    known(r.kpa) ? r.kpa : ''].join('|');
}
/* Full before light; what is the same in every row is in the caption. */
function differenceTable(caption, all) {
  const order = ['full', 'service', 'light', 'unknown'];
  const rows = order.flatMap((k) => all.filter((r) => r.kind === k));
  const speeds = [...new Set(rows.flatMap((r) => list(r.travel_in_lag)
    .map((t) => t.kmh)))];
  const figureOf = (r) => figureName(r.figure) + (known(r.kpa) ? ' ' +
    stated(r.kpa) : '');
  const sidesOf = (r) => cut(r.against + ' against ' + r.base, 60);
  const one = (f) => new Set(rows.map(f)).size === 1;
  const columns = [['unit', 0, (r) => unitCell(r.unit)], ['kind', 0, kindWords],
    one(figureOf) ? null : ['figure', 0, figureOf], one(sidesOf) ? null :
      ['compared', 0, sidesOf], ['n', 0, (r) => r.n_against + ' and ' +
      r.n_base + (r.paired ? ', paired' : '')], ['difference, s', 1, (r) =>
      el('td', {class: 'n', 'data-difference': differenceKey(r)},
        withU(r.difference_s, r.u_s, 3))], ['interval, s', 1, (r) =>
      known(r.low_s) ? fixed(r.low_s, 3) + ' \u2026 ' + fixed(r.high_s, 3) :
        '\u2013'], ['p', 1, (r) => known(r.p) ? r.p < 0.001 ? '<\u00a00.001' :
      fixed(r.p, 3) : '\u2013'], ['shown', 0, (r) => verdictText[r.verdict] ||
      r.verdict || '\u2013'], ...speeds.map((s) => ['m at ' + s + ' km/h', 1,
      (r) => {
        const t = list(r.travel_in_lag).find((x) => x.kmh === s);
        return t ? withU(t.m, t.u_m, 2) : '\u2013';
      }])].filter(Boolean);
  const same = [one(figureOf) ? figureOf(rows[0]) : '', one(sidesOf) ?
    sidesOf(rows[0]) : ''].filter(Boolean).join(', ');
  return rows.length ? table(caption + (same ? ': ' + same : ''),
    columns.map((c) => c[0]), rows.map((r) => columns.map((c) => c[2](r))),
    columns.map((c) => c[1]), 'tight') : null;
}
const comparedFirst = ['response', words.filled, 'release_end',
  'demand_arrival'];
function comparison() {
  const rows = comparisonRows();
  if (!rows.length) {
    return null;
  }
  const groups = new Map();
  rows.filter((r) => comparedFirst.includes(r.figure)).forEach((r) => {
    const key = [['full', 'service', 'light', 'unknown'].indexOf(r.kind), r.shape,
      comparedFirst.indexOf(r.figure), r.base, r.against].join('\u0000');
    groups.set(key, (groups.get(key) || []).concat([r]));
  });
  const drawn = [...groups.keys()].sort().map((key) => {
    const g = groups.get(key).filter((r) => r.verdict !== 'no-values');
    if (!g.length) {
      return null;
    }
    const title = kindWords(g[0]) + ': ' + figureName(g[0].figure) +
      ', ' + g[0].against + ' (filled) against ' + g[0].base + ' (hollow)';
    const picture_ = pairRows(title, g);
    return picture_ ? el('figure', {}, el('figcaption', {}, cut(title, 160)),
      picture_) : null;
  });
  const how = result.compared || {};
  return section('comparison', 'How the conditions differ',
    'The difference is the second condition less the first: left of 0 is ' +
    'earlier. The measuring chain\u2019s own difference is taken off where a ' +
    'reference was recorded. Travel is the distance during the lag, not added ' +
    'stopping distance.', saidOf('compared'),
    drawn, differenceTable('Differences', rows.filter((r) =>
      r.figure === words.filled && r.verdict !== 'no-values')),
    list(how.notes).length ? noteList(how.notes) : null,
    bulk('All ' + rows.length + ' differences', () =>
      differenceTable('All differences', rows)),
    filled(how) ? bulk('How it was compared, and the order of the units', () =>
      generic('How it was compared', how)) : null);
}

function simple(id, title, lead, part) {
  return filled(part) ? section(id, title, lead, generic(title, part)) : null;
}
/* What a later version adds to the result shows as tables. */
function others() {
  const seen = ['schema', 'tool', 'trial', 'tables', 'recordings', 'runs',
    'answer', 'picture', 'comparison', 'compared', 'reach', 'characteristics', 'rear', 'transducers',
    'limits', 'lives', 'dynamics', 'predict', 'findings', 'cannot_tell', 'looked_for',
    'not_looked_for'];
  return Object.keys(result).filter((k) => !seen.includes(k)).map((k) =>
    simple('part-' + k, label(k), null, result[k]));
}
