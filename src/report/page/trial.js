/* SPDX-License-Identifier: MIT */
/* What was tested and how: the train, conditions, wiring, instruments, files,
   recorders with their clocks. */

function sizeOf(bytes) {
  return bytes < 1e5 ? count(bytes, 'byte') : fixed(bytes / 1e6, 1) + ' MB';
}
function hashCell(hash) {
  return hash ? el('code', {class: 'hash'}, hash) : 'not read to the end';
}
function tonnes(kg) {
  return fixed(kg / 1000, kg < 1e4 ? 1 : 0) + ' t';
}

const claims = {
  absolute: 'lags can be measured',
  bounded: 'lags include a systematic error, stated as its u',
  'differences-only': 'only differences between units mean anything',
  none: 'no figure may cross to this recording',
  ambiguous: 'fits in several ways and is refused'};

/* One sentence per way in which recordings were tied. */
function clockSentences() {
  const by = new Map();
  list(result.recordings).forEach((r) => {
    if (r.clock && r.clock.method !== 'own') {
      const key = r.clock.method + '\u0000' + r.clock.claim;
      by.set(key, (by.get(key) || []).concat([r]));
    }
  });
  return [...by].map(([key, all]) => {
    const [method, claim] = key.split('\u0000');
    return el('li', {}, 'Recorder clocks in ', [...new Set(all.map((r) =>
      r.run))].map((n, i) => [i ? ', ' : '', nameOf(n, 20)]), ': tied by ' +
      label(method) + ', claim ' + claim + ': ' + (claims[claim] || '') + '.');
  });
}
function recorderSentence() {
  const kinds = (k) => list(result.recordings).filter((r) => r.kind === k);
  const buses = new Set(list(result.recordings).flatMap((r) => list(r.buses)));
  const logs = kinds('log');
  const captures = kinds('capture');
  const said = [logs.length ? count(logs.length, 'analog log') + ' with ' +
    count(list((result.trial || {}).channels).length, 'described channel') :
    'no analog log', captures.length ? count(captures.length, 'bus capture') +
    ' of ' + count(buses.size, 'bus', 'buses') : 'no bus capture'];
  return el('li', {}, 'Recorded: ' + said.join(', ') + '. The SHA-256 of each ' +
    'file stands under wiring, instruments and files.');
}

/* Whose number is which unit's, where the trial file says it. */
function identityTable() {
  const stated = units.filter((u) => u.id || list(u.labels).length);
  return stated.length ? table('Units by their own numbers', ['unit', 'id',
    'labels'], stated.map((u) => [unitCell(u.unit), nameOf(u.id || '\u2013', 40),
    nameOf(list(u.labels).map((l) => l.label + ': ' + l.value).join(', ') ||
      '\u2013', 200)])) : null;
}
function tested() {
  const trial = result.trial || {};
  const record = list(trial.record);
  const stated = runs.map((r) => [nameOf(r.name, 20), nameOf(r.condition, 30),
    r.power || 'not stated', r.data || 'not stated',
    r.control_air || 'not stated', String(list(r.applications).length),
    r.failure ? nameOf(r.failure.text, 300) : 'measured']);
  return section('tested', 'What was tested, and how', null,
    combinations.map((c) => [combinations.length > 1 ?
      el('h3', {}, 'Combination ' + c) : null, trainDrawing(c)]),
    record.length ? table('Record of the trial', ['what', 'stated'],
      record.map((p) => [nameOf(p.key.replace(/_/g, ' '), 40), nameOf(p.value, 400)])) :
      el('p', {class: 'dim'}, 'The trial file records no date, place, tester ' +
        'or instruments: section [record] is empty.'),
    identityTable(),
    table('Runs as the trial file declares them', ['run', 'condition', 'power',
      'data', 'control air', 'applications', 'state'], stated,
    [0, 0, 0, 0, 0, 1, 0]),
    el('ul', {class: 'plain'}, recorderSentence(), clockSentences(),
      el('li', {}, 'Written by ' + result.tool.name + ' ' + result.tool.version +
        ', result schema ' + result.schema + '.')));
}

/* ---- wiring, instruments, files ---- */

function wiringTable() {
  const rows = units.map((u) => [unitCell(u.unit),
    u.address === null ? '\u2013' : '0x' + Number(u.address).toString(16)
      .toUpperCase().padStart(2, '0'), nameOf(u.bus || '\u2013', 30),
    nameOf([u.command, u.control, u.control_b, u.control_out].filter(Boolean)
      .join(', ') || '\u2013', 80),
    nameOf(list(u.outputs).map((o) => (o.label ? o.label + ': ' : '') + o.from)
      .join(', ') || '\u2013', 80),
    nameOf([u.reservoir, u.voltage].filter(Boolean).join(', ') || '\u2013', 60),
    known(u.mass_kg) ? tonnes(u.mass_kg) : '\u2013',
    u.load === 'mass' ? tonnes(u.load_kg) : u.load || '\u2013',
    known(u.force_kn_per_kpa) ? fixed(u.force_kn_per_kpa, 3) : '\u2013',
    known(u.line_m) ? fixed(u.line_m, 1) : '\u2013']);
  return table('Wiring, masses and lines; a dash is not stated. A line is the ' +
    'pipe from valve to valve, coiled hoses counted: 14 m of vehicle are 20 to ' +
    '25 m of line', ['unit',
    'address', 'bus in front', 'command or control', 'outputs', 'supply', 'mass',
    'load', 'force, kN/kPa', 'line, m'], rows, [0, 0, 0, 0, 0, 0, 1, 0, 1, 1]);
}
function percentOf(v) {
  return fixed(100 * v, 2) + ' %';
}
/* What an instrument is stated to do. */
function instrumentTable() {
  const all = list((result.trial || {}).channels);
  const either = (c, value, fraction) => [known(c[value]) ?
    shortNumber(c[value]) + ' ' + c.unit : null, known(c[fraction]) ?
    percentOf(c[fraction]) : null].filter(Boolean).join(', ') || '\u2013';
  const single = (c, key) => known(c[key]) ? shortNumber(c[key]) + ' ' + c.unit :
    '\u2013';
  const rows = all.map((c) => [nameOf(c.channel, 30), nameOf([c.log, c.column]
    .filter(Boolean).join(': '), 60), c.quantity +
    (c.measured_in ? ' in ' + c.measured_in : ''),
  either(c, 'accuracy', 'accuracy_fraction'), single(c, 'u_zero'),
  known(c.u_gain_fraction) ? percentOf(c.u_gain_fraction) : '\u2013',
  single(c, 'resolution'), known(c.delay_s) ? withU(c.delay_s * 1000,
    known(c.u_delay_s) ? c.u_delay_s * 1000 : null, 1) : '\u2013',
  known(c.trips_at_kpa) ? 'trips at ' + stated(c.trips_at_kpa) :
    known(c.range_high) ? shortNumber(c.range_low) + ' \u2026 ' +
      shortNumber(c.range_high) + ' ' + c.unit : '\u2013',
  nameOf(c.calibrated || '\u2013', 60)]);
  return rows.length ? table('Instruments as stated; a dash is not stated, and ' +
    'then not included in the uncertainty', ['channel', 'column', 'measures',
    'accuracy', 'u of zero', 'u of gain', 'resolution', 'delay, ms', 'range',
    'calibrated'], rows, [0, 0, 0, 1, 1, 1, 1, 1, 0, 0]) : null;
}
function fileTable() {
  const trial = result.trial || {};
  const files = [];
  list(result.recordings).forEach((r) => [r].concat(list(r.more_files))
    .forEach((f) => files.push([nameOf(f.file, 60), nameOf(r.run, 20),
      r.kind, r.kind === 'log' ? count(r.rows, 'row') :
        count(r.frames, 'frame'), sizeOf(f.bytes), hashCell(f.sha256)])));
  files.push([nameOf(trial.file, 60), '', 'trial file', '', '',
    hashCell(trial.sha256)]);
  list(result.tables).forEach((t) => files.push([nameOf(t.name, 40), '',
    'mapping table', count(t.signals, 'signal') + (t.from_memory ? ', ' +
      t.from_memory + ' from memory' : ''), '', hashCell(t.sha256)]));
  return table('Files, as stored', ['file', 'run', 'kind', 'content', 'size',
    'SHA-256'], files);
}
function setup() {
  const trial = result.trial || {};
  const warnings = list(trial.warnings).concat(list(result.recordings)
    .flatMap((r) => list(r.warnings).concat(r.failure ? [r.failure] : [])
      .map((w) => Object.assign({}, w, {text: r.file + ': ' + w.text}))),
  runs.flatMap((r) => Object.values(r.warnings || {}).flat()
    .map((w) => Object.assign({}, w, {text: 'run ' + r.name + ': ' + w.text}))));
  return section('setup', 'Wiring, instruments and files', null,
    el('details', {open: units.length < 4}, el('summary', {},
      'Wiring, masses and lines'), wiringTable()),
    el('details', {}, el('summary', {}, 'Instruments'), instrumentTable() ||
      el('p', {class: 'dim'}, 'No analog channel is described.')),
    el('details', {}, el('summary', {}, 'Files with their SHA-256'),
      fileTable()),
    warnings.length ? [el('h3', {}, 'Noticed while reading'),
      noteList(warnings)] : null);
}

/* ---- clocks ---- */

/* How far each pair of events lies off the line between two clocks. */
function residualPlot(recording) {
  const c = recording.clock;
  const points = list(c.residuals);
  if (!points.length) {
    return null;
  }
  const width = 320;
  const height = 130;
  const left = 44;
  const t = ticks(Math.min(0, ...points.map((p) => p.at_s)),
    Math.max(1, ...points.map((p) => p.at_s)), 4);
  const most = Math.max(0.001, ...points.map((p) => Math.abs(p.off_s))) * 1.15;
  const v = ticks(-most * 1000, most * 1000, 6);
  const end = Math.max(...points.map((p) => p.at_s), t.all[t.all.length - 1]);
  const x = (s) => left + s * (width - left - 10) / end;
  const y = (ms) => 8 + (most * 1000 - ms) * (height - 38) / (2 * most * 1000);
  return el('figure', {}, el('figcaption', {}, nameOf(recording.name, 30)),
    picture(width, height, 'Residuals of ' + recording.name + ' in milliseconds',
      v.all.map((ms) => [sv('path', {class: ms === 0 ? 'zero' : 'grid',
        d: 'M' + left + ',' + y(ms) + 'H' + (width - 10)}),
      say(left - 4, y(ms) + 4, fixed(ms, v.decimals),
        {class: 'small y-tick', 'text-anchor': 'end'})]),
      t.all.filter((s) => s >= 0).map((s) => say(x(s), height - 14, fixed(s,
        t.decimals), {class: 'small x-tick', 'text-anchor': 'middle'})),
      say(width - 10, height - 2, 's of the run; up: ms',
        {class: 'small', 'text-anchor': 'end'}),
      points.map((p) => mark(p.used ? 0 : 5, x(p.at_s), y(p.off_s * 1000), 2.8,
        {class: p.used ? 'dot' : 'dot left-out'}))));
}
function clocks() {
  const tied = list(result.recordings).filter((r) => r.clock);
  const rows = tied.map((r) => {
    const c = r.clock;
    const own = c.method === 'own';
    return [nameOf(r.name, 40), nameOf(r.run, 20), c.method,
      el('td', {}, c.claim, el('small', {}, ' ' + (own ?
        'its time is that of the run' : claims[c.claim] || ''))),
      el('td', {class: 'n', 'data-offset': r.name}, own ? '\u2013' :
        withU(c.offset_s, c.u_whole_s, 4)),
      own ? '\u2013' : known(c.drift_ppm) ?
        withU(c.drift_ppm, c.u_drift_ppm, 1) : '\u2013',
      c.pairs ? c.pairs + (c.outliers ? ' (' + c.outliers + ' left out)' : '') :
        '\u2013',
      known(c.residual_s) ? fixed(c.residual_s * 1000, 2) : '\u2013',
      known(c.extrapolation_s) ? fixed(c.extrapolation_s, 1) : '\u2013'];
  });
  const plots = tied.map(residualPlot).filter(Boolean);
  return rows.length ? section('clocks', 'Recorders and their clocks',
    'How the time of each recording was carried over to that of its run, and ' +
    'what figures across the two may claim.',
    table('Clock ties', ['recording', 'run', 'method', 'claim', 'offset, s',
      'drift, ppm', 'pairs', 'scatter, ms', 'reach beyond pairs, s'], rows,
    [0, 0, 0, 0, 1, 1, 1, 1, 1]), plots.length ? [el('h3', {},
      'How far each pair of events lies off its line'), el('p', {class: 'hint'},
      'Circles were used, crosses were left out as outliers.'),
    el('div', {class: 'row'}, plots)] : null) : null;
}
