"""Follows the boxed clips with CSRT ("Discriminative Correlation Filter with Channel and Spatial Reliability",
2017, as in opencv-contrib-python) and prints, as JSON, per clip: success and frames per second from the first
frame's box, and mean overlap when it is started again at marks 48 and 24 frames apart and runs to the next.

Usage: tracking_csrt.py FOLDER THREADS CLIP...   (FOLDER has CLIP/00000.jpg ... and CLIP/boxes.csv)
"""

import csv
import json
import sys
import time
from pathlib import Path

import cv2
import numpy as np


def overlap(a, b):
    across = max(0, min(a[0] + a[2], b[0] + b[2]) - max(a[0], b[0]))
    down = max(0, min(a[1] + a[3], b[1] + b[3]) - max(a[1], b[1]))
    shared = across * down
    return shared / (a[2] * a[3] + b[2] * b[3] - shared)


def follow(frames, box):
    """Boxes (or None where it says that it lost the subject), and the seconds that the steps took."""
    tracker = cv2.legacy.TrackerCSRT_create()
    tracker.init(frames[0], tuple(int(v) for v in box))
    found, start = [box], time.perf_counter()
    for frame in frames[1:]:
        seen, box = tracker.update(frame)
        found.append(box if seen else None)
    return found, time.perf_counter() - start


def overlaps(found, truth):
    return [overlap(a, b) if a is not None else 0.0 for a, b in zip(found, truth)]


def restarted(frames, truth, every):
    marks = sorted({*range(0, len(frames), every), len(frames) - 1})
    all_of_them = []
    for first, end in zip(marks, marks[1:]):
        found, _ = follow(frames[first:end], truth[first])
        all_of_them += overlaps(found, truth[first:end])
    return float(np.mean(all_of_them + [1.0]))


def main():
    folder, threads, clips = Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3:]
    cv2.setNumThreads(threads)
    answer = {"version": cv2.__version__, "clips": {}}
    for clip in clips:
        with open(folder / clip / "boxes.csv", newline="") as file:
            rows = list(csv.reader(file))[1:]
        truth = [[float(v) for v in row[1:]] for row in rows]
        frames = [cv2.imread(str(path)) for path in sorted((folder / clip).glob("*.jpg"))]
        found, seconds = follow(frames, truth[0])
        o = np.array(overlaps(found, truth))
        answer["clips"][clip] = {
            "success": float(np.mean([(o > t / 20).mean() for t in range(21)])),
            "frames": len(frames) - 1,
            "seconds": seconds,
            "every_48": restarted(frames, truth, 48),
            "every_24": restarted(frames, truth, 24),
        }
    print(json.dumps(answer))


main()
