/* SPDX-License-Identifier: MIT */
/* The sections that every report has. */

const runs = list(result.runs);
const combinations = [...new Set(units.map((u) => u.unit.includes('.') ?
  u.unit.split('.')[0] : 'A'))];
/* Powered conditions first, those that only compare the measuring chains last. */
const references = new Set(list(result.comparison).map((c) => c.reference)
  .concat(['reference']).filter(Boolean));
const conditions = [...new Set(runs.map((r) => r.condition))].sort((a, b) =>
  rankOf(a) - rankOf(b));
function rankOf(condition) {
  return references.has(condition) ? 3 :
    runs.some((r) => r.condition === condition && r.power === 'on') ? 0 : 1;
}

function kindsIn(list_) {
  const n = new Map();
  list_.forEach((s) => {
    const key = kindWords(s);
    n.set(key, Math.max(n.get(key) || 0, s.n));
  });
  return [...n.keys()];
}

const harder = ['full', 'service', 'light', 'unknown'];

/* ---- the answer ---- */

/* The result's own sentences: what the page draws is what text and JSON say.
   Those of a study stand at the head of its section. */
const ofStudies = ['compared', 'predicted', 'curves'];
function answer() {
  const all = list(result.answer).filter((s) => !s.first &&
    !ofStudies.includes(s.topic));
  return all.length ? section('answer', 'What else was seen', null,
    el('ul', {class: 'answer'}, all.map((s) => el('li', {},
      cut(inUnits(String(s.text)), 900))))) : null;
}

/* ---- lanes and summary ---- */

/* Runs in the order of their conditions, powered first. */
function orderedRuns() {
  return runs.map((r, i) => [r, i]).sort((a, b) =>
    conditions.indexOf(a[0].condition) - conditions.indexOf(b[0].condition) ||
    a[1] - b[1]).map((p) => p[0]);
}
/* A unit that never answered in these applications has a line that says so: one
   that is missing looks as if it had not been tried. */
function laneRows(kind, first, second) {
  const order = orderedRuns();
  return units.map((u) => ({unit: u.unit, bars: order.map((r) => {
    const find = (figure) => list(r.summary).find((s) => s.unit === u.unit &&
      kindWords(s) === kind && s.figure === figure);
    const shown = (s) => s && known(s.median_s) ? s : undefined;
    const tried = list(r.applications).filter((a) => !a.excluded &&
      kindWords(a) === kind).map((a) => a.units.find((x) => x.unit === u.unit));
    const silent = first !== 'demand_arrival' && tried.length > 0 &&
      tried.every((x) => x && x.responded === false);
    return {name: r.name, style: conditions.indexOf(r.condition) % 4,
      first: shown(find(first)), second: shown(find(second)),
      none: silent ? 'no first air in ' + tried.length + ' of ' +
        tried.length : ''};
  }).filter((b) => b.first || b.second || b.none)}));
}
function laneKey() {
  return el('p', {class: 'key-line'}, conditions.map((c, i) => [
    sv('svg', {width: 34, height: 12, 'aria-hidden': 'true'},
      sv('rect', {x: 1, y: 1, width: 32, height: 10, class: 'lane lane' +
        (i % 4)})), ' ', nameOf(c, 30), ' (' + runs.filter((r) =>
      r.condition === c).map((r) => r.name).join(', ') + ')  ']));
}
/* Apply and release mean nothing without the outputs; then the arrival of the
   demand is what can be drawn. */
const lanePairs = [
  ['Apply: from ' + figureName('response') + ' to ' + figureName(words.filled),
    'response', words.filled, [figureName('response'),
      figureName(words.filled)]],
  ['Release: from its start to its end', 'release_start', 'release_end',
    ['start', 'end']],
  ['Electronic demand: when it arrived', 'demand_arrival', 'demand_arrival',
    ['arrival', 'arrival']]];
function laneKinds() {
  const kinds = kindsIn(runs.flatMap((r) => list(r.summary)));
  const order = ['full', 'service', 'light'].map(label);
  kinds.sort((a, b) => (order.indexOf(a.split(',')[0]) + 9) % 9 -
    (order.indexOf(b.split(',')[0]) + 9) % 9);
  return kinds;
}
/* The hardest applications first; the rest stands with the medians. */
function laneFigures(more) {
  const kinds = laneKinds();
  const all = kinds.flatMap((kind) => lanePairs.map((p) => [kind, p]));
  const isFirst = ([kind, p]) => kind === kinds[0] && p !== lanePairs[2];
  const some = all.filter((a) => isFirst(a) !== more).map(laneFigure)
    .filter(Boolean);
  return some;
}
function laneFigure([kind, p]) {
  const rows = laneRows(kind, p[1], p[2]);
  if (!rows.some((r) => r.bars.some((b) => b.first || b.second))) {
    return null;
  }
  const limits = list(result.limits).filter((l) => l.source === 'trial' &&
    l.figure === p[2] && known(l.max_s));
  return el('figure', {class: 'lanes'}, el('figcaption', {}, el('strong', {},
    kind), ' \u2013 ' + p[0]), lanes(kind + ': ' + p[0], rows, p[3], limits));
}
function laneRow(more) {
  const row = el('div', {class: 'row lane-row'}, laneFigures(more));
  row.again = () => row.replaceChildren(...laneFigures(more));
  return row;
}
function lanesSection() {
  const row = laneRow(false);
  return row.firstChild ? section('lanes', 'Which unit is late',
    'Seconds after the command, units from front to rear. A bar reaches from ' +
    'the first figure to the second (medians of the run); thin lines span the ' +
    'applications.', laneKey(), row) : null;
}
function furtherSection() {
  const tables = laneKinds().map((k) => summaryTable(k)).filter(Boolean);
  const row = laneRow(true);
  return tables.length ? section('medians', 'Further applications, and the ' +
    'medians of each run', null, row.firstChild ? [laneKey(), row] : null,
  tables) : null;
}
const summaryFigures = words.list.filter((f) => f.of_unit).map((f) => f.name);
/* In the order of time: at light demand 10 % of the hold lie below response_at.
   `values` gives what units have of a figure, in seconds. */
function inTime(figures, values) {
  const order = figures.slice();
  [['response', 'apply_10'], ['release_10', 'release_end']].forEach(([a, b]) => {
    const i = order.indexOf(a);
    const first = values(a);
    const second = values(b);
    const before = second.filter((s, k) => s < first[k]).length;
    const after = second.filter((s, k) => s > first[k]).length;
    if (i >= 0 && order[i + 1] === b && before > after) {
      order.splice(i, 2, b, a);
    }
  });
  return order;
}
function summaryTable(kind) {
  const rows = [];
  const present = summaryFigures.filter((f) => runs.some((r) => list(r.summary)
    .some((s) => kindWords(s) === kind && s.figure === f)));
  const used = inTime(present, (f) => units.flatMap((u) => runs.map((r) => {
    const s = list(r.summary).find((m) => m.unit === u.unit && m.figure === f &&
      kindWords(m) === kind);
    return s && known(s.median_s) ? s.median_s : NaN;
  })));
  units.forEach((u) => orderedRuns().forEach((r) => {
    const mine = list(r.summary).filter((s) => s.unit === u.unit &&
      kindWords(s) === kind);
    if (mine.length) {
      const most = Math.max(...mine.map((m) => m.n));
      rows.push([unitCell(u.unit), nameOf(r.name, 16), nameOf(r.condition, 20),
        String(most),
        ...used.map((f) => {
          const s = mine.find((m) => m.figure === f);
          return el('td', {class: 'n', 'data-median': [r.name, u.unit, kind, f]
            .join('|')}, s && known(s.median_s) ? [fixed(s.median_s, 3), el('br', {}),
            el('small', {}, fixed(s.low_s, 3) + '\u2026' +
              fixed(s.high_s, 3) + (s.n === most ? '' : ', n ' + s.n))] :
            '\u2013');
        })]);
    }
  }));
  return rows.length ? el('details', {}, el('summary', {}, kind +
    ': medians, below them smallest and largest'), table('Medians, s: ' + kind, ['unit', 'run', 'condition', 'n',
    ...used.map(figureName)], rows, [0, 0, 0, 1, ...used.map(() => 1)])) : null;
}

/* ---- applications ---- */

function applicationTable(run, a) {
  const levels = list(a.units[0] && a.units[0].levels).map((l) => l.kpa);
  const used = inTime(summaryFigures.filter((f) => a.units.some((u) => u[f] &&
    (known(u[f].s) || u[f].reason !== 'no-channel'))), (f) => a.units.map((u) =>
    u[f] && known(u[f].s) ? u[f].s : NaN));
  const allDid = a.units.every((u) => u.responded === true);
  const rows = a.units.map((u) => {
    const at = [run.name, a.combination, a.number, u.unit].join('|');
    return [unitCell(u.unit),
      u.responded === true ? allDid ? '' : 'yes' : u.responded === false ? 'no' :
        el('span', {class: 'why', title: 'no output is wired'}, '\u2013'),
      el('td', {class: 'n'}, level(u.hold), u.hold && u.hold.hold_from &&
        u.hold.hold_from !== 'settled' ? el('small', {}, ' not settled: ' +
        u.hold.hold_from) : null),
      ...used.map((f) => figureCell(u[f], at + '|' + f)),
      ...levels.map((k, i) => figureCell(list(u.levels)[i],
        at + '|level ' + k)),
      list(u.flags).map((f) => words.flags[f] || f).join('; ')];
  });
  return tableOfSaid('Application ' + a.number + ' of run ' + run.name +
    ': seconds after the command (release figures: after its release), \u00b1 is k = 2' + (allDid ? '; every unit responded' : ''),
  ['unit', 'responded', label('hold'), ...used.map(figureName),
    ...levels.map((k) => 'to ' + stated(k)), 'keep in mind'], rows,
  [0, 0, 1, ...used.map(() => 1), ...levels.map(() => 1), 0]);
}
const legNames = {demand_sent: 'to the first link', demand_arrival:
  'to its own link', unit_report: 'to its report', response: 'to its output'};
/* Where the time to a unit's first air goes, leg by leg. */
function pathTable(run, a) {
  const ends = [...new Set(a.units.flatMap((u) => list(u.path)).filter((l) =>
    known(l.s)).map((l) => l.to))];
  const with_ = a.units.filter((u) => list(u.path).some((l) => known(l.s)));
  return with_.length ? table('Application ' + a.number + ' of run ' + run.name +
    ': where the time to first air goes, s; each leg counts from the event before it',
  ['unit', ...ends.map((e) => legNames[e] || label(e)), figureName('response')],
  with_.map((u) => [unitCell(u.unit), ...ends.map((e) => figureCell(list(u.path)
    .find((l) => l.to === e))), figureCell(u.response)]),
  [0, ...ends.map(() => 1), 1]) : null;
}
function pressureTable(run, a) {
  const of = ['rest', 'hold', 'peak', 'control_peak', 'reservoir_least',
    'voltage_least'];
  return tableOfSaid('Application ' + a.number + ' of run ' + run.name +
    ': pressures', ['unit', label('rest'), label('hold'), 'peak', 'peak of the control air',
    'least of the reservoir', 'least voltage'], a.units.map((u) =>
    [unitCell(u.unit), ...of.map((k) => level(u[k]))]), [0, 1, 1, 1, 1, 1, 1]);
}
function applicationHead(a) {
  const c = a.command;
  const parts = ['command' + (known(c.apply_s) ? ' at ' +
    withU(c.apply_s, null, 3) + ' s of the run' : ' began before the recording'),
  c.hold && known(c.hold.value) ? (c.hold.hold_from === 'last' || c.hold
    .hold_from === 'peak' ? 'not settled, ' + c.hold.hold_from + ' ' :
    'settled at ') + level(c.hold) : null,
  known(c.release_s) ? 'released at ' + fixed(c.release_s, 3) + ' s' :
    'release not seen',
  a.spread && known(a.spread.s) ? 'first to last unit ' + seconds(a.spread) +
    ' s' : null,
  c.modulations ? count(c.modulations, 'dip') + ' in between' : null];
  return parts.filter(Boolean).join(', ');
}
function applicationPart(run, a, window_, open) {
  const body = el('div', {class: 'application'});
  const title = 'Application ' + a.number + (combinations.length > 1 ?
    ' of combination ' + a.combination : '');
  const details = el('details', {class: 'app', open: open},
    el('summary', {}, el('strong', {}, title), ' ' + kindWords(a) +
      ' \u2013 ' + applicationHead(a) + (a.excluded ? ' \u2013 excluded' : '')),
    body);
  let filled = false;
  details.fillIn = () => {
    if (filled) {
      return;
    }
    filled = true;
    if (a.excluded) {
      body.append(el('p', {class: 'excluded'}, 'Excluded by the trial file: ',
        nameOf(a.excluded_why || 'no reason given', 300)));
    }
    if (window_ && window_.traces.length) {
      const group = chartGroup(run, a, window_);
      details.print = group.print;
      body.append(group.holder);
    } else {
      body.append(el('p', {class: 'dim'}, 'No trace was recorded here.'));
    }
    const some = a.units.some((u) => u.responded !== null || summaryFigures
      .some((f) => u[f] && (known(u[f].s) || u[f].reason !== 'no-channel')));
    body.append(...(some ? [applicationTable(run, a), el('details', {},
      el('summary', {}, 'Pressures and where the time to first air goes'),
      pressureTable(run, a), pathTable(run, a))] : [el('p', {class: 'dim'},
      'No output and no demand of a unit was recorded, so there is no figure ' +
      'to give.')]));
  };
  details.addEventListener('toggle', () => details.open && details.fillIn());
  if (open) {
    details.fillIn();
  }
  return details;
}
function applicationsSection() {
  const all = [];
  const parts = orderedRuns().map((run) => {
    const traces = traceRuns.find((t) => t && t.run === run.name);
    const seen = new Set();
    const hardest = harder.find((k) => list(run.applications).some((a) =>
      a.kind === k && !a.excluded));
    const inside = list(run.applications).map((a) => {
      const window_ = traces && traces.applications.find((w) =>
        w.number === a.number && w.combination === a.combination);
      /* The first of the hardest kind is open; a print shows what is open. */
      const part = applicationPart(run, a, window_, a.kind === hardest &&
        !seen.has(a.kind) && !a.excluded);
      seen.add(a.excluded ? '' : a.kind);
      all.push(part);
      return part;
    });
    return [el('h3', {}, 'Run ', nameOf(run.name, 40), run.condition ===
      run.name ? null : [' \u2013 ', nameOf(run.condition, 40)]), inside.length ? inside : el('p', {class: 'dim'},
      run.failure ? nameOf(run.failure.text, 400) : 'No application was found.')];
  });
  const setAll = (on) => all.forEach((d) => {
    d.open = on;
    if (on) {
      d.fillIn();
    }
  });
  return section('applications', 'Every application',
    'Traces with the points that were read off them, so that anyone can ' +
    'disagree. A print shows the applications that are open.',
    el('div', {class: 'tools'},
      el('button', {type: 'button', click: () => setAll(true)}, 'open all'),
      el('button', {type: 'button', click: () => setAll(false)}, 'close all')),
    parts);
}

/* ---- uncertainty, exclusions, method, cautions ---- */

const components = words.components;
function budget() {
  const rows = words.budget.map((b) => [unitCell(b.unit), figureName(b.figure),
    ...b.parts.map((m) => known(m) ? fixed(m * 1000, 2) : el('span', {class:
      'why', title: 'not stated by the channel, so not included'},
    'not included')), fixed(b.u * 1000, 2)]);
  return rows.length ? section('budget', 'Where the uncertainty comes from',
    'Standard uncertainties in milliseconds, medians over the applications. ' +
    'What a channel does not state is not included.',
    el('details', {}, el('summary', {}, 'Uncertainty budget by unit and figure'),
      table('Uncertainty budget, ms', ['unit', 'figure', ...components, 'u'],
        rows, [0, 0, ...components.map(() => 1), 1]))) : null;
}
function exclusions() {
  const rows = [];
  runs.forEach((r) => list(r.applications).forEach((a) => {
    [['begun_before', 'began before the recording: no apply figures'],
      ['unfinished', 'the recording ends before the release']].forEach((p) =>
      a[p[0]] && rows.push([nameOf(r.name, 20), String(a.number), 'command',
        p[1]]));
    if (a.excluded) {
      rows.push([nameOf(r.name, 20), String(a.number), 'whole application',
        nameOf(a.excluded_why || 'no reason given', 300)]);
    }
  }));
  const why = new Map();
  runs.forEach((r) => list(r.applications).forEach((a) => a.units.forEach((u) =>
    summaryFigures.concat(['spread']).forEach((f) => {
      const v = f === 'spread' ? null : u[f];
      if (v && !known(v.s) && v.reason && v.reason !== 'no-channel') {
        const key = [r.name, u.unit, f, v.reason].join('\u0000');
        why.set(key, (why.get(key) || 0) + 1);
      }
    }))));
  [...why].forEach(([key, n]) => {
    const [run, unit, figure, reason] = key.split('\u0000');
    rows.push([nameOf(run, 20), count(n, 'application'), unitName(unit) + ', ' +
      figureName(figure), words.reasons[reason] || reason]);
  });
  return section('exclusions', 'What was left out, and why', null, rows.length ?
    table('Left out', ['run', 'application', 'what', 'why'], rows) :
    el('p', {}, 'Nothing was left out.'));
}
function method() {
  const t = result.trial || {};
  return section('method', 'How the figures are read off', null,
    el('p', {}, 'An application begins when the command passes its level above ' +
      'its released pressure and ends when it has fallen below half of it. The ' +
      'released pressure is the median of the quiet stretch before, the settled ' +
      'pressure that of the steady stretch; a share of settled is counted from ' +
      'released. Samples are joined by straight lines; values from a bus stay ' +
      'until the next frame. Apply figures count from the command\u2019s rise, ' +
      'release figures from its fall. Powered means with the electronics ' +
      'connected, unpowered with them disconnected.'),
    el('dl', {}, words.list.map((f) => f.name).map((f) => [
      el('dt', {}, figureName(f)), el('dd', {}, words.figures[f].replace(
        'response_at', stated(t.response_at_kpa)))])),
    el('p', {}, 'First air is taken ' + stated(t.response_at_kpa) +
      ' above the released pressure; push rods are taken to start at ' +
      stated(t.brakes_at_kpa) + '. Summaries keep light (settled under ' +
      stated(150) + '), medium and full (from ' + stated(550) +
      ') applications, and steps and ramps, apart. Every figure has a ' +
      'standard uncertainty; \u00b1 shows twice that (k = 2). A missing figure is ' +
      'a dash with its reason, never nought.'),
    null);
}
function cautions() {
  return section('cautions', 'Cautions', null, el('ul', {}, words.cautions.map((t) =>
    el('li', {}, t))));
}
