"""What a path costs and keeps, from the words of docs/what-a-path-costs.md."""

import math

import numpy as np

# What a box may lack and still count as inside.
INSIDE_PX = 0.01


def lacking(box, window, insets):
    """What a box lacks across and down, each at both ends together."""
    left, top, width, height = window
    across = max(0.0, left + insets[0] * width - box[0])
    across += max(0.0, box[0] + box[2] - (left + width - insets[2] * width))
    down = max(0.0, top + insets[1] * height - box[1])
    down += max(0.0, box[1] + box[3] - (top + height - insets[3] * height))
    return across, down


def middle_of(box, share=1.0):
    left, top, width, height = box
    return [left + width * (1.0 - share) / 2.0, top + height * (1.0 - share) / 2.0, width * share, height * share]


def cost(segment):
    """The parts of the objective."""
    asked, weights, steps = segment.asked, segment.asked["weights"], segment.steps
    reference = asked["reference_width_px"]
    u = segment.coordinates() / reference
    moved = np.diff(u, axis=1)
    long_enough = np.maximum(steps, steps.mean() / 64.0)
    speeds = moved / long_enough[:-1]
    between = (long_enough[:-2] + long_enough[1:-1]) / 2.0
    outside = off_place = 0.0
    for frame, window in zip(segment.frames, segment.windows):
        for box, weight, counts in frame.boxes:
            outside += frame.step_secs * weight * counts * sum(lacking(box, window, segment.insets))
        for point, place, weight, counts in frame.points:
            for axis in (0, 1):
                at = window[axis] + place[axis] * window[2 + axis]
                off = max(0.0, abs(point[axis] - at) - segment.limits["still_zone"] * window[2 + axis])
                off_place += frame.step_secs * weight * counts * off
    wished = np.array([frame.width for frame in segment.frames])
    off_width = float(np.sum(wished * steps * np.abs(segment.windows[:, 2] - asked["preferred_width_px"])))
    moves = segment.moves()
    secs = sum(segment.starts[last] - segment.starts[first] for first, last in moves)
    return {
        "speed": float(np.sum(np.abs(moved))),
        "acceleration": weights["acceleration"] * float(np.sum(np.diff(speeds, axis=1) ** 2 / between)),
        "containment": weights["containment"] * outside / reference,
        "place": weights["place"] * off_place / reference,
        "width": weights["width"] * off_width / reference,
        "moves": weights["each_move"] * len(moves) + weights["moving"] * secs,
    }


def outcome(segment):
    """Verdict, share inside and short frames, as the four limits make them."""
    limits = segment.limits
    inside = total = 0.0
    short, never_far, middle_kept = [], True, True
    for number, frame, window in zip(segment.used, segment.frames, segment.windows):
        if not frame.boxes:
            continue
        total += frame.weight()
        lacks = [pair for box, _, _ in frame.boxes for pair in zip(lacking(box, window, segment.insets), ("across", "down"))]
        worst = max(lacks, key=lambda lack: lack[0])
        if worst[0] > INSIDE_PX:
            short.append({"frame": number, "missing_px": worst[0], "axis": worst[1]})
            never_far &= worst[0] <= limits["fits_short"] * window[2]
        else:
            inside += frame.weight()
        share = limits["tight_middle"]
        for box, _, _ in frame.boxes if share > 0.0 else []:
            middle_kept &= max(lacking(middle_of(box, share), window, (0.0,) * 4)) <= INSIDE_PX
    share_inside = inside / total if total > 0.0 else 1.0
    if share_inside >= limits["fits_share"] and never_far:
        verdict = "fits"
    elif share_inside >= limits["tight_share"] and middle_kept:
        verdict = "tight"
    else:
        verdict = "does-not-fit"
    return (verdict if total > 0.0 else None), share_inside, short


def visits(segment):
    """The stays of the first box in the window on which all of it is inside at some frame."""
    sights = []
    for number, frame, window in zip(segment.used, segment.frames, segment.windows):
        if not frame.boxes:
            continue
        box = frame.boxes[0][0]
        spans = [(box[axis], box[axis] + box[2 + axis], window[axis], window[axis] + window[2 + axis]) for axis in (0, 1)]
        sights.append(
            {
                "frame": number,
                "secs": frame.step_secs,
                "any": all(end > low and start < high for start, end, low, high in spans),
                "middle": all(low <= (start + end) / 2.0 <= high for start, end, low, high in spans),
                "all": max(lacking(box, window, (0.0,) * 4)) <= INSIDE_PX,
            }
        )
    stays = []
    for place, sight in enumerate(sights):
        if place == 0 or sight["any"] != sights[place - 1]["any"]:
            stays.append((place, []))
        stays[-1][1].append(sight)
    found = []
    for start, stay in stays:
        whole = [sight["frame"] for sight in stay if sight["all"]]
        middle = [sight["frame"] for sight in stay if sight["middle"]]
        if not (stay[0]["any"] and whole and middle):
            continue
        end = start + len(stay)
        longest = running = 0.0
        for before, sight in zip([None] + stay, stay):
            goes_on = before and before["all"] and before["frame"] + 1 == sight["frame"]
            running = (running if goes_on else 0.0) + sight["secs"] if sight["all"] else 0.0
            longest = max(longest, running)
        found.append(
            {
                "nose_in": stay[0]["frame"] if start else None,
                "inside": [whole[0], whole[-1]],
                "middle_inside": [middle[0], middle[-1]],
                "tail_out": sights[end]["frame"] if end < len(sights) else None,
                "inside_secs": longest,
            }
        )
    return found


def speeds(segment):
    """Window widths a second of each step, across or down, whichever is more."""
    x, y, width = segment.coordinates()
    moved = np.maximum(np.abs(np.diff(x)), np.abs(np.diff(y)))
    return moved / ((width[:-1] + width[1:]) / 2.0 * segment.steps[:-1])


def area_of(segment, place):
    """Left, top, right and bottom of what the window may use at a frame, slanted edges aside."""
    turned = segment.turns[place] != 0.0
    left, top, right, bottom = (0.0, 0.0, *segment.raster) if turned else segment.usable
    for number, (x, y, width, height) in segment.frames[place].keep_outs.items():
        if number < len(segment.planned["sides"]):
            side = segment.planned["sides"][number]
            left = max(left, x + width) if side == "right" else left
            right = min(right, x) if side == "left" else right
            top = max(top, y + height) if side == "below" else top
            bottom = min(bottom, y) if side == "above" else bottom
    return left, top, right, bottom


def turned_back(segment, place, x, y):
    """Where a point of the levelled picture is in the displayed one: turned counterclockwise as seen, y down."""
    middle_x, middle_y = segment.raster[0] / 2.0, segment.raster[1] / 2.0
    sine, cosine = math.sin(segment.turns[place]), math.cos(segment.turns[place])
    across, down = x - middle_x, y - middle_y
    return middle_x + across * cosine + down * sine, middle_y - across * sine + down * cosine


def share_of_way(time, peak_over_mean):
    """An ease's share of the way, by halving for the parameter of its timing curve."""
    handle = 1.0 - 1.0 / peak_over_mean
    low, high = 0.0, 1.0
    for _ in range(60):
        p = (low + high) / 2.0
        reached = 3.0 * p * (1.0 - p) ** 2 * handle + 3.0 * p * p * (1.0 - p) * (1.0 - handle) + p**3
        low, high = (p, high) if reached < time else (low, p)
    p = (low + high) / 2.0
    return 3.0 * p * p - 2.0 * p**3


class Law:
    """How the window of a move runs: by one eased share in the hand-off's columns, the ride taken off."""

    def __init__(self, segment, first, last):
        self.middle = (segment.raster[0] / 2.0, segment.raster[1] / 2.0)
        self.peak_over_mean = segment.limits["ease_peak"]
        stand = segment.windows - np.column_stack([segment.ride, np.zeros_like(segment.ride)])
        self.ends = self.framing(stand[first]), self.framing(stand[last])

    def framing(self, window):
        """Scale across and down and picture offset across and down, for a delivered picture of one by one."""
        scale = (1.0 / window[2], 1.0 / window[3])
        return np.array([*scale, *((self.middle[a] - window[a] - window[2 + a] / 2.0) * scale[a] for a in (0, 1))])

    def window_at(self, time):
        share = share_of_way(time, self.peak_over_mean)
        mixed = self.ends[0] * (1.0 - share) + self.ends[1] * share
        wide, high = 1.0 / mixed[0], 1.0 / mixed[1]
        left, top = self.middle[0] - mixed[2] * wide - wide / 2.0, self.middle[1] - mixed[3] * high - high / 2.0
        return np.array([left, top, wide, high])
