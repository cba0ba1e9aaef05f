"""Writes ../fixture: a small picture of our own and what reference.py makes of it, for tests of other inference.

usage: fixture.py WEIGHTS FOLDER
art.png            24 x 20, drawn below
x2-clean.png ..    the enlarged bytes, told damage 0 or 25/70 (JPEG 75) and softness 0
values.json        at 150 places of each the unrounded numbers, and the judge's verdict on art.png
"""
import json
import os
import sys

import numpy as np
from PIL import Image

from reference import Reference, to_bytes


def art():
    """A lantern's disc and handle, a slanted stripe and a ramp."""
    y, x = np.mgrid[0:80, 0:96] / 4.0
    im = np.stack([40 + 5 * x, 60 + 4 * y, 150 - 3 * x], -1)
    im[np.abs(x * 0.6 + y - 24) < 1.2] = (20, 30, 60)
    im[np.hypot(x - 9, y - 8) < 5.5] = (226, 165, 58)
    im[np.hypot(x - 9, y - 8) < 2.5] = (250, 240, 215)
    im[(np.abs(np.hypot(x - 9, y - 2.5) - 1.8) < 0.5) & (y < 3)] = (15, 15, 15)
    im[(x > 17) & (y > 12) & ((x * 2).astype(int) % 2 == 0)] = (200, 30, 40)
    return np.floor(im.reshape(20, 4, 24, 4, 3).mean((1, 3)) + 0.5).astype(np.uint8)


def main(weights, folder):
    os.makedirs(folder, exist_ok=True)
    net, picture = Reference(weights), art()
    Image.fromarray(picture).save(f"{folder}/art.png", optimize=True)
    rng, cases = np.random.default_rng(3), []
    for S in (2, 3, 4):
        for name, damage in (("clean", 0.0), ("jpeg75", 25 / 70)):
            out = net.enlarge(picture, S, damage, 0.0)
            Image.fromarray(to_bytes(out)).save(f"{folder}/x{S}-{name}.png", optimize=True)
            places = sorted({(int(rng.integers(0, 20 * S)), int(rng.integers(0, 24 * S)), int(rng.integers(0, 3))) for _ in range(150)})
            spots = [[y, x, c, round(float(out[y, x, c]), 6)] for y, x, c in places]
            cases.append({"scale": S, "name": name, "damage": damage, "softness": 0.0, "spots": spots})
    damage, softness = net.judge(picture)
    verdict = [round(float(v), 5) for v in net.tile_verdicts(picture[:20, :20])]
    json.dump({"spots": "row, column, channel, value of the enlarged picture, 0 to 1", "cases": cases,
               "judged": {"damage": round(damage, 5), "softness": round(softness, 5)},
               "first_tile": {"size": 20, "verdict": verdict}}, open(f"{folder}/values.json", "w"), separators=(",", ":"))


if __name__ == "__main__":
    main(*sys.argv[1:])
