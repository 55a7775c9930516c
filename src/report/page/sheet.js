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
/* What is to be heeded before any of them, each sentence once. */
function cautionsFirst() {
  const all = list(result.findings).filter((f) => f.next_check && f.caution)
    .flatMap((f) => String(f.caution).split(/(?<=[.]) (?=[A-Z])/));
  return all.length ? [[...new Set(all)].join(' ')] : [];
}

/*
 * Page one of a print has the answer and the job sheet, on A4 and on Letter: what
 * is drawn between them gives way, courses first, the last condition's before the
 * first one's. A browser does not tell where a sheet ends before it prints: heights
 * are those of print's own style, text by its letters (own choice, on the safe
 * side; a test prints trains of both ends of it).
 */
const sheetHigh = 925;   /* of Letter's 965 px between the margins */
const letterWide = 0.58; /* of its size, bold text */
function textHigh(text, size, width) {
  return Math.ceil(String(text).length * size * letterWide / width) * size * 1.27;
}
function stacked(items, high) {
  let all = 0;
  items.forEach((item, i) => {
    all += high(item, i);
  });
  return all;
}
function sheetNeeds(conditions, courses) {
  const beside = sheetWidth * (oddUnits.size ? 0.64 : 0.96);
  const head = 50 + 32 * list(result.answer).filter((s) => s.topic === 'unread')
    .length;
  const said = 24 + stacked(verdicts, (s) => 4 + textHigh(s.text, 15, beside));
  const drawn = stacked(combinations, (c) => 84 + stacked(pictures.filter((g) =>
    g.combination === c).slice(0, conditions), (g, i) => 80 + Math.max(11.5,
    Math.min(15, 90 / g.apply.units.length)) * g.apply.units.length + (i <
    courses ? 118 : 0)));
  return head + said + drawn + stacked(checksToMake(), (c) => 5 + textHigh(
    c.check, 12.5, sheetWidth - 90)) + stacked(cautionsFirst(), (c) => 5 +
    textHigh(c, 12, sheetWidth)) + stacked(notesToPrint(), (n) => 10 +
    textHigh(n.value, 12.7, sheetWidth));
}
function sheetPlan() {
  const plans = [[2, 2], [2, 1], [2, 0], [1, 1], [1, 0]];
  const [conditions, courses] = plans.find((p) => sheetNeeds(...p) < sheetHigh) ||
    [1, 0];
  return {conditions: conditions, courses: courses};
}
function notesToPrint() {
  return list((result.trial || {}).record).filter((p) => p.key === 'note');
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
  const notes = notesToPrint();
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
