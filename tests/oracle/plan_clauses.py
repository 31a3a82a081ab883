"""What a client's clauses ask, and what windows make of them, from the words of docs/what-a-path-costs.md ("Clauses")."""

from plan_formulas import INSIDE_PX, lacking

# What rounding leaves of a width that is just large enough, as a share of it.
WIDTH_NOISE = 1e-9
# Sums of frame times that are nearer than this are the same.
SAME_SECS = 1e-9


def over_required(box, insets, greatest_width, window):
    """By how many px a window is over what is required of it: each edge by itself, and its width."""
    (x, y, wide, high), (left, top, width, height) = box, window
    over = [
        left + insets[0] * width - x,
        top + insets[1] * height - y,
        x + wide - (left + width - insets[2] * width),
        y + high - (top + height - insets[3] * height),
    ]
    return max(over + ([width - greatest_width] if greatest_width is not None else []))


def runs(is_in):
    """The runs of places that are in, as ranges."""
    found = []
    for place, inside in enumerate(is_in):
        if inside and found and found[-1].stop == place:
            found[-1] = range(found[-1].start, place + 1)
        elif inside:
            found.append(range(place, place + 1))
    return found


def kept(segment, number, asked):
    """What the windows make of a clause: the facts that the report has of it."""
    delivered = segment.delivered[0]
    boxes = [frame.clauses[number].box if number in frame.clauses else None for frame in segment.frames]
    holds, is_kept, delivered_px = [], [], []
    for box, window in zip(boxes, segment.windows):
        is_in = box is not None and max(lacking(box, window, asked["insets"])) <= INSIDE_PX
        wide = box[2] * delivered / window[2] if box is not None else None
        least = asked["least_px"]
        holds.append(is_in)
        is_kept.append(is_in and (least is None or wide >= least * (1.0 - WIDTH_NOISE)))
        delivered_px.append(wide)
    longest, longest_secs = None, 0.0
    for run in runs(is_kept):
        secs = sum(segment.steps[place] for place in run)
        if longest is None or secs > longest_secs + SAME_SECS:
            longest, longest_secs = run, float(secs)
    counted = longest if longest is not None else [place for place, is_in in enumerate(holds) if is_in]
    seen = [place for place, box in enumerate(boxes) if box is not None]
    failing = [place for place in range(seen[0], len(boxes)) if not is_kept[place]] if seen else []
    if asked["least_secs"] is None:
        is_all = all(is_kept[place] for place in seen)
    else:
        is_all = longest_secs >= asked["least_secs"] - SAME_SECS
    return {
        "is_kept": is_all,
        "longest": [segment.used[longest[0]], segment.used[longest[-1]]] if longest is not None else None,
        "first_failing": segment.used[failing[0]] if failing else None,
        "longest_secs": longest_secs,
        "total_secs": float(sum(segment.steps[place] for place, one in enumerate(is_kept) if one)),
        "delivered_px": min((delivered_px[place] for place in counted), default=None),
    }


def check_asked(segment, number, asked, faults):
    """The boxes ask what the clause asks, for as long as it asks it, or nothing."""
    seen = [place for place, frame in enumerate(segment.frames) if number in frame.clauses]
    for inset, blocked, margin in zip(asked["insets"], segment.blocked, asked["margin"] * 2):
        faults.number(f"clause {number + 1}, an inset", inset, blocked + margin, 1e-9, 1e-9)
    for place in seen if asked["least_px"] is not None else []:
        found = segment.frames[place].clauses[number]
        greatest = found.box[2] * segment.delivered[0] / asked["least_px"]
        at = f"clause {number + 1} at frame {segment.used[place]}, greatest_width_px"
        faults.number(at, found.greatest_width, greatest, 1e-9, 1e-9)
    required = [place for place in seen if segment.frames[place].clauses[number].is_required]
    if not required:
        return
    if asked["least_secs"] is None:
        faults.same(f"how many frames clause {number + 1} requires", len(required), len(seen))
    else:
        breaks = len(runs(place in required for place in range(len(segment.frames)))) - 1
        faults.same(f"how often clause {number + 1} is broken off", 0, breaks)
        secs = sum(segment.steps[place] for place in required)
        faults.at_most(f"least_secs of clause {number + 1} against seconds", asked["least_secs"], secs, SAME_SECS)


def check_clauses(segment, faults):
    """What is required is kept on each frame to rounding, and each clause's verdict follows from the windows."""
    for number, note in enumerate(segment.clauses):
        asked = note["asked"]
        check_asked(segment, number, asked, faults)
        for place, frame in enumerate(segment.frames):
            found = frame.clauses.get(number)
            if found is None or not found.is_required:
                continue
            over = over_required(found.box, asked["insets"], found.greatest_width, segment.windows[place])
            # A window that is pinned by hand is as exact as it was written.
            slack = INSIDE_PX if frame.pins else 1e-6
            faults.at_most(f"frame {segment.used[place]}, px over what clause {number + 1} requires", over, 0.0, slack)
        again = kept(segment, number, asked)
        print(f"    clause {number + 1:<5} {note['words']}")
        print(f"    again        {words(again)}")
        for key in ("is_kept", "longest", "first_failing"):
            faults.same(f"clause {number + 1}, {key}", note[key], again[key])
        for key in ("longest_secs", "total_secs", "delivered_px"):
            if note[key] is None or again[key] is None:
                faults.same(f"clause {number + 1}, {key}", note[key], again[key])
            else:
                faults.number(f"clause {number + 1}, {key}", note[key], again[key])
        faults.same(f"whether clause {number + 1} is kept", True, again["is_kept"])


def words(again):
    wide = "nowhere inside" if again["delivered_px"] is None else f"{again['delivered_px']:.6f} px"
    kept_words = "kept" if again["is_kept"] else "fails"
    return f"{wide}, {again['longest_secs']:.6f} s of {again['total_secs']:.6f} s, first failing {again['first_failing']}, {kept_words}"
