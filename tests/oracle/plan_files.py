"""What a planned segment says of itself, read from the files of an outputs folder (docs/what-a-path-costs.md, "The files")."""

import csv
import json
from collections import defaultdict

import numpy as np


def size(raster):
    return tuple(float(number) for number in raster.split("x"))


def edges(row):
    return [float(row[name]) for name in ("left_px", "top_px", "width_px", "height_px")]


class Segment:
    """One planned segment: its windows, and what was asked of them."""

    def __init__(self, report, numbered, every_frame, asked):
        clip, entry, delivered = report
        self.planned = numbered["outcome"]["planned"]
        self.asked = self.planned["asked"]
        self.clauses = self.planned.get("clauses", [])
        self.limits = {limit["name"]: limit["value"] for limit in entry["limits"]}
        self.raster = size(clip["raster"])
        self.delivered, self.blocked = size(delivered["raster"]), delivered["blocked"]
        self.used = range(*numbered["used"])
        self.with_handles = range(*numbered["with_handles"])
        rows = {int(row["frame"]): row for row in every_frame}
        self.rows = [rows[frame] for frame in self.with_handles]
        self.baked = np.array([edges(row) for row in self.rows])
        before = self.used.start - self.with_handles.start
        self.windows = self.baked[before : before + len(self.used)]
        turns = self.planned.get("rotation_degrees") or [0.0] * len(self.rows)
        self.turns = np.radians(turns[before : before + len(self.used)])
        self.frames = [Frame(asked[frame]) for frame in self.used]
        self.steps = np.array([frame.step_secs for frame in self.frames])
        self.ride = np.array([frame.ride for frame in self.frames])
        self.starts = np.concatenate([[0.0], np.cumsum(self.steps)])
        self.insets = self.asked["insets"]
        left, top, width, height = self.asked["usable_px"]
        self.usable = (left, top, left + width, top + height)

    def place_of(self, frame):
        return frame - self.used.start

    def coordinates(self):
        """Centre across, centre down and width, with the ride taken off, a frame each."""
        left, top, width, height = self.windows.T
        across, down = self.ride.T
        return np.array([left + width / 2.0 - across, top + height / 2.0 - down, width])

    def moves(self):
        return [tuple(self.place_of(frame) for frame in move) for move in self.planned.get("moves", [])]


class Frame:
    """What was asked of one frame."""

    def __init__(self, rows):
        kinds = defaultdict(list)
        for row in rows:
            kinds[row["asks"]].append(row)
        (frame,) = kinds["frame"]
        self.step_secs = float(frame["step_secs"])
        self.width = float(frame["weight"])
        self.ride = (float(frame["ride_x_px"]), float(frame["ride_y_px"]))
        self.boxes = [(edges(row), float(row["weight"]), row["let_go"] == "no") for row in kinds["inside"]]
        self.points = [
            (
                (float(row["left_px"]), float(row["top_px"])),
                (float(row["place_x"]), float(row["place_y"])),
                float(row["weight"]),
                row["let_go"] == "no",
            )
            for row in kinds["place"]
        ]
        self.pins = [edges(row) for row in kinds["pin"]]
        self.clauses = {int(row["number"]) - 1: ClauseBox(row) for row in kinds["clause"]}
        self.keep_outs = {int(row["number"]) - 1: edges(row) for row in kinds["keep-out"]}

    def weight(self):
        """How much it counts in the outcome."""
        return sum(weight for _, weight, _ in self.boxes) / len(self.boxes)


class ClauseBox:
    """A thing that a clause is on, at one frame."""

    def __init__(self, row):
        self.box = edges(row)
        self.is_required = row["required"] == "yes"
        self.greatest_width = float(row["greatest_width_px"]) if row["greatest_width_px"] else None


def table(path):
    with open(path, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def planned_segments(folder):
    """Every planned segment of a folder, with its clip, deliverable and number in words."""
    report = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    delivered = {facts["name"]: facts for facts in report["deliverables"]}
    # A table that somebody changed was left alone, and the plan's own stands beside it.
    beside = {note["kept"]: note["new"] for note in report["outputs"] if note["new"]}
    for clip in report["clips"]:
        for entry in clip["entries"]:
            planned = [numbered for numbered in entry["segments"] if "planned" in numbered["outcome"]]
            if not planned:
                continue
            name = f"{clip['name']}_{entry['deliverable']}"
            tables = [f"{name}_{what}.csv" for what in ("every-frame", "asked")]
            every_frame, asked = (table(folder / beside.get(file, file)) for file in tables)
            facts = (clip, entry, delivered[entry["deliverable"]])
            for numbered in planned:
                mine = str(numbered["number"])
                by_frame = defaultdict(list)
                for row in asked:
                    if row["segment"] == mine:
                        by_frame[int(row["frame"])].append(row)
                rows = [row for row in every_frame if row["segment"] == mine]
                yield f"{clip['name']}, {entry['deliverable']}, segment {mine}", Segment(facts, numbered, rows, by_frame)
