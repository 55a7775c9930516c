/* SPDX-License-Identifier: MIT */
/* Traces of one application. The chart library draws lines and axes; key,
   values, cursor and marks are ours. Charts are made when they come into
   sight, and drawn as vectors for print. */

function unpack(window_, trace, zero) {
  const x = [];
  const y = [];
  let tick = 0;
  let value = 0;
  const factor = trace.measured_in === 'kPa' ? 1 / words.pressure_factor : 1;
  for (let i = 0; i < trace.t.length; i++) {
    tick += trace.t[i];
    x.push(window_.from_s + tick * 1e-4 - zero);
    if (trace.v[i] === null) {
      y.push(NaN);
    } else {
      value += trace.v[i];
      y.push(value * trace.scale * factor);
    }
  }
  return {x: x, y: y};
}

/* Value of a trace at a time; NaN where it has none. */
function valueAt(line, time) {
  const x = line.x;
  let low = 0;
  let high = x.length - 1;
  if (high < 0 || time < x[0] || time > x[high]) {
    return NaN;
  }
  while (high - low > 1) {
    const mid = (low + high) >> 1;
    if (x[mid] <= time) {
      low = mid;
    } else {
      high = mid;
    }
  }
  if (line.held || time === x[low] || !(x[high] > x[low])) {
    return time >= x[high] ? line.y[high] : line.y[low];
  }
  return line.y[low] + (line.y[high] - line.y[low]) * (time - x[low]) /
    (x[high] - x[low]);
}

const whatName = {command: 'command', demand: 'demand', control: 'control',
  control_b: 'second control', output: 'output', reservoir: 'reservoir',
  voltage: 'voltage'};
const whatWidth = {command: 2.4, demand: 1, control: 1, control_b: 1,
  output: 1.8, reservoir: 1.4, voltage: 1.4};

function unitOf(measured) {
  return measured === 'kPa' ? words.pressure : measured;
}

/* Lines by panel: pressures at the brakes; other commands and demands; supply;
   voltage. */
function panelsOf(window_, zero) {
  const panels = new Map();
  for (const trace of window_.traces) {
    const supply = trace.what === 'reservoir';
    const key = (supply ? 'supply, ' : '') + (unitOf(trace.measured_in) ||
      'on or off');
    if (!panels.has(key)) {
      panels.set(key, []);
    }
    const line = unpack(window_, trace, zero);
    line.unit = trace.unit;
    line.what = trace.what;
    line.held = trace.held;
    line.decimals = trace.measured_in === 'kPa' ? pressureDecimals() : 1;
    line.name = unitName(trace.unit) + ', ' + whatName[trace.what] +
      (trace.what === 'output' && line.many ? ' ' + trace.name : '');
    line.from = trace.name;
    line.look = lookOf(trace.unit);
    panels.get(key).push(line);
  }
  return [...panels].map(([name, lines]) => ({name: name, lines: lines}))
    .sort((a, b) => b.lines.length - a.lines.length);
}

/* Points that were found, on the output they belong to. */
const shareMarks = {0.1: 3, 0.75: 1, 0.9: 4};
const pointMarks = {};
words.list.filter((f) => f.of_unit && f.side !== 'neither').forEach((f) => {
  pointMarks[f.name] = f.name === 'response' ? 0 : f.name === 'release_end' ? 2 :
    shareMarks[f.share] === undefined ? 5 : shareMarks[f.share];
});

function pointsOf(application, lines, zero) {
  const points = [];
  for (const unit of application.units) {
    const line = lines.find((l) => l.unit === unit.unit && l.what === 'output' &&
      (!unit.output || l.from === unit.output)) ||
      lines.find((l) => l.unit === unit.unit && l.what === 'output');
    const demand = lines.find((l) => l.unit === unit.unit &&
      l.what === 'demand');
    for (const figure in pointMarks) {
      const v = unit[figure];
      const on = figure === 'demand_arrival' ? demand : line;
      const event = sideOf(figure) === 'release' ?
        application.command.release_s : application.command.apply_s;
      if (!on || !v || !known(v.s) || !known(event)) {
        continue;
      }
      const x = event + v.s - zero;
      const y = valueAt(on, x);
      if (Number.isFinite(y)) {
        points.push({x: x, y: y, u: v.u_s, unit: unit.unit, figure: figure});
      }
    }
  }
  return points;
}

function drawPoints(context, area, g, points, eventTimes) {
  context.save();
  context.beginPath();
  context.rect(area.x, area.y, area.w, area.h);
  context.clip();
  context.strokeStyle = css('--ink2');
  context.setLineDash([2, 3]);
  for (const time of eventTimes) {
    const x = g.toDomXCoord(time);
    context.beginPath();
    context.moveTo(x, area.y);
    context.lineTo(x, area.y + area.h);
    context.stroke();
  }
  context.setLineDash([]);
  for (const p of points) {
    const x = g.toDomXCoord(p.x);
    const y = g.toDomYCoord(p.y);
    context.strokeStyle = hueOf(p.unit);
    context.fillStyle = css('--paper');
    context.lineWidth = 1.4;
    const path = new Path2D(mark(pointMarks[p.figure], x, y, 3.6, {})
      .getAttribute('d'));
    context.fill(path);
    context.stroke(path);
  }
  context.restore();
}

/* Columns as the chart library wants them: one time column, null where a line
   has no point of its own. */
function columns(lines) {
  const times = [];
  lines.forEach((l) => times.push(...l.x));
  const all = [...new Set(times)].sort((a, b) => a - b);
  const index = new Map(all.map((t, i) => [t, i]));
  const rows = all.map((t) => {
    const row = new Array(lines.length + 1).fill(null);
    row[0] = t;
    return row;
  });
  lines.forEach((l, k) => l.x.forEach((t, i) => {
    rows[index.get(t)][k + 1] = l.y[i];
  }));
  return rows;
}

function sampleLine(line) {
  return sv('svg', {width: 34, height: 12, viewBox: '0 0 34 12',
    'aria-hidden': 'true'},
  sv('path', {d: 'M1,6H33', fill: 'none', stroke: line.look.hue,
    'stroke-width': whatWidth[line.what] + 0.4,
    'stroke-dasharray': dashOf(line).join(' ') || null}));
}
/* Outputs wear their unit's dash; what drives them is drawn thinner. */
function dashOf(line) {
  return line.what === 'command' ? [] :
    line.what === 'output' ? line.look.dash :
      line.what === 'demand' ? [3, 2] : [1, 3];
}

function panelChart(panel, group, application, zero) {
  const place = el('div', {class: 'chart', tabindex: '0', role: 'application',
    'aria-label': 'traces in ' + panel.name + ' over seconds; arrow keys move ' +
      'the cursor, plus and minus zoom, 0 shows all'});
  const cursor = el('div', {class: 'cursor', hidden: true});
  const frame = el('div', {class: 'frame'}, place, cursor);
  const lines = panel.lines;
  const values = lines.map(() => el('span', {class: 'value'}));
  let graph = null;
  const key = el('div', {class: 'key'}, lines.map((line, i) => el('button', {
    type: 'button', 'aria-pressed': 'true', title: plain(line.from),
    click: (event) => {
      const on = event.currentTarget.getAttribute('aria-pressed') !== 'true';
      event.currentTarget.setAttribute('aria-pressed', String(on));
      if (graph) {
        graph.setVisibility(i, on);
      }
    }}, sampleLine(line), nameOf(line.name, 34), ' ', values[i])));
  const points = pointsOf(application, lines, zero);
  const events = [application.command.apply_s, application.command.release_s]
    .filter(known).map((s) => s - zero);
  function make() {
    const series = {};
    lines.forEach((line, i) => {
      series['s' + i] = {color: hueOf(line.unit), stepPlot: line.held,
        strokeWidth: whatWidth[line.what],
        strokePattern: dashOf(line).length ? dashOf(line) : null};
    });
    graph = new Dygraph(place, columns(lines), {
      labels: ['time'].concat(lines.map((l, i) => 's' + i)),
      series: series, legend: 'never', connectSeparatedPoints: true,
      drawPoints: false, highlightCircleSize: 0, rightGap: 8,
      axisLineColor: css('--line'), gridLineColor: css('--line'),
      gridLineWidth: 0.5, axisLabelFontSize: 12, animatedZooms: false,
      visibility: lines.map(() => true), includeZero: true,
      axes: {x: {axisLabelFormatter: (t) => fixed(t, 2), axisLabelWidth: 56},
        y: {axisLabelFormatter: (v) => fixed(v, v % 1 ? 1 : 0),
          axisLabelWidth: 46}},
      underlayCallback: (context, area, g) =>
        drawPoints(context, area, g, points, events),
      drawCallback: (g, first) => {
        if (!first) {
          group.zoom(g.xAxisRange(), api);
        }
      }});
    if (group.range) {
      graph.updateOptions({dateWindow: group.range});
    }
    frame.classList.add('made');
  }
  const api = {
    frame: frame, key: key, panel: panel, points: points, make: make,
    made: () => graph !== null,
    graph: () => graph,
    window: (range) => graph && graph.updateOptions({dateWindow: range}),
    restyle: () => {
      if (graph) {
        graph.destroy();
        graph = null;
        make();
      }
    },
    show: (time) => {
      lines.forEach((line, i) => {
        const v = time === null ? NaN : valueAt(line, time);
        values[i].textContent = Number.isFinite(v) ? fixed(v, line.decimals) :
          time === null ? '' : '\u2013';
      });
      if (graph) {
        cursor.hidden = time === null;
        if (time !== null) {
          cursor.style.left = graph.toDomXCoord(time) + 'px';
        }
      }
    }
  };
  place.addEventListener('mousemove', (event) => {
    if (graph) {
      group.cursor(graph.toDataXCoord(event.clientX -
        place.getBoundingClientRect().left));
    }
  });
  place.addEventListener('mouseleave', () => group.cursor(null));
  place.addEventListener('keydown', (event) => group.key(event, graph));
  return api;
}

/* Its legend writes markup and inline styles; key and values here are ours. */
Dygraph.PLUGINS = Dygraph.PLUGINS.filter((p) => p !== Dygraph.Plugins.Legend);

const watched = new Map();
const sight = 'IntersectionObserver' in window ?
  new IntersectionObserver((entries) => entries.forEach((entry) => {
    if (entry.isIntersecting && watched.has(entry.target)) {
      watched.get(entry.target).make();
      watched.delete(entry.target);
      sight.unobserve(entry.target);
    }
  }), {rootMargin: '400px'}) : null;
const madeGroups = [];

/* All panels of one application, with one zoom and one cursor. */
function chartGroup(run, application, window_) {
  const zero = known(application.command.apply_s) ?
    application.command.apply_s : known(application.command.release_s) ?
      application.command.release_s : window_.from_s;
  const whole = [window_.from_s - zero, window_.to_s - zero];
  let busy = false;
  let time = null;
  const read = el('output', {class: 'time'}, 'time \u2013');
  const group = {
    range: null,
    zoom: (range, from) => {
      if (busy) {
        return;
      }
      busy = true;
      group.range = range;
      charts.forEach((c) => c !== from && c.window(range));
      charts.forEach((c) => c.show(time));
      busy = false;
    },
    cursor: (at) => {
      time = at;
      read.textContent = at === null ? 'time \u2013' :
        'time ' + fixed(at, 4) + ' s';
      charts.forEach((c) => c.show(at));
    },
    set: (range) => {
      const width = Math.max(range[1] - range[0], 0.002);
      group.range = null;
      const next = [range[0], range[0] + width];
      charts.forEach((c) => c.window(next));
    },
    by: (factor, shift) => {
      const now = (charts.find((c) => c.made()) || {graph: () => null}).graph();
      if (now) {
        const r = now.xAxisRange();
        const mid = time !== null && time > r[0] && time < r[1] ? time :
          (r[0] + r[1]) / 2;
        const half = (r[1] - r[0]) / 2 * factor;
        const move = shift * (r[1] - r[0]);
        group.set(factor === 1 ? [r[0] + move, r[1] + move] :
          [mid - half, mid + half]);
      }
    },
    key: (event, graph) => {
      if (!graph) {
        return;
      }
      const r = graph.xAxisRange();
      const step = (r[1] - r[0]) / (event.shiftKey ? 20 : 200);
      const from = time === null ? r[0] : time;
      const keys = {ArrowRight: () => group.cursor(Math.min(from + step, r[1])),
        ArrowLeft: () => group.cursor(Math.max(from - step, r[0])),
        '+': () => group.by(0.5, 0), '=': () => group.by(0.5, 0),
        '-': () => group.by(2, 0), '0': () => group.set(whole),
        Escape: () => group.cursor(null)};
      if (keys[event.key]) {
        event.preventDefault();
        keys[event.key]();
      }
    }
  };
  const charts = panelsOf(window_, zero).map((p) =>
    panelChart(p, group, application, zero));
  const button = (text, title, action) => el('button', {type: 'button',
    title: title, click: action}, text);
  const holder = el('div', {class: 'charts'},
    el('div', {class: 'tools'},
      button('closer', 'halve the time shown', () => group.by(0.5, 0)),
      button('wider', 'double the time shown', () => group.by(2, 0)),
      button('\u25c0', 'earlier', () => group.by(1, -0.25)),
      button('\u25b6', 'later', () => group.by(1, 0.25)),
      button('rise', 'show the rise only', () => group.set([-0.1, 1.2])),
      button('all', 'show all', () => group.set(whole)), read),
    charts.map((c) => [el('div', {class: 'panel-name'}, c.panel.name), c.frame,
      c.key]),
    el('p', {class: 'hint'}, 'Seconds after the command' +
      (known(application.command.apply_s) ? '' : '\u2019s release') +
      '. Drag to zoom, shift and drag to pan, double click for all. Marks: \u00d7 ' +
      'rise begins or demand arrived, \u25cb first air, \u25c7 10 %, \u25b3 75 %, ' +
      '\u25bd 90 % of settled, \u25a1 release ends. Thin lines are what drives ' +
      'a unit: dotted control air, broken electronic demand, in steps as it ' +
      'was sent.'));
  group.make = () => {
    charts.forEach((c) => c.make());
    madeGroups.push(charts);
  };
  if (sight) {
    watched.set(holder, group);
    sight.observe(holder);
  } else {
    group.make();
  }
  holder.group = group;
  holder.charts = charts;
  return {holder: holder, print: () => charts.slice(0, 2).map((c) =>
    printChart(c, whole))};
}

/* The same as vectors, for print. */
function printChart(chart, whole) {
  const width = 690;
  const height = chart.panel.lines.length > 2 ? 158 : 84;
  const left = 44;
  let low = 0;
  let high = 1;
  chart.panel.lines.forEach((l) => l.y.forEach((v) => {
    low = Math.min(low, Number.isFinite(v) ? v : low);
    high = Math.max(high, Number.isFinite(v) ? v : high);
  }));
  const x = (t) => left + (t - whole[0]) * (width - left - 10) /
    (whole[1] - whole[0]);
  const y = (v) => height - 22 - (v - low) * (height - 32) / (high - low);
  const parts = [];
  const across = ticks(whole[0], whole[1], 10);
  const up = ticks(low, high, 5);
  across.all.forEach((t) => parts.push(
    sv('path', {class: 'grid', d: 'M' + x(t) + ',8V' + (height - 22)}),
    say(x(t), height - 8, fixed(t, across.decimals),
      {class: 'small', 'text-anchor': 'middle'})));
  up.all.forEach((v) => parts.push(
    sv('path', {class: 'grid', d: 'M' + left + ',' + y(v) + 'H' +
      (width - 10)}),
    say(left - 4, y(v) + 4, fixed(v, up.decimals),
      {class: 'small', 'text-anchor': 'end'})));
  chart.panel.lines.forEach((line) => {
    let d = '';
    let pen = 'M';
    line.x.forEach((t, i) => {
      if (!Number.isFinite(line.y[i])) {
        pen = 'M';
        return;
      }
      const p = x(t).toFixed(1) + ',' + y(line.y[i]).toFixed(1);
      d += line.held && pen === 'L' ?
        'H' + x(t).toFixed(1) + 'V' + y(line.y[i]).toFixed(1) : pen + p;
      pen = 'L';
    });
    parts.push(sv('path', {d: d, fill: 'none', stroke: line.look.hue,
      'stroke-width': whatWidth[line.what] * 0.8,
      'stroke-dasharray': dashOf(line).join(' ') || null}));
  });
  chart.points.forEach((p) => parts.push(mark(pointMarks[p.figure], x(p.x),
    y(p.y), 2.6, {fill: 'none', stroke: lookOf(p.unit).hue})));
  return el('figure', {class: 'print-only'},
    picture(width, height, chart.panel.name + ' over seconds', parts),
    el('figcaption', {}, chart.panel.name + ' over seconds: ',
      chart.panel.lines.map((line) => [sampleLine(line), ' ',
        cut(line.name, 34), '; '])));
}
