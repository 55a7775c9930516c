/* SPDX-License-Identifier: MIT */
/* The page in the reader's order, the list of contents, print and theme. */

function pageHead() {
  const record = list(result.trial.record).filter((p) =>
    ['date', 'place', 'tester', 'plates'].includes(p.key));
  return el('header', {}, el('h1', {}, nameOf(result.trial.name ||
    'Brake trial', 200)),
  el('p', {}, 'Brake trial: ' + count(units.length, 'unit') + ', ' +
    count(runs.length, 'run') + ' (', conditions.map((c, i) => [i ? ', ' : '',
    nameOf(c, 40)]), ')', record.map((p) => [' \u00b7 ', p.key.replace(/_/g, ' ') + ' ',
    nameOf(p.value, 80)])),
  missing());
}
/* Runs that were not measured and recordings that could not be read. */
function missing() {
  const failed = runs.find((r) => r.failure);
  return list(result.answer).filter((s) => s.topic === 'unread').map((s) =>
    el('p', {class: 'unread'}, el('strong', {}, nameOf(s.text, 400)),
      failed && s.text.startsWith('Not measured') ? [' ',
        nameOf(failed.failure.text, 200)] : null));
}

function build() {
  const people = [first(), jobSheet(), wave(), answer(), cautions(), findings(), lives(), lanesSection()];
  const rest = [looked(), furtherSection(), reach(), comparison(), applicationsSection(),
    characteristics(), transducers(), supply(), limits(), livesFigures(), dynamics(),
    predict(), others(), budget(), method(), exclusions(), tested(), clocks(), setup()]
    .flat().map(folded);
  const parts = people.concat(rest).filter(Boolean);
  const nav = el('nav', {'aria-label': 'contents'}, el('details', {},
    el('summary', {}, 'Contents'), el('ol', {}, contentsIn(parts)
      .map(([id, title]) => el('li', {}, el('a', {href: '#' + id}, title))))));
  parts[0].after(nav);
  parts.splice(1, 0, nav);
  document.getElementById('page').append(
    el('a', {class: 'skip', href: '#first'}, 'to the answer'),
    pageHead(), el('main', {}, parts.filter((p) => !rest.includes(p))),
    el('div', {class: 'appendix', role: 'region', 'aria-label': 'appendix'},
      el('p', {class: 'appendix-title'}, 'Appendix: what the answer rests on'),
      rest.filter(Boolean)));
  window.addEventListener('hashchange', openTarget);
  openTarget();
}
/* A link to what is shut opens it. */
function openTarget() {
  const to = location.hash.length > 1 ?
    document.getElementById(location.hash.slice(1)) : null;
  const fold = to && to.querySelector('details.fold');
  if (fold) {
    fold.open = true;
    to.scrollIntoView();
  }
}
function contentsIn(parts) {
  return parts.filter((p) => p.id).map((p) => [p.id, (contents.find((c) => c[0] === p.id) ||
    ['', p.id])[1]]);
}

/* A print shows what is open, traces as vectors, and tables whole; the drawings
   of the first pages are made again for the width of a sheet. */
const whole = 'section details:not(.app):not(.bulk):not(.app details)';
function forSheet(on) {
  sheet = on;
  narrow = on || document.documentElement.clientWidth < 560;
  document.getElementById('first').again();
  document.querySelectorAll('.lane-row').forEach((row) => row.again());
}
function beforePrint() {
  if (sheet) {
    return;
  }
  forSheet(true);
  wavePrint();
  document.querySelectorAll(whole).forEach((d) => {
    d.wasShut = !d.open;
    d.open = true;
  });
  document.querySelectorAll('details.app[open]').forEach((d) => {
    d.fillIn();
    if (d.print) {
      d.querySelector('.application').prepend(...d.print());
    }
  });
}
function afterPrint() {
  forSheet(false);
  waveScreen();
  document.querySelectorAll('.print-only').forEach((n) => n.remove());
  document.querySelectorAll(whole).forEach((d) => {
    if (d.wasShut) {
      d.open = false;
    }
  });
}
window.addEventListener('beforeprint', beforePrint);
window.addEventListener('afterprint', afterPrint);
window.matchMedia('(prefers-color-scheme: dark)').addEventListener('change',
  () => madeGroups.flat().forEach((c) => c.restyle()));

build();
document.documentElement.setAttribute('data-ready', 'yes');
