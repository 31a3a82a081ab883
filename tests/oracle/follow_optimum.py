"""The least cost of a follow path, by another general solver and from the problem's own words.

Reads one problem as JSON on standard input and prints the optimum, in reference window widths and timeline seconds.
`steps_secs` says of each frame how much timeline time passes from it to the next; the last one is how long the last frame
stays. `areas` (left, top, right, bottom of what may be used) and `turns` (radians clockwise by which the picture is turned
about the middle of `raster`) are a frame each and may be left out; so may a frame's `required`: boxes that have to lie inside,
each as left, top, width, height, insets and the greatest width of the window or null. The program is assembled here anew, in
other variables than the planner's (edges instead of centres) and solved by PIQP, a proximal interior-point method (crate and
package `piqp`, BSD-2-Clause); one without acceleration by HiGHS through `scipy.optimize.linprog` (BSD-3-Clause, MIT).
"""

import json
import sys

import numpy as np
import piqp
from scipy import sparse
from scipy.optimize import linprog


class Program:
    """minimise 1/2 v'Pv + c'v, rows between their bounds."""

    def __init__(self):
        self.cost, self.square, self.rows, self.low, self.high = [], [], [], [], []
        self.constant = 0.0

    def variable(self, cost=0.0):
        self.cost.append(cost)
        return len(self.cost) - 1

    def row(self, terms, low=-np.inf, high=np.inf):
        self.rows.append(terms)
        self.low.append(low)
        self.high.append(high)

    def pay_for_more_than_zero(self, terms, constant, cost):
        """cost * max(0, terms + constant)"""
        slack = self.variable(cost)
        self.row([(slack, 1.0)], low=0.0)
        self.row([(slack, 1.0)] + [(v, -f) for v, f in terms], low=constant)

    def pay_for_size(self, terms, constant, cost):
        """cost * |terms + constant|"""
        slack = self.variable(cost)
        self.row([(slack, 1.0)] + [(v, -f) for v, f in terms], low=constant)
        self.row([(slack, 1.0)] + list(terms), low=-constant)
        return slack

    def pay_for_square(self, terms, constant, cost):
        """cost * (terms + constant)**2"""
        self.square.extend((a, b, 2.0 * cost * fa * fb) for a, fa in terms for b, fb in terms)
        for a, fa in terms:
            self.cost[a] += 2.0 * cost * constant * fa
        self.constant += cost * constant**2

    def matrix(self, chosen):
        places = [(i, v, f) for i, row in enumerate(chosen) for v, f in self.rows[row]]
        r, c, f = (np.array(x) for x in zip(*places)) if places else ([], [], [])
        return sparse.csc_matrix((f, (r, c)), shape=(len(chosen), len(self.cost)))

    def solve(self):
        n = len(self.cost)
        low, high = np.array(self.low), np.array(self.high)
        # An interior-point method has no room between two bounds that are one: those are equations.
        is_fixed = low == high
        equations, matrix = (self.matrix(np.flatnonzero(which)) for which in (is_fixed, ~is_fixed))
        fixed, low, high = low[is_fixed], low[~is_fixed], high[~is_fixed]
        if not any(factor for _, _, factor in self.square):
            return self.solve_linear((equations, fixed), (matrix, low, high))
        r, c, f = (np.array(x) for x in zip(*self.square))
        quadratic = sparse.csc_matrix((f, (r, c)), shape=(n, n))
        # What is asked for, and what is still taken where rounding lets the solver come no nearer.
        for tolerance in (1e-9, 1e-8, 1e-7):
            solver = piqp.SparseSolver()
            solver.settings.eps_abs = tolerance
            solver.settings.eps_rel = tolerance
            solver.settings.max_iter = 1000
            solver.setup(quadratic, np.array(self.cost), equations, fixed, matrix, low, high)
            status = solver.solve()
            if status == piqp.PIQP_SOLVED:
                break
        else:
            sys.exit(f"the outside solver gave up: {status}")
        v = solver.result.x
        return 0.5 * v @ (quadratic @ v) + np.array(self.cost) @ v + self.constant, v

    def solve_linear(self, equations, between):
        """The same without squares, which the interior-point method finds hard: by a simplex method."""
        (matrix, low, high), cost = between, np.array(self.cost)
        has_low, has_high = np.isfinite(low), np.isfinite(high)
        result = linprog(
            cost,
            A_ub=sparse.vstack([matrix[has_high], -matrix[has_low]]),
            b_ub=np.concatenate([high[has_high], -low[has_low]]),
            A_eq=equations[0],
            b_eq=equations[1],
            bounds=(None, None),
            method="highs",
        )
        if not result.success:
            sys.exit(f"the outside solver gave up: {result.message}")
        return cost @ result.x + self.constant, result.x


def keep_corners_inside(program, problem, turn, window):
    """All four corners of a window of a turned picture lie in the usable part of the displayed one."""
    (x, y, w), unit = window, 1.0 / problem["reference_width"]
    left, top, right, bottom = problem["usable"]
    middle = [size / 2.0 for size in problem["raster"]]
    sine, cosine = np.sin(turn), np.cos(turn)
    high_per_wide = problem["shape"][1] / problem["shape"][0]
    for wide in (0.0, 1.0):
        for high in (0.0, high_per_wide):
            for (across, down), low, far, about in (
                ((cosine, sine), left, right, middle[0]),
                ((-sine, cosine), top, bottom, middle[1]),
            ):
                terms = [(x, across), (y, down), (w, across * wide + down * high)]
                moved = (about - across * (middle[0] - left) - down * (middle[1] - top)) * unit
                program.row(terms, low * unit - moved, far * unit - moved)


def require(program, problem, required, window):
    """A box lies inside and clear of the insets, and the window is no wider than it may be."""
    (x, y, w), unit = window, 1.0 / problem["reference_width"]
    across, down, wide, high, (before, above, after, below), greatest = required
    high_per_wide = problem["shape"][1] / problem["shape"][0]
    left, top = problem["usable"][:2]
    program.row([(x, 1.0), (w, before)], high=(across - left) * unit)
    program.row([(x, 1.0), (w, 1.0 - after)], low=(across + wide - left) * unit)
    program.row([(y, 1.0), (w, above * high_per_wide)], high=(down - top) * unit)
    program.row([(y, 1.0), (w, (1.0 - below) * high_per_wide)], low=(down + high - top) * unit)
    if greatest is not None:
        program.row([(w, 1.0)], high=greatest * unit)


def optimum(problem):
    """The least cost, and how far the window travels for it, both in reference widths."""
    program, weights, steps = Program(), problem["weights"], problem["steps_secs"]
    high_per_wide = problem["shape"][1] / problem["shape"][0]
    left, top, right, bottom = problem["usable"]
    reference, preferred = problem["reference_width"], problem["preferred_width"]
    greatest = min(right - left, (bottom - top) / high_per_wide)
    if problem.get("greatest_width") is not None:
        greatest = min(greatest, problem["greatest_width"])
    # Everything in reference widths from the usable corner; edges, not centres.
    unit = 1.0 / reference
    windows = []
    pins = {index: pin for index, *pin in problem["pins"]}
    for index, (wish, step) in enumerate(zip(problem["frames"], steps, strict=True)):
        x, y, w = program.variable(), program.variable(), program.variable()
        windows.append((x, y, w))
        if index in pins:
            pinned_left, pinned_top, pinned_width = pins[index]
            for variable, value in ((x, pinned_left - left), (y, pinned_top - top), (w, pinned_width)):
                program.row([(variable, 1.0)], value * unit, value * unit)
        else:
            near_x, near_y, far_x, far_y = problem["areas"][index] if "areas" in problem else problem["usable"]
            program.row([(w, 1.0)], problem["least_width"] * unit, greatest * unit)
            program.row([(x, 1.0)], low=(near_x - left) * unit)
            program.row([(y, 1.0)], low=(near_y - top) * unit)
            program.row([(x, 1.0), (w, 1.0)], high=(far_x - left) * unit)
            program.row([(y, 1.0), (w, high_per_wide)], high=(far_y - top) * unit)
            if "turns" in problem and problem["turns"][index] != 0.0:
                keep_corners_inside(program, problem, problem["turns"][index], (x, y, w))
            for required in wish.get("required", []):
                require(program, problem, required, (x, y, w))
        axes = (
            (x, 1.0, left, problem["insets"][0], problem["insets"][2]),
            (y, high_per_wide, top, problem["insets"][1], problem["insets"][3]),
        )
        for axis, (start, size, origin, before, after) in enumerate(axes):
            for box in wish["boxes"]:
                near = (box[axis] - origin) * unit
                far = (box[axis] + box[axis + 2] - origin) * unit
                cost = weights["containment"] * step * box[4]
                program.pay_for_more_than_zero([(start, 1.0), (w, before * size)], -near, cost)
                program.pay_for_more_than_zero([(start, -1.0), (w, -(1.0 - after) * size)], far, cost)
            if wish["point"] is not None:
                point, zone = (wish["point"][axis] - origin) * unit, problem["still_zone"] * size
                place = wish["point"][2 + axis]
                cost = weights["place"] * step * wish["weight"]
                # |point - (start + place * size)| beyond the still zone is the larger of two hinges.
                slack = program.variable(cost)
                program.row([(slack, 1.0)], low=0.0)
                program.row([(slack, 1.0), (start, 1.0), (w, place * size + zone)], low=point)
                program.row([(slack, 1.0), (start, -1.0), (w, zone - place * size)], low=-point)
        # Where nothing is known of the subject, no width is wished.
        program.pay_for_size([(w, 1.0)], -preferred * unit, weights["width"] * wish.get("width", 1.0) * step)
    centres = [
        ([(x, 1.0), (w, 0.5)], [(y, 1.0), (w, 0.5 * high_per_wide)], [(w, 1.0)]) for x, y, w in windows
    ]

    def weighted(parts):
        return [(v, factor * f) for factor, terms in parts for v, f in terms]

    # What a window rides on is taken off every speed: across, down, and nothing of the width.
    rides = [(across * unit, down * unit, 0.0) for across, down in problem["ride"]]
    ridden = [[b - a for a, b in zip(*pair)] for pair in zip(rides, rides[1:])]
    travelled = []
    for before, now, step, ride in zip(centres, centres[1:], steps, ridden):
        for a, b, moved in zip(before, now, ride):
            travelled.append(program.pay_for_size(weighted([(1.0, b), (-1.0, a)]), -moved, 1.0))
        if problem["pan_hard"] is not None:
            share = step / problem["pan_hard"] / 2.0
            for a, b, moved in list(zip(before, now, ride))[:2]:
                for sign in (1.0, -1.0):
                    terms = weighted([(sign, b), (-sign, a), (-share, before[2]), (-share, now[2])])
                    program.row(terms, high=sign * moved)
    # A step of less than a 64th of the mean one is taken for that long.
    shortest = sum(steps) / len(steps) / 64.0
    long_enough = [max(step, shortest) for step in steps]
    in_turn = zip(centres, centres[1:], centres[2:], long_enough, long_enough[1:], ridden, ridden[1:])
    for before, now, after, step, following, ride, ride_after in in_turn:
        # The acceleration is the change of speed over the time between the middles of two steps, and is paid
        # for that time: (change of speed / between)**2 * between.
        between = (step + following) / 2.0
        for a, b, c, moved, moved_after in zip(before, now, after, ride, ride_after):
            speed_change = weighted([(1.0 / step, a), (-1.0 / step, b), (-1.0 / following, b), (1.0 / following, c)])
            ridden_change = moved_after / following - moved / step
            program.pay_for_square(speed_change, -ridden_change, weights["acceleration"] / between)
    cost, values = program.solve()
    return float(cost), float(values[travelled].sum())


if __name__ == "__main__":
    print(repr(optimum(json.load(sys.stdin))[0]))
