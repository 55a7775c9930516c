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
    nameOf(p.value, 80)])));
}

function build() {
  const parts = [tested(), answer(), findings(), setup(), lanesSection(),
    applicationsSection(), comparison(), reach(), characteristics(),
    transducers(), clocks(), supply(), limits(), dynamics(), predict(), others(),
    budget(), method(), cautions(), exclusions()].flat().filter(Boolean);
  const nav = el('nav', {'aria-label': 'contents'}, el('ol', {},
    contentsIn(parts).map(([id, title]) => el('li', {},
      el('a', {href: '#' + id}, title)))));
  document.getElementById('page').append(
    result.answer ? el('a', {class: 'skip', href: '#answer'}, 'to the answer') : '',
    pageHead(), nav,
    el('main', {}, parts));
}
function contentsIn(parts) {
  return parts.map((p) => [p.id, (contents.find((c) => c[0] === p.id) ||
    ['', p.id])[1]]);
}

/* A print shows what is open, traces as vectors, and tables whole. */
function beforePrint() {
  document.querySelectorAll('main > section > details:not(.app):not(.bulk)').forEach((d) => {
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
  document.querySelectorAll('.print-only').forEach((n) => n.remove());
  document.querySelectorAll('main > section > details:not(.app):not(.bulk)').forEach((d) => {
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
