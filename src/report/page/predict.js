/* SPDX-License-Identifier: MIT */
/* What air alone would take: a line per unit, the band drawn behind the
   measured times. */

function predictedRows() {
  return list(result.predict).flatMap((u) => list(u.figures).map((f) =>
    Object.assign({of: u}, f)));
}
const predictVerdict = {inside: 'inside', later: 'later', earlier: 'earlier',
  'not-decided': 'not decided'};
function predictedCell(r) {
  return known(r.low_s) ? fixed(r.low_s, 3) + ' \u2026 ' + fixed(r.high_s, 3) :
    '\u2013';
}
/* Inputs that a trial can state, and did not. */
function usualInputs(u) {
  return list(u.inputs).filter((i) => i.from === 'usual' && ['bore', 'volume',
    'crack', 'gain', 'chambers', 'reservoir_volume', 'reservoir pressure',
    'air temperature'].includes(i.what)).map((i) => i.what).join(', ');
}
function predictSection() {
  const rows = predictedRows();
  const refused = list(result.predict).filter((u) => u.reason);
  if (!rows.length && !refused.length) {
    return null;
  }
  const order = {later: 0, earlier: 1, 'not-decided': 2, inside: 3};
  const told = rows.filter((r) => ['response', 'apply_75', 'fill',
    'release_end'].includes(r.figure) || r.verdict === 'later' ||
    r.verdict === 'earlier').sort((a, b) => order[a.verdict] -
    order[b.verdict]);
  const usual = list(result.predict).filter((u) => u.inputs.length &&
    usualInputs(u));
  return section('predict', 'What air alone would take',
    'A model driven by the recorded command, at the fast and at the slow end ' +
    'of all that is known of the train. Not a limit.',
    told.length ? table('Measured against the band', ['unit', 'run',
      'application', 'figure', 'air alone, s', 'measured, s', 'n', ''],
    told.map((r) => [unitCell(r.of.unit), nameOf(r.of.run, 30),
      r.kind + ', ' + r.shape, label(r.figure), predictedCell(r),
      known(r.measured_s) ? withU(r.measured_s, r.u_s, 3) : '\u2013',
      String(r.n), r.implausible ? 'sooner than any wave of air' :
        predictVerdict[r.verdict] + (r.reason ? ': ' + label(r.reason) : '')]),
    [0, 0, 0, 0, 1, 1, 1, 0]) : null,
    refused.length ? el('p', {}, 'Not predicted: ', refused.map((u, i) => [
      i ? '; ' : '', unitName(u.unit), ' in run ', nameOf(u.run, 30), ' (',
      label(u.reason), ')']), '.') : null,
    usual.length ? el('details', {}, el('summary', {},
      'What is not stated and so widens the band'),
    el('ul', {}, usual.map((u) => el('li', {}, unitName(u.unit), ', run ',
      nameOf(u.run, 30), ': ', usualInputs(u))))) : null);
}
