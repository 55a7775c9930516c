# SPDX-License-Identifier: MIT
"""Brake trials without noise, and what is true of them.

Nothing here comes from the program: a pedal's pressure is drawn as knots, lines
and brakes follow it by delays and lags, and every figure is read off the
noise-free curves on a grid of half a millisecond by the definitions of
docs/methods/figures.md. Between two points of the grid curves run straight."""
import bisect

STEP = 0.0005  # s, of the grid
COMMAND_AT = 20.0  # kPa above rest
RESPONSE_AT = 20.0
LEVEL = 65.0
DEMAND_STEP = 0.01953125  # kPa per bit, UN R13 Annex 17


class Curve(list):
    """Values on the grid from time 0."""

    def at(self, t):
        place = t / STEP
        i = min(max(int(place), 0), len(self) - 2)
        share = min(max(place - i, 0.0), 1.0)
        return self[i] + share * (self[i + 1] - self[i])

    def up(self, level, begin, end):
        """First passage upwards; None where there is none."""
        i = max(int(begin / STEP), 0)
        last = min(int(end / STEP), len(self) - 2)
        while i <= last:
            if self[i] < level <= self[i + 1]:
                return STEP * (i + (level - self[i]) /
                               (self[i + 1] - self[i]))
            i += 1
        return None

    def down(self, level, begin, end):
        """Last passage downwards."""
        i = min(int(end / STEP), len(self) - 2)
        first = max(int(begin / STEP), 0)
        while i >= first:
            if self[i] > level >= self[i + 1]:
                return STEP * (i + (self[i] - level) /
                               (self[i] - self[i + 1]))
            i -= 1
        return None

    def before(self, level, begin, end):
        """The last moment before `end` at which it is below `level`."""
        i = min(int(end / STEP), len(self) - 2)
        first = max(int(begin / STEP), 0)
        while i >= first:
            if self[i] < level <= self[i + 1]:
                return STEP * (i + (level - self[i]) /
                               (self[i + 1] - self[i]))
            i -= 1
        return None


def smooth(x):
    return x * x * (3.0 - 2.0 * x)


def from_knots(knots, length):
    """Knots (t, value), joined without corners."""
    out, k = Curve(), 0
    for i in range(int(length / STEP) + 1):
        t = i * STEP
        while k + 1 < len(knots) and knots[k + 1][0] <= t:
            k += 1
        value = knots[k][1]
        if k + 1 < len(knots):
            t0, v0 = knots[k]
            t1, v1 = knots[k + 1]
            if v0 != v1:
                value = v0 + (v1 - v0) * smooth((t - t0) / (t1 - t0))
        out.append(value)
    return out


def follow(source, delay, tau_up, tau_down, gain=1.0, shelf=None, opens=0.0):
    """Air that follows: later by `delay`, filling and emptying with a time
    constant each, behind a small one; slower inside the shelf (push-out);
    nothing below `opens`."""
    out, y, z = Curve(), 0.0, 0.0
    late = int(delay / STEP)
    for i in range(len(source)):
        u = source[i - late] if i >= late else 0.0
        u = gain * (u if u > opens else 0.0)
        z += (u - z) * STEP / 0.008
        rate = (z - y) / (tau_up if z > y else tau_down)
        if shelf and 28.0 < y < 48.0 and rate > 0:
            rate *= shelf
        y += rate * STEP
        if y < 1e-6 and z < 1e-6:
            y = 0.0
        out.append(y)
    return out


def press(dice, shape, t, pressure, hold):
    """Knots of one touch of the pedal that begins at t; its end."""
    rise = dice.uniform(0.05, 0.3)
    fall = dice.uniform(0.05, 0.35)
    knots = [(t, 0.0)]
    if shape == "ramp":
        rise = dice.uniform(0.6, 1.8)
    if shape == "overshoot":
        top = min(pressure * dice.uniform(1.15, 1.5), 790.0)
        stay = dice.uniform(0.05, 0.3)
        knots += [(t + rise, top), (t + rise + stay, top)]
        t += stay + dice.uniform(0.1, 0.3)
    knots.append((t + rise, pressure))
    t += rise + hold
    if shape == "dip":
        low = pressure * dice.uniform(0.55, 0.8)
        knots += [(t, pressure), (t + 0.15, low), (t + 0.35, low),
                  (t + 0.5, pressure)]
        t += 0.5 + dice.uniform(0.9, 1.4)
    if shape == "slip":
        t = knots[0][0] + rise + dice.uniform(0.03, 0.2)
    knots += [(t, pressure), (t + fall, 0.0)]
    return knots, t + fall


class Application:
    """The command's two events, and figures by unit and name: (value, slack);
    slack is what another reading of an unsettled hold would change."""

    def __init__(self, number, begin):
        self.number, self.begin = number, begin
        self.units = {}


def descent(curve, begin, end):
    """Where the last descent to rest begins, and from what it fell."""
    i = int(end / STEP)
    while i > int(begin / STEP) and curve[i] <= 1.0:
        i -= 1
    while i > int(begin / STEP) and curve[i - 1] >= curve[i]:
        i -= 1
        if curve[i - 1] == curve[i]:
            break
    return i * STEP, curve[i]


def command_truth(curve, app, end):
    app.apply = curve.up(COMMAND_AT, app.begin - 0.01, end)
    start, top = descent(curve, app.apply, end)
    mean = sum(curve.at(start - 0.2 + 0.01 * k) for k in range(20)) / 20
    app.fall = start
    app.release = curve.down(0.9 * top, app.apply, end)
    other = curve.down(0.9 * max(mean, 1.0), app.apply, end)
    app.release_slack = abs((other or app.release) - app.release)
    app.hold = top
    app.end = end


def demand_truth(frames, app, end):
    """The command is a value held on the bus: frames (t, kPa)."""
    i = bisect.bisect_left(frames, (app.begin - 0.05, 0.0))
    while i < len(frames) and frames[i][1] < COMMAND_AT:
        i += 1
    app.apply = frames[i][0]
    inside = [f for f in frames if app.apply <= f[0] < end]
    last = [k for k, f in enumerate(inside) if f[1] > 1.0][-1]
    k = last
    while k > 0 and inside[k - 1][1] > inside[k][1]:
        k -= 1
    app.hold, app.fall = inside[k][1], inside[k][0]
    while inside[k][1] > 0.9 * app.hold:
        k += 1
    app.release, app.release_slack, app.end = inside[k][0], 0.012, end


def peak_of(curve, app, end):
    return max(curve[int(app.apply / STEP):int(end / STEP)])


def unit_truth(out, rest, app, next_apply):
    """Figures of one output. `rest` is what its gauge shows at no pressure;
    pressures of the curve count from it."""
    begin, end = app.apply - 0.5, min(app.end, next_apply or app.end)
    fall = out.down(0.9 * out.at(app.release), app.release - 0.02, end)
    if fall is None:
        return {}
    # From where it falls: the moment the command lets go, at the earliest.
    tip = max(out.at(app.fall + 0.005 * k) for k in range(8))
    earlier = out.at(app.fall - 0.6)
    settled = abs(tip - earlier) < 0.004 * tip and \
        abs(tip - out.at(app.fall - 0.3)) < 0.004 * tip
    truth = {"hold": (tip + rest, abs(tip - earlier)), "rest": (rest, 0.0),
             "peak": (peak_of(out, app, end) + rest, 0.0)}
    vented = max(out.at(app.apply - 0.02 * k) for k in range(15)) < 2.0
    figures = {"settled": settled, "vented": vented}

    def put(name, passage, origin, other=None):
        if passage is not None:
            slack = abs(other - passage) if other is not None else 0.0
            figures[name] = (passage - origin, slack, passage)

    response = out.up(RESPONSE_AT, begin, end)
    if vented:
        put("response", response, app.apply)
        put("level", out.up(LEVEL - rest, begin, end), app.apply)
        for share in (0.1, 0.75):
            put("apply_%d" % (100 * share), out.up(share * tip, begin, end),
                app.apply, out.up(share * earlier, begin, end))
        first = [figures[f][2] for f in ("response", "level", "apply_10")
                 if f in figures]
        if first:
            put("rise_start", out.before(1.0, begin, min(first)), app.apply)
    since = app.release - 0.3
    for name, level, other in (
            ("release_start", 0.9 * tip, 0.9 * earlier),
            ("release_10", 0.1 * tip, 0.1 * earlier),
            ("release_end", RESPONSE_AT, None)):
        put(name, out.down(level, since, end), app.release,
            None if other is None else out.down(other, since, end))
    if out.at(end - 0.01) > min(RESPONSE_AT, 0.1 * tip):
        figures.pop("release_10", None)
        figures.pop("release_end", None)
    figures["pressures"] = truth
    return figures
