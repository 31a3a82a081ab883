"""An editor's view of a hand-off: every window rebuilt from the keys table by the stated conventions alone.

Standard library only, and nothing of the program's own. Usage:

    python3 rebuild_windows.py KEYS.csv EVERY-FRAME.csv

The conventions file is the one that the rows name; rasters, rate and first frame are read from its words. For
each of the three sets of columns the windows between keys are rebuilt as each row's to_next says, in timeline
time, and compared with the every-frame table. Prints JSON: for each set the number of frames, the largest error of any point of the
delivered picture in delivered px, and how far a rebuilt window hangs over the frame in source px. Where the picture
is rotated, a window's corners are turned back about the source centre before they are held against the frame.
"""

import csv
import json
import math
import pathlib
import re
import sys
from fractions import Fraction


def table(path):
    with open(path, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def stated(path):
    """The numbered lines of the conventions file, by name."""
    text = pathlib.Path(path).read_text(encoding="utf-8")
    return dict(re.findall(r"^ *\d+\. ([A-Za-z0-9 ]+): (.*)$", text, re.MULTILINE))


def raster(words):
    width, height = re.match(r"(\d+)x(\d+)", words).groups()
    return int(width), int(height)


def corner_and_size(row, source, delivered):
    return tuple(row[name] for name in ("left_px", "top_px", "width_px", "height_px"))


def centre_and_scale(row, source, delivered):
    width, height = delivered[0] / row["scale_x"], delivered[1] / row["scale_y"]
    return row["centre_x_px"] - width / 2, row["centre_y_px"] - height / 2, width, height


def offset_and_scale(row, source, delivered):
    """Scale about the source centre, then move the picture: the window is what is then inside."""
    width, height = delivered[0] / row["scale_x"], delivered[1] / row["scale_y"]
    centre_x = source[0] / 2 - row["offset_x_fraction"] * delivered[0] / row["scale_x"]
    centre_y = source[1] / 2 - row["offset_y_fraction"] * delivered[1] / row["scale_y"]
    return centre_x - width / 2, centre_y - height / 2, width, height


SETS = {
    "corner and size": corner_and_size,
    "centre and scale": centre_and_scale,
    "offset and scale": offset_and_scale,
}
NUMBERS = (
    "left_px top_px width_px height_px centre_x_px centre_y_px scale_x scale_y "
    "offset_x_fraction offset_y_fraction rotation_degrees"
).split()


def eased(time, first_handle, second_handle):
    """The share of the way at a share of the time, by a cubic timing curve with handles (a, 0) and (b, 1)."""
    low, high = 0.0, 1.0
    for _ in range(60):
        along = (low + high) / 2
        rest = 1 - along
        reached = 3 * rest * rest * along * first_handle + 3 * rest * along * along * second_handle + along**3
        low, high = (along, high) if reached < time else (low, along)
    return 3 * along * along * (1 - along) + along**3


def rows_between(keys, timeline_seconds, set_name):
    """Each frame with its row: keys as they are, and what to_next says between two keys of one segment."""
    for key, following in zip(keys, keys[1:] + [None]):
        first, segment = int(key["frame"]), key["segment"]
        start = {name: float(key[name]) for name in NUMBERS}
        yield segment, first, start
        if following is None or following["segment"] != segment:
            continue
        last = int(following["frame"])
        end = {name: float(following[name]) for name in NUMBERS}
        ease = key["to_next"].removeprefix("ease ").split(",") if key["to_next"].startswith("ease ") else None
        if ease is None:
            assert key["to_next"] == "straight", key["to_next"]
        elif set_name != "offset and scale" and start["scale_x"] != end["scale_x"]:
            continue  # an eased push is keyed in offset and scale
        from_seconds, to_seconds = float(key["timeline_seconds"]), float(following["timeline_seconds"])
        for frame in range(first + 1, last):
            share = (timeline_seconds[segment, frame] - from_seconds) / (to_seconds - from_seconds)
            if ease is not None:
                share = eased(share, float(ease[0]), float(ease[2]))
            mixed = {name: start[name] + (end[name] - start[name]) * share for name in NUMBERS}
            yield segment, frame, mixed


def error_px(window, true, delivered):
    worst = 0.0
    for axis in (0, 1):
        near, far = window[axis] - true[axis], window[axis] + window[axis + 2] - true[axis] - true[axis + 2]
        scale = delivered[axis] / min(window[axis + 2], true[axis + 2])
        worst = max(worst, abs(near) * scale, abs(far) * scale)
    return worst


def overhang_px(window, rotation_degrees, source):
    """How far a window of the rotated picture hangs over the displayed frame: clockwise as seen, with y down."""
    left, top, width, height = window
    angle = math.radians(rotation_degrees)
    centre_x, centre_y = source[0] / 2, source[1] / 2
    worst = -math.inf
    for corner_x, corner_y in ((left, top), (left + width, top), (left, top + height), (left + width, top + height)):
        across, down = corner_x - centre_x, corner_y - centre_y
        x = centre_x + across * math.cos(angle) + down * math.sin(angle)
        y = centre_y - across * math.sin(angle) + down * math.cos(angle)
        worst = max(worst, -x, x - source[0], -y, y - source[1])
    return worst


def main(keys_path, every_frame_path):
    keys, every_frame = table(keys_path), table(every_frame_path)
    conventions = stated(pathlib.Path(keys_path).parent / keys[0]["conventions"])
    source, delivered = raster(conventions["Source raster"]), raster(conventions["Delivered raster"])
    rate = Fraction(conventions["Rate"].split()[0])
    true, timeline_seconds = {}, {}
    for row in every_frame:
        seconds = int(row["frame"]) / rate
        assert abs(float(row["source_seconds"]) - float(seconds)) < 1e-6, row["frame"]
        timeline_seconds[row["segment"], int(row["frame"])] = float(row["timeline_seconds"])
        true[row["segment"], int(row["frame"])] = corner_and_size(
            {name: float(row[name]) for name in NUMBERS}, source, delivered
        )
    report = {}
    for name, window_of in SETS.items():
        frames, worst, overhang = 0, 0.0, 0.0
        for segment, frame, row in rows_between(keys, timeline_seconds, name):
            window = window_of(row, source, delivered)
            frames += 1
            worst = max(worst, error_px(window, true[segment, frame], delivered))
            overhang = max(overhang, overhang_px(window, row["rotation_degrees"], source))
        report[name] = {"frames": frames, "worst_error_px": worst, "overhang_px": overhang}
    report["frames_in_table"] = len(every_frame)
    print(json.dumps(report))


if __name__ == "__main__":
    main(*sys.argv[1:])
