/* SPDX-License-Identifier: MIT */
/* The wave: one application of each condition replayed on one clock, each unit
   filled as far as its measured pressure. Still until asked; keys and a screen
   reader get the same in steps; a print shows four frames. */

const stepSeconds = 0.1;
const calm = window.matchMedia('(prefers-reduced-motion: reduce)').matches;

/* The pressures of one group's replay: per unit a line over the seconds after
   the command, and after it is let go. NULL where no output was recorded. */
function replayOf(group) {
  const run = runs.find((r) => r.name === group.replay.run);
  const a = run && list(run.applications).find((x) => x.number ===
    group.replay.number && x.combination === group.combination);
  const traces = run && traceRuns.find((t) => t && t.run === run.name);
  const window_ = traces && traces.applications.find((w) => w.number ===
    group.replay.number && w.combination === group.combination);
  if (!a || !window_) {
    return null;
  }
  const lines = unitsOf(group.combination).map((u) => {
    const mine = window_.traces.filter((t) => t.unit === u.unit && t.what ===
      'output' && t.measured_in === 'kPa');
    const said = (a.units.find((x) => x.unit === u.unit) || {}).output;
    const trace = mine.find((t) => t.name === said) || mine[0];
    return {unit: u, line: trace ? Object.assign(unpack(window_, trace, 0),
      {held: trace.held}) : null};
  });
  return lines.some((l) => l.line) ? {group: group, lines: lines, apply:
    a.command.apply_s, release: a.command.release_s} : null;
}
/* Where on the clock: {side, after} of a place on the slider. */
function placeOf(at, lengths) {
  return at < lengths.apply ? {side: 'apply', after: at + lengths.from} :
    {side: 'release', after: at - lengths.apply + lengths.from};
}
function pressureAt(replay, line, place) {
  const event = place.side === 'apply' ? replay.apply : replay.release;
  return line && known(event) ? valueAt(line, event + place.after) : NaN;
}

/* One train, its units empty; `show` fills them. */
function waveTrain(replay, top, width) {
  const n = replay.lines.length;
  const gap = Math.max(4, Math.min(20, width / n / 8));
  const w = Math.min(150, (width - 4 - gap * (n - 1)) / n);
  const high = 56;
  const y = 16;
  const fills = [];
  const texts = [];
  const parts = replay.lines.map((l, i) => {
    const x = 2 + i * (w + gap);
    const odd = oddUnits.has(l.unit.unit);
    fills.push(sv('rect', {class: 'fill' + (odd ? ' marked' : ''), x: x + 2,
      width: Math.max(1, w - 4), y: y + high, height: 0, 'data-unit':
      l.unit.unit, 'data-high': high - 4}));
    texts.push(say(x + w / 2, y + high + 24, '', {class: 'small', 'text-anchor':
      'middle'}));
    return [i ? sv('path', {class: 'bar', d: 'M' + (x - gap) + ',' + (y + high -
      5) + 'H' + x}) : null, sv('rect', {class: 'tank', x: x, y: y, width: w,
      height: high}), fills[i], [0.2, 0.8].map((f) => sv('circle', {cx: x + w *
      f, cy: y + high + 4, r: 4, class: 'wheel'})), say(x + w / 2, 11, w > 70 ?
      shortOf(l.unit, Math.max(6, Math.floor(w / 6.8))) : numberOf(l.unit), {class: odd ?
      'strong' : 'small', 'text-anchor': 'middle'}), texts[i]];
  });
  const drawing = picture(Math.max(60, 4 + n * w + gap * (n - 1)), y + high + 30,
    'Pressure of each unit, ' + replay.group.condition, parts.flat());
  return {drawing: drawing, show: (place) => replay.lines.map((l, i) => {
    const v = pressureAt(replay, l.line, place);
    const share = Number.isFinite(v) ? Math.max(0, Math.min(1, v / top)) : 0;
    const h = share * (high - 4);
    fills[i].setAttribute('y', (y + high - 2 - h).toFixed(2));
    fills[i].setAttribute('height', h.toFixed(2));
    const said = Number.isFinite(v) ? fixed(v, pressureDecimals()) : '\u2013';
    texts[i].textContent = said;
    return calledOf(l.unit) + ' ' + said;
  })};
}
function placeText(place) {
  const what = place.side === 'apply' ? 'the command' : 'it is let go';
  return place.after < 0 ? fixed(-place.after, 2) + ' s before ' + what :
    fixed(place.after, 2) + ' s after ' + what;
}
function travelled(place, kmh) {
  return fixed(Math.max(0, place.after) * kmh / 3.6, 1) + ' m';
}

/* How long each side is shown, and the pressure that fills a unit. */
function waveScale(replays) {
  const of_ = (name) => Math.max(...replays.map((r) => r.group[name].from_s +
    r.group[name].step_s * 100 - r.group[name].from_s));
  return {lengths: {from: replays[0].group.apply.from_s, apply: of_('apply'),
    release: of_('release')}, top: Math.max(10, ...replays.flatMap((r) =>
    r.lines.flatMap((l) => l.line ? l.line.y.filter(Number.isFinite) : [])))};
}
function wavePlayer(replays, scale) {
  const lengths = scale.lengths;
  const end = lengths.apply + lengths.release;
  const trains = replays.map((r) => waveTrain(r, scale.top, roomWidth()));
  const speeds = list((result.trial || {}).speeds_kmh).length ?
    result.trial.speeds_kmh : [60, 80, 100];
  let at = 0;
  let timer = null;
  const choose = (name, values, shown, wanted) => el('label', {}, name, ' ',
    el('select', {change: () => show(at)}, values.map((v) => el('option', {value:
      v, selected: v === wanted}, shown(v)))));
  const pace = choose('speed of time', ['1', '0.25', '0.1'], (v) => ({1: '1',
    0.25: '1/4', 0.1: '1/10'}[v]), '0.25');
  const kmh = choose('train at', speeds, (v) => v + ' km/h', speeds[0]);
  const slider = el('input', {type: 'range', min: 0, max: end.toFixed(3), step:
    '0.005', value: 0, 'aria-label': 'time of the replay', input: () =>
    show(Number(slider.value)), keydown: (event) => {
    const way = {ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1}[
      event.key];
    if (way) {
      event.preventDefault();
      show(at + way * stepSeconds);
    }
  }});
  const clock = el('output', {class: 'time'});
  const travel = el('span', {class: 'travel'});
  function show(to) {
    at = Math.max(0, Math.min(end, to));
    const place = placeOf(at, lengths);
    const said = trains.map((t, i) => replays[i].group.condition + ': ' +
      t.show(place).join(', '));
    slider.value = at;
    clock.textContent = placeText(place);
    travel.textContent = 'travelled meanwhile: ' + travelled(place,
      Number(kmh.lastChild.value));
    slider.setAttribute('aria-valuetext', plain(placeText(place) + '; ' +
      words.pressure + ', ' + said.join('; ')));
  }
  function stop() {
    cancelAnimationFrame(timer);
    timer = null;
    play.textContent = 'play';
  }
  function start() {
    const from = at >= end ? 0 : at;
    let begun = null;
    play.textContent = 'pause';
    const turn = (now) => {
      begun = begun === null ? now : begun;
      show(from + (now - begun) / 1000 * Number(pace.lastChild.value));
      if (at >= end) {
        stop();
      } else {
        timer = requestAnimationFrame(turn);
      }
    };
    timer = requestAnimationFrame(turn);
  }
  const play = el('button', {type: 'button', click: () => timer === null ?
    start() : stop()}, 'play');
  const button = (text, title, by) => el('button', {type: 'button', title: title,
    click: () => show(at + by)}, text);
  show(0);
  const node = el('div', {class: 'player'}, el('div', {class: 'tools'}, calm ?
    null : play, button('\u25c0', 'a tenth of a second back', -stepSeconds),
  button('\u25b6', 'a tenth of a second on', stepSeconds), calm ? null : pace,
  kmh, clock, travel), slider, trains.map((t, i) => el('figure', {},
    el('figcaption', {}, nameOf(replays[i].group.condition, 40), el('small', {},
      ' application ' + replays[i].group.replay.number + ' of run ',
      nameOf(replays[i].group.replay.run, 20))), t.drawing)));
  node.wave = {show: show, end: end, lengths: lengths, top: scale.top};
  return node;
}
/* Four instants, for paper. */
function waveFrames(replays, scale) {
  const l = scale.lengths;
  return [l.apply * 0.22, l.apply * 0.5, l.apply + l.release * 0.22, l.apply +
    l.release * 0.5].map((at) => {
    const place = placeOf(at, l);
    return el('div', {class: 'frame-of'}, el('p', {class: 'hint'},
      placeText(place)), replays.map((r) => {
      const train = waveTrain(r, scale.top, 330);
      train.show(place);
      return el('figure', {}, el('figcaption', {}, nameOf(r.group.condition, 40)),
        train.drawing);
    }));
  });
}
function wave() {
  const made = combinations.map((c) => {
    const replays = pictures.filter((g) => g.combination === c)
      .slice(0, conditionsDrawn).map(replayOf).filter(Boolean);
    return replays.length ? [combinations.length > 1 ? el('h3', {},
      'Combination ' + c) : null, wavePlayer(replays, waveScale(replays)),
    el('div', {class: 'frames', hidden: true, 'data-frames': c})] : null;
  }).filter(Boolean);
  return made.length ? section('wave', 'All at once, or one after the other?',
    'One application of each condition on one clock: how far each unit\u2019s ' +
    'measured pressure has come, in ' + words.pressure + ', while it is applied ' +
    'and then let go. What lies between is left out.', made) : null;
}
function wavePrint() {
  document.querySelectorAll('#wave .frames').forEach((node) => {
    const replays = pictures.filter((g) => g.combination ===
      node.dataset.frames).slice(0, conditionsDrawn).map(replayOf)
      .filter(Boolean);
    node.replaceChildren(...waveFrames(replays, waveScale(replays)));
    node.hidden = false;
  });
}
function waveScreen() {
  document.querySelectorAll('#wave .frames').forEach((node) => {
    node.replaceChildren();
    node.hidden = true;
  });
}
