"""The tam's whole numbers and its rows in NumPy: what `benches/limits.rs` compares with.

The search is the garment's, with its options at their defaults, over whole grids at once; the bed
is three arrays, and each pass picks out by a mask the needles that knit. Prints the median time in
microseconds and what was made: wedges, needles, rows, band stitches, stitches.
"""

import math
import sys
import time

import numpy as np

WORKING, HELD, UPPER = 1, 2, 3


class Bed:
    def __init__(self, size):
        self.position = np.zeros(size, np.uint8)
        self.loops = np.zeros(size, np.uint8)
        self.rows = np.zeros(size, np.uint32)
        self.stitches = 0

    def set(self, needles):
        self.position[needles] = WORKING
        self.loops[needles] = 1
        self.rows[needles] = 0

    def knit(self):
        knits = (self.position & WORKING).astype(bool)
        self.position[knits] = WORKING
        self.loops[knits] = 1
        self.rows += knits
        self.stitches += int(np.count_nonzero(knits))


def best(a, b, cost):
    """The pair of least cost, the first of equals, the second range running fastest."""
    a, b = np.meshgrid(a, b, indexing="ij")
    at = np.unravel_index(np.argmin(cost(a, b)), a.shape)
    return int(a[at]), int(b[at])


def tam(head, stitch, row, rib_stitch, rib_row, bed_needles):
    low, high = 0.95, 1.45
    disc, under, girth = 0.46 * head, 0.07 * head, head * 0.92
    natural = 2 * girth / rib_stitch * row / (math.pi * disc)
    want = min(max(natural, low), high)

    def of_wedges(step, count):
        fullness = count * row / (math.pi * step * stitch)
        cost = (fullness / want - 1) ** 2 + 0.008 * (step - 1) + 0.0002 * np.abs(count - 6)
        return np.where((fullness < low) | (fullness > high), np.inf, cost)

    step, wedges = best(np.arange(1, 5), np.arange(3, 19), of_wedges)
    least = 2 * math.ceil(head * (0.92 - 0.05) / rib_stitch / 2)
    most = 2 * math.floor(head * (0.92 + 0.05) / rib_stitch / 2)
    most = min(max(most, least), 2 * (bed_needles // 2))
    ideal = disc / (2 * step * stitch)
    room = math.floor((bed_needles - 3) / step)

    def turns_for(steps, band):
        return np.maximum(steps, np.ceil(band / wedges / 2))

    def of_steps(steps, band):
        turns = turns_for(steps, band)
        fullness = wedges * turns * row / (math.pi * steps * step * stitch)
        cost = (
            (2 * steps * step * stitch - disc) ** 2
            + (1.5 * (band * rib_stitch - girth)) ** 2
            + (wedges * turns - band) ** 2
            + (turns - steps) ** 2
        )
        return np.where((fullness < low) | (fullness > high), np.inf, cost)

    steps, band = best(
        np.arange(max(2, math.floor(0.7 * ideal)), min(room, math.ceil(1.35 * ideal) + 1) + 1),
        np.arange(least, most + 1, 2),
        of_steps,
    )
    turns = int(turns_for(steps, band))
    top = steps * step
    under_needles = min(max(3, math.floor(under / stitch + 0.5)), bed_needles - top)
    count = under_needles + top

    band_rows = max(6, 2 * math.floor(0.07 * head / rib_row / 2 + 0.5))
    main, ribber = Bed(bed_needles), Bed(bed_needles)
    main.set(slice(0, band, 2))
    ribber.set(slice(1, band, 2))
    for _ in range(band_rows):
        main.knit()
        ribber.knit()
    # The zigzag pass and the two tubular ones take two loops a needle.
    stitches = 2 * band + main.stitches + ribber.stitches

    hat, rows = Bed(bed_needles), 0
    hat.set(slice(0, count))
    for _ in range(wedges):
        hat.position[:top] = HELD
        held = top
        for _ in range(steps):
            hat.knit()
            hat.position[held - step : held] = UPPER
            held -= step
            hat.knit()
            rows += 2
        for _ in range(2 * (turns - steps)):
            hat.knit()
            rows += 1
    return wedges, count, rows, band, stitches + hat.stitches


def main():
    given = [float(word) for word in sys.argv[1:7]]
    given[5] = int(given[5])
    times = []
    for _ in range(31):
        begun = time.perf_counter()
        made = tam(*given)
        times.append((time.perf_counter() - begun) * 1e6)
    print(f"{sorted(times[1:])[15]:.1f}", *made)


main()
