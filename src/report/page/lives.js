/* SPDX-License-Identifier: MIT */
/* Units over their visits: what is said of each, and the figure that speaks for it,
   visit by visit, with where the next one should lie. */

function lifeFigure(series) {
  return label(series.figure) + (known(series.kpa) ? ' ' +
    shortNumber(series.kpa) + ' kPa' : '') + ', ' + label(series.kind) + ', ' +
    series.condition;
}
/* Days to the right, seconds up; a whisker is twice its uncertainty. */
function lifePicture(life, series) {
  const width = 340;
  const height = 170;
  const left = 46;
  const dateOf = (n) => (list(life.visits).find((v) => v.visit === n) || {}).date;
  const points = list(series.points);
  const band = [series.control_low_s, series.control_high_s].filter(known);
  const ends = points.flatMap((p) => [p.low_s, p.high_s]).concat(band);
  const low = Math.min(...ends);
  const high = Math.max(...ends, low + 0.02);
  const first = points[0].day;
  const span = Math.max(points[points.length - 1].day - first, 1);
  const axis = ticks(low, high, 4);
  const x = (day) => left + 10 + (day - first) * (width - left - 34) / span;
  const y = (s) => height - 26 - (s - low) * (height - 40) / (high - low);
  const parts = axis.all.map((t) => [sv('path', {class: 'grid', d: 'M' + left + ',' +
    y(t) + 'H' + (width - 6)}), say(left - 4, y(t) + 4, fixed(t, axis.decimals),
    {class: 'small y-tick', 'text-anchor': 'end'})]);
  if (band.length === 2) {
    parts.push(sv('rect', {class: 'life-band', x: left, width: width - left - 6,
      y: y(band[1]), height: y(band[0]) - y(band[1])}));
  }
  parts.push(sv('path', {class: 'curve', d: points.map((p, i) => (i ? 'L' : 'M') +
    x(p.day) + ',' + y(p.s)).join('')}));
  points.forEach((p) => parts.push(sv('path', {class: 'whisker', d: 'M' + x(p.day) +
    ',' + y(p.low_s) + 'V' + y(p.high_s)}),
  mark(0, x(p.day), y(p.s), 3, {class: 'dot full'})));
  [points[0], points[points.length - 1]].forEach((p, i) => parts.push(say(
    i ? width - 6 : left, height - 8, cut(dateOf(p.visit), 10),
    {class: 'small x-tick', 'text-anchor': i ? 'end' : 'start'})));
  return el('figure', {class: 'curve-figure life'}, el('figcaption', {},
    nameOf(lifeFigure(series), 90), ', s'), picture(width, height,
    'Unit ' + life.unit_id + ' over ' + points.length + ' visits: ' +
    lifeFigure(series), parts));
}
function lives() {
  const all = list(result.lives);
  if (!all.length) {
    return null;
  }
  return section('lives', 'Units over their visits', null, all.map((life) => {
    const lead = list(life.series).find((s) => s.lead);
    return el('div', {class: 'one-life'}, el('h3', {}, 'Unit ',
      nameOf(life.unit_id, 60), life.name ? [', ', nameOf(life.name, 60)] : ''),
    list(life.answer).map((a) => el('p', {}, plain(a.text))),
    lead && list(lead.points).length > 1 ? lifePicture(life, lead) : null);
  }), el('p', {class: 'hint'}, 'The band is where the next visit should lie if those ' +
    'so far are steady; a whisker is twice the uncertainty of a visit, with what ' +
    'visits of a sound unit differ by.'));
}
/* Every figure of every unit that was looked at over the visits. */
function livesFigures() {
  const all = list(result.lives).filter((life) => list(life.series).length);
  const change = (series) => series.change && known(series.change.low_s) ?
    fixed(series.change.low_s, 3) + ' to ' + fixed(series.change.high_s, 3) + ' ' +
    label(series.change_is) : '\u2013';
  const rows = (life) => list(life.series).map((series) => {
    const points = list(series.points);
    return [lifeFigure(series), points.length, points.length ?
      withU(points[points.length - 1].s, null, 3) : '\u2013', change(series),
    series.ended && !series.changed ? 'no value now' : series.verdict
      .replace(/-/g, ' ')];
  });
  return all.length ? section('lives-figures', 'Every figure over the visits', null,
    all.map((life) => bulk('Unit ' + cut(life.unit_id, 60), () => table('Unit ' +
      cut(life.unit_id, 60), ['figure', 'visits', 'last, s', 'change, s', 'answer'],
    rows(life), [0, 1, 1, 1, 0])))) : null;
}
