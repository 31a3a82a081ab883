"""A plan reckoned again from its files alone: costs, outcomes, limits, and the best follow path by a general solver.

    recompute_plan.py FOLDER

FOLDER is an outputs folder. Reads report.json and the tables of every planned shape in it, reckons everything that
docs/what-a-path-costs.md states from that page's words, and prints each number as reported and as reckoned. Follow paths are
solved again by PIQP (through follow_optimum.py). Ends with status 1, and says what differs, if anything differs by more than:

    costs         1e-6 of the number and 1e-6 window widths
    best path     1e-6 of its cost and 1e-6 window widths, and what the report says that it may cost more
    px            1e-6 px (1e-3 px at the slanted edges of a turned picture)
    least travel  1e-5 of it and 0.01 px
    shares, speeds, seconds   1e-6
    frames, verdicts, counts  none
"""

import sys
from pathlib import Path

import numpy as np

from follow_optimum import optimum
from plan_clauses import check_clauses
from plan_files import planned_segments
from plan_formulas import INSIDE_PX, Law, area_of, cost, outcome, speeds, turned_back, visits

RELATIVE, FLOOR = 1e-6, 1e-6
NOISE_PX = 1e-6
TURNED_NOISE_PX = 1e-3
# Below this a window stands still: one width in a quarter of an hour.
STILL_WIDTHS_PER_SEC = 1.0 / 900.0
# From the page: a way of less than this share of the mean width is no direction.
SEEN_WAY = 0.005
# Likewise: less than this in all is no travel.
NO_TRAVEL_PX = 0.05
# What a general solver leaves of a path that is not weighed by anything but its travel.
LEAST_TRAVEL_NOISE_PX = 1e-2


class Faults:
    """What was compared, and what differs."""

    def __init__(self):
        self.where, self.told, self.compared = "", [], 0

    def differ(self, words):
        self.told.append(f"{self.where}: {words}")

    def number(self, name, reported, found, relative=RELATIVE, floor=FLOOR):
        self.compared += 1
        if not abs(found - reported) <= relative * abs(reported) + floor:
            self.differ(f"{name} is reported as {reported:.9g}, and is {found:.9g} when reckoned again")

    def same(self, name, reported, found):
        self.compared += 1
        if reported != found:
            self.differ(f"{name} is reported as {reported}, and is {found} when reckoned again")

    def at_most(self, name, found, limit, slack):
        self.compared += 1
        if not found <= limit + slack:
            self.differ(f"{name}: {found:.9g} is above {limit:.9g}")


def check_limits(segment, faults):
    """The hard limits of every used frame: inside, wide enough, clear of what is kept out, pinned where it is pinned."""
    is_copied = "copied" in segment.planned
    for place, (frame, (left, top, width, height)) in enumerate(zip(segment.frames, segment.windows)):
        at = f"frame {segment.used[place]}"
        area = area_of(segment, place)
        over = max(area[0] - left, area[1] - top, left + width - area[2], top + height - area[3])
        faults.at_most(f"{at}, px over what may be used", over, 0.0, NOISE_PX)
        if segment.turns[place] != 0.0:
            corners = [turned_back(segment, place, x, y) for x in (left, left + width) for y in (top, top + height)]
            low_x, low_y, high_x, high_y = segment.usable
            over = max(max(low_x - x, x - high_x, low_y - y, y - high_y) for x, y in corners)
            faults.at_most(f"{at}, px over a slanted edge", over, 0.0, TURNED_NOISE_PX)
        faults.at_most(f"{at}, least width against width", segment.asked["least_width_px"], width, NOISE_PX)
        if segment.asked["greatest_width_px"] is not None:
            faults.at_most(f"{at}, width against greatest width", width, segment.asked["greatest_width_px"], NOISE_PX)
        for pin in frame.pins if not is_copied else []:
            off = max(abs(a - b) for a, b in zip(pin, (left, top, width, height)))
            faults.at_most(f"{at}, px off its pin", off, 0.0, NOISE_PX)
        for x, y, wide, high in frame.keep_outs.values() if is_copied else []:
            inside = min(min(left + width, x + wide) - max(left, x), min(top + height, y + high) - max(top, y))
            faults.at_most(f"{at}, px of a keep-out inside", inside, 0.0, INSIDE_PX)


def check_pan(segment, faults):
    """The fastest step, as reported and against both limits."""
    peak, hard, caution = segment.planned["peak"], segment.limits["pan_hard"], segment.limits["pan_caution"]
    each = speeds(segment)
    fastest = float(each.max()) if len(each) else 0.0
    faults.number("the peak in widths a second", peak["widths_per_sec"], fastest)
    # Of equally fast steps rounding decides which is the fastest.
    if fastest > STILL_WIDTHS_PER_SEC:
        there = each[segment.place_of(peak["frame"])]
        faults.number(f"the speed at the peak's frame {peak['frame']}", fastest, float(there))
    if hard is not None:
        faults.at_most("pan_hard x peak", fastest * hard, 1.0, 1e-6)
    if caution is not None and abs(fastest * caution - 1.0) > 1e-6:
        faults.same("pan_caution", segment.planned["pan_caution"], fastest * caution > 1.0)


def check_still(segment, faults):
    """A hold stands still from first to last, and moves between moves; handles are held."""
    unridden = segment.coordinates().T
    moves = segment.moves()
    if segment.planned["way"] != "follow" and "copied" not in segment.planned:
        bounds = [0] + [place for move in moves for place in move] + [len(segment.used) - 1]
        for first, last in zip(bounds[::2], bounds[1::2]):
            off = float(np.abs(unridden[first : last + 1] - unridden[first]).max())
            at = f"frames {segment.used[first]} to {segment.used[last]}"
            faults.at_most(f"{at}, px by which a hold moves", off, 0.0, 2.0 * NOISE_PX)
            if moves:
                # The last frame of the path stays for as long as it stays; from others a move sets off at once.
                end = last + 1 if last == len(segment.used) - 1 else last
                secs = segment.starts[end] - segment.starts[first]
                faults.at_most(f"{at}, least_hold against seconds", segment.limits["least_hold"], secs, 1e-6)
        for first, last in moves:
            check_move(segment, first, last, faults)
        check_turns(segment, unridden, moves, faults)
    for rows, held in ((segment.baked[: segment.used.start - segment.with_handles.start], segment.windows[0]),
                       (segment.baked[segment.used.stop - segment.with_handles.start :], segment.windows[-1])):
        if len(rows):
            faults.at_most("px by which a handle moves", float(np.abs(rows - held).max()), 0.0, NOISE_PX)


def check_turns(segment, unridden, moves, faults):
    """Across and down by itself, two changes of direction are far enough apart."""
    least_secs = segment.limits["reversal_secs"]
    for axis in (0, 1) if least_secs is not None else ():
        before, turned_at = 0, -np.inf
        for first, last in moves:
            way = unridden[last][axis] - unridden[first][axis]
            mean_width = (unridden[first][2] + unridden[last][2]) / 2.0
            heading = int(np.sign(way)) if abs(way) > SEEN_WAY * mean_width else 0
            if heading and heading == -before:
                at = f"the turn at frame {segment.used[first]}, reversal_secs against seconds since the last one"
                faults.at_most(at, least_secs, segment.starts[first] - turned_at, 1e-6)
                turned_at = segment.starts[first]
            before = heading or before


def check_move(segment, first, last, faults):
    """A move takes as long as it may, runs by its ease in offset and scale, and keeps the pan limit all the way."""
    limits, starts = segment.limits, segment.starts
    at = f"the move from frame {segment.used[first]} to {segment.used[last]}"
    secs = starts[last] - starts[first]
    faults.at_most(f"{at}, least_move against seconds", limits["least_move"], secs, 1e-6)
    faults.at_most(f"{at}, seconds", secs, limits["greatest_move"], 1e-6)
    law, ride = Law(segment, first, last), np.column_stack([segment.ride, np.zeros_like(segment.ride)])
    for place in range(first + 1, last):
        window = law.window_at((starts[place] - starts[first]) / secs)
        off = float(np.abs(window + ride[place] - segment.windows[place]).max())
        faults.at_most(f"frame {segment.used[place]}, px off the move's ease", off, 0.0, 10.0 * NOISE_PX)
    if limits["pan_hard"] is not None:
        count = 1000
        windows = np.array([law.window_at(step / count) for step in range(count + 1)])
        moved = np.abs(np.diff(windows[:, :2] + windows[:, 2:] / 2.0, axis=0)).max(axis=1)
        fastest = float((moved / ((windows[1:, 2] + windows[:-1, 2]) / 2.0)).max()) * count / secs
        faults.at_most(f"{at}, pan_hard x peak at any moment", fastest * limits["pan_hard"], 1.0, 1e-6)


def check_columns(segment, faults):
    """The other two sets of columns, the shape, and the report's own windows say the same."""
    wide, high = segment.delivered
    worst = worst_scale = worst_report = 0.0
    for row, (left, top, width, height), reported in zip(segment.rows, segment.baked, segment.planned["windows"]):
        centres = (left + width / 2.0, top + height / 2.0)
        scales = (float(row["scale_x"]), float(row["scale_y"]))
        offsets = [(segment.raster[a] / 2.0 - centres[a]) * (wide / width, high / height)[a] for a in (0, 1)]
        named = [float(row[n]) for n in ("centre_x_px", "centre_y_px", "offset_x_delivered_px", "offset_y_delivered_px")]
        worst = max(worst, *(abs(a - b) for a, b in zip(named, (*centres, *offsets))))
        worst_scale = max(worst_scale, abs(scales[0] - wide / width), abs(scales[1] - high / height))
        worst_report = max(worst_report, *(abs(a - b) for a, b in zip(reported, (left, top, width, height))))
    faults.at_most("px by which the sets of columns differ", worst, 0.0, 0.6e-4)
    faults.at_most("by which the scales differ", worst_scale, 0.0, 0.6e-9)
    faults.at_most("px by which the report's windows differ", worst_report, 0.0, 0.6e-4)
    errors = segment.windows[:, 2] / segment.windows[:, 3] / (wide / high) - 1.0
    found = float(errors[np.abs(errors).argmax()])
    faults.number("shape_error", abs(segment.planned["shape_error"]), abs(found), 0.0, 2e-9)


def best_follow(segment, weights):
    """The cost of the best follow path by these weights and how far it travels, by a general solver."""
    count = range(len(segment.frames))
    frames = []
    insets = [note["asked"]["insets"] for note in segment.clauses]
    for frame in segment.frames:
        points = [(*point, *place, weight) for point, place, weight, counts in frame.points if counts]
        frames.append(
            {
                "boxes": [(*box, weight) for box, weight, counts in frame.boxes if counts],
                "point": points[0][:4] if points else None,
                "weight": points[0][4] if points else 0.0,
                "width": frame.width,
                "required": [
                    (*found.box, insets[number], found.greatest_width)
                    for number, found in frame.clauses.items()
                    if found.is_required
                ],
            }
        )
    return optimum(
        {
            "shape": segment.delivered,
            "usable": segment.usable,
            "areas": [area_of(segment, place) for place in count],
            "turns": list(segment.turns),
            "raster": segment.raster,
            "least_width": segment.asked["least_width_px"],
            "greatest_width": segment.asked["greatest_width_px"],
            "preferred_width": segment.asked["preferred_width_px"],
            "reference_width": segment.asked["reference_width_px"],
            "steps_secs": list(segment.steps),
            "insets": segment.insets,
            "still_zone": segment.limits["still_zone"],
            "pan_hard": segment.limits["pan_hard"],
            "ride": segment.ride.tolist(),
            "pins": [(place, *pin[:3]) for place in count for pin in segment.frames[place].pins],
            "weights": weights,
            "frames": frames,
        }
    )


def check_cost(segment, faults):
    reported, found = segment.planned["objective"], cost(segment)
    for part, value in found.items():
        print(f"    {part:<12} {reported[part]:14.9f} {value:14.9f}")
        faults.number(f"the cost's part {part}", reported[part], value)
    total = sum(found.values())
    print(f"    {'total':<12} {sum(reported.values()):14.9f} {total:14.9f}")
    faults.same("the cost's parts", sorted(reported), sorted(found))
    if segment.planned["way"] == "follow" and "copied" not in segment.planned:
        try:
            best, _ = best_follow(segment, segment.asked["weights"])
        except SystemExit as gave_up:
            faults.differ(f"the best path is not known: {gave_up}")
            return
        more = segment.planned.get("may_cost_more", 0.0)
        allowed = f", and may cost {more:.3g} more" if more else ""
        print(f"    best path    {best:14.9f} by the solver, {total - best:+.2e} here{allowed}")
        faults.compared += 1
        slack = RELATIVE * abs(best) + FLOOR
        if not -slack <= total - best <= slack + more:
            faults.differ(f"the path costs {total:.9f}, and the best one {best:.9f}")


def check_travel(segment, faults):
    """How far the path travels and how far it must, and what its weights were multiplied by so that it travels no further."""
    greatest, travel = segment.limits["greatest_travel"], segment.planned.get("travel")
    is_told = greatest is not None and segment.planned["way"] != "hold" and "copied" not in segment.planned
    faults.same("whether travel is told", travel is not None, is_told)
    if travel is None:
        return
    px = float(np.abs(np.diff(segment.coordinates(), axis=1)).sum())
    faults.number("the px of travel", travel["px"], px)
    faults.same("how far it may travel", travel["greatest"], greatest)
    given = {name: segment.limits[f"weight_{name}"] for name in ("acceleration", "containment", "place", "width")}
    if segment.planned["way"] == "moves":
        given["place"] = segment.limits["weight_move_place"]
    for name, weight in given.items():
        factor = 1.0 if name == "containment" else travel["factor"]
        faults.number(f"the weight of {name}", segment.asked["weights"][name], factor * weight, 1e-12, 0.0)
    try:
        _, least = best_follow(segment, {**given, "acceleration": 0.0, "place": 0.0, "width": 0.0})
    except SystemExit as gave_up:
        faults.differ(f"the least travel is not known: {gave_up}")
        return
    least *= segment.asked["reference_width_px"]
    print(f"    travel       {travel['px']:14.6f} px, {px:.6f} again; least {travel['least_px']:.6f} px, {least:.6f} by the solver")
    faults.number("the least px of travel", travel["least_px"], least, 1e-5, LEAST_TRAVEL_NOISE_PX)
    allowed = max(greatest * travel["least_px"], NO_TRAVEL_PX)
    faults.same("whether it travels further than it may", "beyond" in travel, px > allowed + NOISE_PX)


def check_outcome(segment, faults):
    planned = segment.planned
    verdict, share_inside, short = outcome(segment)
    stays = visits(segment) if planned.get("visits") else []
    if stays and "copied" not in planned:
        verdict = "leaves"
        longest = max(stay["inside_secs"] for stay in stays)
        faults.at_most("least_inside against the longest visit", segment.limits["least_inside"], longest, 1e-6)
    worst = max(short, key=lambda one: one["missing_px"], default=None)
    words = f"worst {worst['missing_px']:.4f} px {worst['axis']} at frame {worst['frame']}" if worst else "none short"
    reported_worst = max(planned["short_frames"], key=lambda one: one["missing_px"], default=None)
    told = f"worst {reported_worst['missing_px']:.4f} px at frame {reported_worst['frame']}" if reported_worst else "none short"
    inside = "-" if planned["share_inside"] is None else f"{planned['share_inside']:.6f}"
    print(f"    outcome      {planned['verdict']}, {inside} inside, {told}")
    print(f"    again        {verdict}, {share_inside:.6f} inside, {words}")
    faults.same("the verdict", planned["verdict"], verdict)
    if planned["share_inside"] is not None:
        faults.number("share_inside", planned["share_inside"], share_inside)
    for key in ("frame", "axis"):
        faults.same(f"each short frame's {key}", [one[key] for one in planned["short_frames"]], [one[key] for one in short])
    for told, found in zip(planned["short_frames"], short):
        faults.number(f"missing_px at frame {told['frame']}", told["missing_px"], found["missing_px"], 0.0, NOISE_PX)
    told = planned.get("visits", [])
    for key in ("nose_in", "inside", "middle_inside", "tail_out"):
        faults.same(f"each visit's {key}", [one[key] for one in told], [one[key] for one in stays])
    for one, found in zip(told, stays):
        faults.number("inside_secs", one["inside_secs"], found["inside_secs"])


def check(folder):
    faults, count = Faults(), 0
    for faults.where, segment in planned_segments(folder):
        print(f"{faults.where}: {segment.planned['way']}, {len(segment.used)} frames")
        print(f"    {'':<12} {'reported':>14} {'again':>14}")
        for one in (check_cost, check_travel, check_outcome, check_clauses, check_limits, check_pan, check_still, check_columns):
            one(segment, faults)
        count += 1
    return faults, count


def main():
    if len(sys.argv) != 2:
        sys.exit("usage: recompute_plan.py FOLDER")
    faults, count = check(Path(sys.argv[1]))
    for told in faults.told[:20]:
        print(f"DIFFERS {told}")
    if faults.told:
        print(f"{len(faults.told)} of {faults.compared} comparisons differ")
        sys.exit(1)
    print(f"{count} planned segments agree in {faults.compared} comparisons")


if __name__ == "__main__":
    main()
