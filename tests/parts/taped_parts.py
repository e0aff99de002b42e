"""Parts put back from printed words by a tape's own rules."""

import re

import numpy as np

LENGTH = {"metric": r"([\d.]+) m", "feet": r"(\d+)' (\d+)\""}


def metres(found, units):
    return float(found[0]) if units == "metric" else (int(found[0]) + int(found[1]) / 12) * 0.3048


def rebuilt(place, words, units="metric"):
    """Place and direction from the words, by the tape's own rules; of the setup only its place is looked at."""
    n = 1 if units == "metric" else 2
    lengths = re.findall(LENGTH[units], words)
    lengths = [metres((one,) if n == 1 else one, units) for one in lengths[:3]]
    width, depth = place.size_m[:2]
    axis_of = {"left": (0, 0.0, 1), "right": (0, width, -1), "near": (1, 0.0, 1), "far": (1, depth, -1)}
    at = [np.nan, np.nan, lengths[2]]
    if " out from the " in words:
        wall, end = re.search(r"out from the (\w+) wall", words)[1], re.search(r"towards the (\w+) wall", words)[1]
        named = re.search(r"from the middle of '(.+?)' towards", words)
        axis, level, inward = axis_of[wall]
        at[axis] = level - inward * lengths[0]
        middle = next(w.centre_m for w in place.windows if w.name == named[1]) if named else (depth, width)[axis] / 2
        at[1 - axis] = middle + (1 if end in ("far", "right") else -1) * lengths[1]
    else:
        for length, (way, wall) in zip(lengths, re.findall(r"(from|beyond) the (\w+) (?:wall|edge)", words)):
            axis, level, inward = axis_of[wall]
            at[axis] = level + inward * (length if way == "from" else -length)
    pan, tilt = (float(re.search(rf"{word} ([−+]?\d+)°", words)[1].replace("−", "-")) for word in ("pan", "tilt"))
    pan, tilt = np.radians(pan), np.radians(tilt)
    return np.array(at), np.array([np.sin(pan) * np.cos(tilt), np.cos(pan) * np.cos(tilt), np.sin(tilt)])
