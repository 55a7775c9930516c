/* SPDX-License-Identifier: MIT */
/* The job sheet: what to check, with boxes to tick, and room for a note, date
   and signature. It stands on page one of a print. */

/* What was found asks for a check each; the same words are one line. */
function checksToMake() {
  const by = new Map();
  list(result.findings).filter((f) => f.next_check).forEach((f) => {
    const key = f.next_check;
    const one = by.get(key) || {check: f.next_check, units: []};
    if (f.unit !== null && f.unit !== undefined && !one.units.includes(f.unit)) {
      one.units.push(f.unit);
    }
    by.set(key, one);
  });
  return [...by.values()];
}
/* What is to be heeded before any of them, once. */
function cautionsFirst() {
  return [...new Set(list(result.findings).filter((f) => f.next_check)
    .map((f) => f.caution).filter(Boolean))];
}
function tick() {
  return sv('svg', {class: 'tick', width: 13, height: 13, viewBox: '0 0 13 13',
    'aria-hidden': 'true'}, sv('rect', {x: 1, y: 1, width: 11, height: 11}));
}
function blank(title) {
  return el('div', {class: 'blank'}, el('span', {}, title));
}
function jobSheet() {
  const checks = checksToMake();
  const notes = list((result.trial || {}).record).filter((p) => p.key === 'note');
  if (!checks.length) {
    return jobSheetOf([el('p', {}, 'No finding asks for a check. That does not ' +
      'prove that nothing is wrong.')], notes);
  }
  return jobSheetOf([el('ul', {class: 'checks'}, checks.map((c) => el('li', {},
    tick(), el('div', {}, c.units.length ? [el('strong', {}, c.units.map((u, i) =>
      [i ? ', ' : '', unitIndex.has(String(u)) ? unitCell(String(u)) :
        nameOf(u, 40)])), ': '] : null, nameOf(inUnits(String(c.check)), 600))))),
  cautionsFirst().map((c) => el('p', {class: 'before'}, nameOf(c, 700)))], notes);
}
function jobSheetOf(inside, notes) {
  return section('sheet', 'To check', null, inside, notes.map((n) => el('p', {},
    el('strong', {}, 'Note: '), nameOf(n.value, 1000))), el('div', {class:
    'blanks'}, blank('Note'), blank('Done by, date, signature')));
}
