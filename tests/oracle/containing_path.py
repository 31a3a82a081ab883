"""The least shortfall and the least total variation of a window path, by linear programming.

Reads one problem as JSON on standard input (as `follow_optimum.py` does) and prints, as JSON: the least sum over all
frames of what the boxes lack (across and down, both ends together), and the least total variation (of both centres and of
the width, in px) of any path whose shortfall is no more than that. Solved by HiGHS through `scipy.optimize.linprog` (BSD-3-Clause, MIT).
"""

import json
import sys

import numpy as np
from scipy import sparse
from scipy.optimize import linprog


class Rows:
    def __init__(self):
        self.entries, self.bounds = [], []

    def at_most(self, terms, bound):
        self.entries.extend((len(self.bounds), v, f) for v, f in terms)
        self.bounds.append(bound)


def solved(cost, rows, variables):
    row, column, value = (np.array(part) for part in zip(*rows.entries))
    matrix = sparse.csr_matrix((value, (row, column)), shape=(len(rows.bounds), variables))
    free = [(None, None)] * variables
    result = linprog(cost, A_ub=matrix, b_ub=np.array(rows.bounds), bounds=free, method="highs")
    if not result.success:
        sys.exit(f"the outside solver gave up: {result.message}")
    return result.fun


def answer(problem):
    frames, steps = problem["frames"], problem["steps_secs"]
    high = problem["shape"][1] / problem["shape"][0]
    left, top, right, bottom = problem["usable"]
    greatest = min(right - left, (bottom - top) / high)
    count = len(frames)
    # Variables: centre x, centre y, width of each frame; then what each frame lacks; then what each step moves.
    lacking = 3 * count
    boxes = [(index, box) for index, wish in enumerate(frames) for box in wish["boxes"]]
    moving = lacking + 4 * len(boxes)
    variables = moving + 3 * (count - 1)
    rows = Rows()
    for index in range(count):
        x, y, w = 3 * index, 3 * index + 1, 3 * index + 2
        rows.at_most([(w, 1.0)], greatest)
        rows.at_most([(w, -1.0)], -problem["least_width"])
        for centre, size, start, end in ((x, 1.0, left, right), (y, high, top, bottom)):
            rows.at_most([(centre, -1.0), (w, size / 2)], -start)
            rows.at_most([(centre, 1.0), (w, size / 2)], end)
    for number, (index, box) in enumerate(boxes):
        w = 3 * index + 2
        for axis, size in ((0, 1.0), (1, high)):
            near, far = lacking + 4 * number + 2 * axis, lacking + 4 * number + 2 * axis + 1
            centre = 3 * index + axis
            rows.at_most([(near, -1.0)], 0.0)
            rows.at_most([(far, -1.0)], 0.0)
            rows.at_most([(centre, 1.0), (w, -size / 2), (near, -1.0)], box[axis])
            rows.at_most([(centre, -1.0), (w, -size / 2), (far, -1.0)], -box[axis] - box[axis + 2])
    for index in range(count - 1):
        for coordinate in range(3):
            before, after = 3 * index + coordinate, 3 * index + 3 + coordinate
            size = moving + 3 * index + coordinate
            for sign in (1.0, -1.0):
                rows.at_most([(after, sign), (before, -sign), (size, -1.0)], 0.0)
                if coordinate < 2 and problem["pan_hard"] is not None:
                    share = steps[index] / problem["pan_hard"] / 2.0
                    widths = [(3 * index + 2, -share), (3 * index + 5, -share)]
                    rows.at_most([(after, sign), (before, -sign)] + widths, 0.0)
    shortfall = np.zeros(variables)
    shortfall[lacking:moving] = 1.0
    least_shortfall = solved(shortfall, rows, variables)
    rows.at_most([(v, 1.0) for v in range(lacking, moving)], least_shortfall + 1e-6)
    variation = np.zeros(variables)
    variation[moving:] = 1.0
    return {"shortfall_px": least_shortfall, "variation_px": solved(variation, rows, variables)}


if __name__ == "__main__":
    json.dump(answer(json.load(sys.stdin)), sys.stdout)
