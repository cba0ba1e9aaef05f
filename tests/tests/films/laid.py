"""Films laid over each other: reads the 1-bit films of a print, puts the layers that they print on the garment,
in register and out of it, and holds the colour of what comes out to the proof. Shares no code with the program:
the layers are plain arithmetic, CIEDE2000 is written from Sharma, Wu and Dalal 2005.

laid.py LAYERS.json PROOF.ppm REGISTER_MM FILM.tif ...
"""
import json
import sys

import numpy as np
from PIL import Image

Image.MAX_IMAGE_PIXELS = None
BLOCK_MM = 2.8
DRAWS = 9


def linear(code):
    code = np.asarray(code, float)
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def lab(rgb):
    xyz = rgb @ np.array([[0.4124564, 0.2126729, 0.0193339], [0.3575761, 0.7151522, 0.1191920], [0.1804375, 0.0721750, 0.9503041]])
    t = xyz / np.array([0.95047, 1.0, 1.08883])
    f = np.where(t > 216 / 24389, np.cbrt(np.maximum(t, 1e-12)), (24389 / 27 * t + 16) / 116)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], -1)


def ciede2000(p, q):
    l1, a1, b1 = np.moveaxis(p, -1, 0)
    l2, a2, b2 = np.moveaxis(q, -1, 0)
    c7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    g = 0.5 * (1 - np.sqrt(c7 / (c7 + 25.0**7)))
    a1, a2 = a1 * (1 + g), a2 * (1 + g)
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360, np.degrees(np.arctan2(b2, a2)) % 360
    none = c1 * c2 == 0
    dh = np.where(none, 0, (h2 - h1 + 180) % 360 - 180)
    dl, dc, dhh = l2 - l1, c2 - c1, 2 * np.sqrt(c1 * c2) * np.sin(np.radians(dh / 2))
    far = np.abs(h1 - h2) > 180
    mean = (h1 + h2) / 2
    h = np.where(none, h1 + h2, np.where(far, np.where(h1 + h2 < 360, mean + 180, mean - 180), mean))
    l, c = (l1 + l2) / 2, (c1 + c2) / 2
    rad = np.radians
    t = 1 - 0.17 * np.cos(rad(h - 30)) + 0.24 * np.cos(rad(2 * h)) + 0.32 * np.cos(rad(3 * h + 6)) - 0.2 * np.cos(rad(4 * h - 63))
    sl = 1 + 0.015 * (l - 50) ** 2 / np.sqrt(20 + (l - 50) ** 2)
    sc, sh = 1 + 0.045 * c, 1 + 0.015 * c * t
    turn = -2 * np.sqrt(c**7 / (c**7 + 25.0**7)) * np.sin(2 * rad(30) * np.exp(-(((h - 275) / 25) ** 2)))
    return np.sqrt(np.maximum((dl / sl) ** 2 + (dc / sc) ** 2 + (dhh / sh) ** 2 + turn * dc / sc * dhh / sh, 0))


def blocks(image, across, down):
    """Means over `across` by `down` blocks of a picture."""
    rows = np.linspace(0, image.shape[0], down + 1).astype(int)
    columns = np.linspace(0, image.shape[1], across + 1).astype(int)
    sums = np.add.reduceat(np.add.reduceat(image, rows[:-1], 0), columns[:-1], 1)
    return sums / (np.diff(rows)[:, None, None] * np.diff(columns)[None, :, None])


def overprint(job, number):
    """The solids whose bits a number has, laid on each other: an ink sends back R over black and P more of what
    comes through, over a ground G it is R + P G / (1 - R G) (Kubelka 1948); after a wet screen it hides less."""
    light = np.array(job["garment"])
    for bit, ink in enumerate(job["inks"]):
        if not number >> bit & 1:
            continue
        white = np.array(ink["over_white"])
        wet = bit > 0 and not job["inks"][bit - 1]["flashed"]
        back = white * ink["opacity"] * (job["wet_on_wet"] if wet else 1.0)
        light = back + (white - back) * (1 - back) * light / (1 - back * light)
    return light


def main():
    job, proof = json.load(open(sys.argv[1])), linear(np.asarray(Image.open(sys.argv[2]).convert("RGB")) / 255.0)
    register = float(sys.argv[3])
    films = []
    for path in sys.argv[4:]:
        picture = Image.open(path)
        dpi = float(picture.info["dpi"][0])
        films.append(np.asarray(picture.convert("L")) < 128)
    height, width = films[0].shape
    across, down = (max(int(side / dpi * 25.4 / BLOCK_MM), 1) for side in (width, height))
    colors = np.array([overprint(job, number) for number in range(1 << len(films))])

    def printed(shifts):
        overprint = np.zeros((height, width), np.uint8)
        for bit, (film, shift) in enumerate(zip(films, shifts)):
            overprint |= np.roll(film, shift, (0, 1)).astype(np.uint8) << bit
        return blocks(colors[overprint], across, down)

    random = np.random.default_rng(7)
    still = printed([(0, 0)] * len(films))
    draws = [printed(np.rint(random.normal(0, register / 25.4 * dpi, (len(films), 2))).astype(int)) for _ in range(DRAWS)]
    mean = np.mean(draws, 0)
    model = blocks(proof, across, down)
    inked = np.abs(model - np.array(job["garment"])).max(-1) > 0.01

    def off(p, q):
        d = ciede2000(lab(p), lab(q))[inked]
        return [float(d.mean()), float(np.percentile(d, 95))]

    # One screen after the other a tenth of a millimetre to the right.
    tenth = int(round(0.1 / 25.4 * dpi))
    by_screen = [off(still, printed([(0, tenth if at == moved else 0) for at in range(len(films))]))[0] for moved in range(len(films))]
    by_screen = [by / tenth * 0.1 / 25.4 * dpi for by in by_screen]
    moves = np.concatenate([ciede2000(lab(draw), lab(mean))[inked] for draw in draws])
    print(json.dumps({
        "in_register": off(model, still), "set_ups": off(model, mean),
        "moves": [float(moves.mean()), float(np.percentile(moves, 95))], "blocks": int(inked.sum()),
        "tenth": [float(np.mean(by_screen)), float(np.max(by_screen))],
    }))


main()
