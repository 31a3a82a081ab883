"""Where places of a level world are seen, by OpenCV: cv2.projectPoints for a straight-line lens, cv2.fisheye.projectPoints
for an equidistant fisheye and for one of four coefficients. Reads JSON, writes JSON.

Places are metres right of the camera, below it and ahead of it. The camera is tilted down and rolled clockwise as seen from
behind; its axes are right, down and ahead, as OpenCV's are.
"""

import json
import sys

import cv2
import numpy as np


def camera_from_level(tilt_down, roll):
    """Rows are the camera's axes in the level world."""
    ahead = np.array([0.0, np.sin(tilt_down), np.cos(tilt_down)])
    level_right = np.array([1.0, 0.0, 0.0])
    level_down = np.cross(ahead, level_right)
    right = np.cos(roll) * level_right + np.sin(roll) * level_down
    return np.array([right, np.cross(ahead, right), ahead])


def main():
    asked = json.load(sys.stdin)
    turn, _ = cv2.Rodrigues(camera_from_level(np.radians(asked["tilt_down_degrees"]), np.radians(asked["roll_degrees"])))
    focal, (x, y) = asked["focal_px"], asked["centre"]
    camera = np.array([[focal, 0.0, x], [0.0, focal, y], [0.0, 0.0, 1.0]])
    places = np.array(asked["places"], dtype=np.float64).reshape(-1, 1, 3)
    nowhere = np.zeros(3)
    if asked["coefficients"] is None:
        seen, _ = cv2.projectPoints(places, turn, nowhere, camera, None)
    else:
        seen, _ = cv2.fisheye.projectPoints(places, turn, nowhere, camera, np.array(asked["coefficients"], dtype=np.float64))
    json.dump(seen.reshape(-1, 2).tolist(), sys.stdout)


main()
