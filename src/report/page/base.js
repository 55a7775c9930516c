'use strict';
/* SPDX-License-Identifier: MIT */
/* Data in, elements out. Every text of the page goes through plain() and is
   set as text, never as markup: names come from files of unknown origin. */

function block(id) {
  return JSON.parse(document.getElementById(id).textContent);
}
const result = block('result');
const traceRuns = block('traces');
const words = block('words');
/* What a trace is of stands once in its run; here each has it. */
for (const run of traceRuns) {
  for (const window_ of run ? run.applications : []) {
    window_.traces = window_.traces.map((t) =>
      Object.assign({}, run.channels[t.channel], t));
  }
}

/* Characters that change how others are shown, or show nothing, are written
   out; a name cannot turn the line around that it stands in. */
const hidden =
  /[\u0000-\u001f\u007f-\u009f\u2028\u2029\u2060-\u206f\p{Cf}]/gu;
function plain(text) {
  return String(text).replace(hidden, (c) =>
    '\u2039' + c.codePointAt(0).toString(16).toUpperCase().padStart(4, '0') +
    '\u203a');
}

function fill(node, attributes, children) {
  for (const key in attributes) {
    const value = attributes[key];
    if (typeof value === 'function') {
      node.addEventListener(key, value);
    } else if (value !== null && value !== undefined && value !== false) {
      node.setAttribute(key, value === true ? '' :
        key === 'class' || key === 'd' || key === 'points' ? value :
        plain(value));
    }
  }
  for (const child of children.flat(Infinity)) {
    if (child !== null && child !== undefined && child !== false) {
      node.append(child.nodeType ? child : plain(child));
    }
  }
  return node;
}
function el(tag, attributes, ...children) {
  return fill(document.createElement(tag), attributes, children);
}
function sv(tag, attributes, ...children) {
  return fill(document.createElementNS('http://www.w3.org/2000/svg', tag),
    attributes, children);
}
/* A foreign name: kept apart from the direction of the text around it. */
function nameOf(text, shown) {
  const whole = plain(text === null || text === undefined ? '' : text);
  const most = shown || 80;
  /* On paper a word without end must break, or it takes the sheet with it. */
  const long = /\S{25}/.test(whole) ? 'long' : null;
  return whole.length <= most ? el('bdi', {class: long}, whole) :
    el('bdi', {class: long, title: whole}, whole.slice(0, most - 1) +
      '\u2026');
}
function cut(text, most) {
  const whole = plain(text === null || text === undefined ? '' : text);
  return whole.length <= most ? whole : whole.slice(0, most - 1) + '\u2026';
}

/* Numbers as the text report writes them: +- is k = 2, rounded up. */
function fixed(value, decimals) {
  const text = Math.abs(value).toFixed(decimals);
  return (value < 0 && Number(text) !== 0 ? '\u2212' : '') + text;
}
function known(v) {
  return v !== null && v !== undefined && Number.isFinite(v);
}
function withU(value, u, decimals) {
  if (!known(value)) {
    return '\u2013';
  }
  if (!known(u)) {
    return fixed(value, decimals);
  }
  const unit = Math.pow(10, -decimals);
  return fixed(value, decimals) + ' \u00b1 ' +
    fixed(Math.ceil(2 * u / unit - 1e-9) * unit, decimals);
}
function seconds(v) {
  return v ? withU(v.s, v.u_s, 3) : '\u2013';
}
function inPressure(kpa) {
  return kpa / words.pressure_factor;
}
function pressureDecimals() {
  return words.pressure_factor > 50 ? 2 : words.pressure_factor > 2 ? 1 : 0;
}
function level(v) {
  if (!v || !known(v.value)) {
    return '\u2013';
  }
  if (v.unit !== 'kPa') {
    return withU(v.value, v.u, {s: 3, '': 3, V: 2}[v.unit] || 1) +
      (v.unit ? ' ' + v.unit : '');
  }
  return withU(inPressure(v.value), known(v.u) ? inPressure(v.u) : v.u,
    pressureDecimals()) + ' ' + words.pressure;
}
function kpa(value) {
  return fixed(inPressure(value), pressureDecimals()) + ' ' + words.pressure;
}
/* Of a stated pressure: no decimals for their own sake. */
function stated(value) {
  return fixed(inPressure(value), pressureDecimals())
    .replace(/(\.\d*?)0+$/, '$1').replace(/\.$/, '') + ' ' + words.pressure;
}
/* A sentence of a study, whose pressures are in kPa, as the text writer gives
   it (text_pressures.c). */
function inUnits(text) {
  const more = words.pressure_factor > 50 ? 2 : 1;
  const convert = (n) => inPressure(Number(n)).toFixed(
    more + (n.split('.')[1] || '').length);
  return words.pressure_factor === 1 ? text : text.replace(
    /(?:(-?\d+(?:\.\d+)?)( to | \u00b1 ))?(-?\d+(?:\.\d+)?) kPa/g,
    (all, from, between, value) => (from ? convert(from) + between : '') +
      convert(value) + ' ' + words.pressure);
}
function count(n, one, many) {
  return n + ' ' + (n === 1 ? one : many || one + 's');
}
function list(v) {
  return Array.isArray(v) ? v : [];
}
/* A key or value of the result in the words of the trade. */
function label(name) {
  const text = String(name === null || name === undefined ? '' : name);
  return [words.labels, words.titles].filter((w) => Object.hasOwn(w, text))
    .map((w) => w[text])[0] || text.replace(/_/g, ' ');
}

/* "full, step"; what an application's recording did not hold is marked so. */
function kindWords(row) {
  return (row.kind === 'unknown' ? 'pressure not known' : label(row.kind)) + ', ' +
    (row.shape === 'unknown' ? 'rise not recorded' : row.shape);
}

function sideOf(figure) {
  const is = words.list.find((f) => f.name === figure);
  return is ? is.side : 'neither';
}
/* Figures by the words that stand over a column: "first air (20 kPa)". */
function figureName(name) {
  const at = words.list.find((f) => f.name === name);
  return (words.titles[name] || label(name)) + (at && at.at_response ? ' (' +
    stated(result.trial.response_at_kpa) + ')' : '');
}
/* A number whose decimals nobody chose: four digits. */
function shortNumber(v) {
  return known(v) ? String(Number.isInteger(v) ? v : Number(v.toPrecision(4)))
    .replace(/-/g, '\u2212') : '\u2013';
}

/* A figure with its reason or flags; `at` names its place in the result. */
function figureCell(v, at) {
  const cell = el('td', {class: 'n', 'data-at': at});
  if (!v || !known(v.s)) {
    const why = v && v.reason ? v.reason : '';
    if (v && known(v.later_than_s)) {
      cell.append(el('span', {class: 'why', title: words.reasons[why] || why},
        'later than ' + withU(v.later_than_s, v.u_later_s, 3),
        el('small', {}, ' ' + label(why).replace(/-/g, ' '))));
      return cell;
    }
    cell.append(el('span', {class: 'why',
      title: words.reasons[why] || why || 'not in the result'},
    '\u2013', why ? el('small', {}, ' ' + label(why).replace(/-/g, ' ')) : ''));
    return cell;
  }
  cell.append(seconds(v));
  const flags = list(v.flags);
  if (flags.length) {
    cell.append(el('small', {class: 'flag', title: flags.map((f) =>
      words.flags[f] || f).join('; ')}, ' ' + flags.join(', ')));
  }
  return cell;
}

/* A column in which nothing is said is left out. */
function saysNothing(cell) {
  const text = cell && cell.nodeType ? cell.textContent :
    [cell].flat(Infinity).map((c) => c && c.nodeType ? c.textContent : c)
      .join('');
  return text === '' || text === '\u2013';
}
function tableOfSaid(caption, heads, rows, numeric, look) {
  const kept = heads.map((h, i) => i).filter((i) => i === 0 ||
    !rows.every((r) => saysNothing(r[i])));
  return table(caption, kept.map((i) => heads[i]), rows.map((r) =>
    kept.map((i) => r[i])), kept.map((i) => (numeric || [])[i]), look);
}

/* A table that scrolls in itself when it is wider than the page. Cells are
   texts, nodes or <td> made elsewhere. */
function table(caption, heads, rows, numeric, look) {
  const right = numeric || [];
  const stacked = look === 'stack';
  const cellOf = (c, i) => c && c.nodeName === 'TD' ? c :
    i === 0 ? el('th', {scope: 'row', class: right[0] ? 'n' : null}, c) :
      el('td', {class: right[i] ? 'n' : null, 'data-head': stacked ? heads[i] :
        null}, c);
  return el('div', {class: 'wide', tabindex: '0', role: 'region',
    'aria-label': caption},
  el('table', {class: look}, el('caption', {}, caption),
    el('thead', {}, el('tr', {}, heads.map((h, i) =>
      el('th', {scope: 'col', class: right[i] ? 'n' : null}, h)))),
    el('tbody', {}, rows.map((row) => el('tr', {}, row.map(cellOf))))));
}
function noteList(notes) {
  return el('ul', {class: 'notes'}, notes.map((n) => el('li', {},
    nameOf(n.text, 400), n.count > 1 ? ' (' + n.count + ' times)' : '',
    n.line ? ' \u2013 line ' + n.line : '')));
}

/* A section whose body is shut: what a reader opens who wants it. */
function folded(node) {
  if (!node) {
    return null;
  }
  const head = node.firstChild;
  const rest = [...node.childNodes].slice(1);
  const details = el('details', {class: 'fold'}, el('summary', {}, head), rest);
  node.append(details);
  return node;
}

/* Sections register themselves for the list of contents. */
const contents = [];
/* What a study answers, as the result says it. */
function saidOf(topic) {
  const all = list(result.answer).filter((s) => s.topic === topic);
  return all.length ? el('ul', {class: 'answer study'}, all.map((s) =>
    el('li', {}, cut(inUnits(String(s.text)), 900)))) : null;
}
function section(id, title, lead, ...children) {
  contents.push([id, title]);
  return el('section', {id: id, 'aria-labelledby': id + '-title'},
    el('h2', {id: id + '-title'}, title),
    lead ? el('p', {class: 'lead'}, lead) : null, children);
}

/* Units by label, front to rear; a look of their own: shape of the line and
   mark beside the hue, so that grey print and any eye can tell them apart. */
const units = list(result.trial && result.trial.units);
const unitIndex = new Map(units.map((u, i) => [u.unit, i]));
const dashes = [[], [9, 3], [2, 3], [12, 3, 2, 3], [6, 6], [1, 2],
  [14, 4, 4, 4], [9, 3, 2, 3, 2, 3]];
function lookOf(unit) {
  const i = unitIndex.has(unit) ? unitIndex.get(unit) : 0;
  return {index: i, hue: 'var(--u' + (i % 8) + ')', dash: dashes[i % 8],
    mark: i % 6};
}
/* What people call it; its number where the name does not tell it apart. */
function calledOf(u) {
  return u.called || 'unit ' + u.unit;
}
function unitName(unit) {
  const u = units[unitIndex.get(unit)];
  return u ? calledOf(u) : 'unit ' + unit;
}
/* A name in `most` letters: cut at its end, in its middle, or so that the letters
   stay in which it differs; the first way that keeps all units apart. */
const cuts = [(name, most) => cut(name, most), (name, most) => {
  const head = Math.floor((most - 1) / 2);
  return name.slice(0, head) + '\u2026' + name.slice(name.length - (most - 1 -
    head));
}, (name, most) => {
  const same = units.map(calledOf).map(plain).filter((o) => o !== name).map((o) => {
    let i = 0;
    while (i < name.length && name[i] === o[i]) {
      i++;
    }
    return i;
  });
  const at = Math.max(0, Math.min(Math.max(0, ...same) - 1, name.length - most + 2));
  return name.slice(0, 1) + '\u2026' + cut(name.slice(Math.max(1, at)), most - 2);
}];
function shortOf(u, most) {
  const name = plain(calledOf(u));
  if (name.length <= most) {
    return name;
  }
  const all = [...new Set(units.map(calledOf).map(plain))];
  const way = cuts.find((c) => new Set(all.map((n) => n.length <= most ? n :
    c(n, most))).size === all.length);
  return way ? way(name, most) : numberOf(u) + ' ' + cut(name, Math.max(2, most - 3));
}
function numberOf(u) {
  return u.unit.includes('.') ? u.unit.split('.')[1] : u.unit;
}
function shortName(unit, most) {
  const u = units[unitIndex.get(unit)];
  return u ? shortOf(u, most) : cut('unit ' + unit, most);
}
function unitsOf(combination) {
  return units.filter((u) => (u.unit.includes('.') ? u.unit.split('.')[0] :
    'A') === combination);
}
/* A name never breaks, unless it is so long that it would leave the sheet. */
function unitCell(unit) {
  const cell = nameOf(shortName(unit, 40), 40);
  if (cell.textContent !== plain(unitName(unit))) {
    cell.title = plain(unitName(unit));
    cell.classList.add('long'); /* it may break on paper */
  }
  cell.classList.toggle('unit-name', cell.textContent.length <= 26);
  return cell;
}
function css(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(name)
    .trim();
}
function hueOf(unit) {
  return css('--u' + (lookOf(unit).index % 8));
}
