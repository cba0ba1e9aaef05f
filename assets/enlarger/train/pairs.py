"""Pairs that are easier damaged on the processor: palettes with error diffusion (GIF), WebP, halved colour, chains
of a real JPEG encoder with other sizes between, enlarged screenshots.

usage: pairs.py TILES COUNT     writes TILES/pairs-S.npz for S 2, 3, 4: art, whole, damage, softness
"""
import io
import os
import random
import sys
from multiprocessing import Pool

os.environ["OPENBLAS_NUM_THREADS"] = os.environ["OMP_NUM_THREADS"] = "1"  # one process a core already

import numpy as np
from PIL import Image

from resizing import contrast, resizing, softness_of

PATCH, BORDER = 48, 8
FILTERS = {"box": Image.BOX, "cubic": Image.BICUBIC, "linear": Image.BILINEAR, "lanczos": Image.LANCZOS}


def saved(im, kind, **how):
    b = io.BytesIO()
    im.save(b, kind, **how)
    return Image.open(b).convert("RGB")


def jpeg(im, rng, low=30):
    q = rng.randrange(low, 96)
    return saved(im, "JPEG", quality=q, subsampling=rng.choice([0, 1, 2, 2, 2])), (100 - q) / 70


def palette(im, rng):
    n = rng.choice([8, 16, 32, 64, 128, 256])
    dither = Image.Dither.FLOYDSTEINBERG if rng.random() < 0.7 else Image.Dither.NONE
    flat = im.quantize(n, method=Image.Quantize.MEDIANCUT, kmeans=1)
    return im.quantize(palette=flat, dither=dither).convert("RGB"), {8: 0.6, 16: 0.5, 32: 0.4, 64: 0.3, 128: 0.2, 256: 0.15}[n]


def chain(im, rng, size):
    """JPEG, another size, JPEG, the art's size, perhaps a last JPEG."""
    im, d1 = jpeg(im, rng, 45)
    other = int(size * rng.uniform(0.7, 1.9))
    down, up = rng.choice(list(FILTERS)), rng.choice(["cubic", "linear", "lanczos"])
    im = im.resize((other, other), FILTERS[down if other < size else up])
    im, d2 = jpeg(im, rng, 45) if rng.random() < 0.5 else (im, 0)
    im = im.resize((size, size), FILTERS[up if other < size else down])
    left = contrast(resizing(size, other, up if other < size else down) @ resizing(other, size, down if other < size else up))
    im, d3 = jpeg(im, rng) if rng.random() < 0.6 else (im, 0)
    return im, max(0.8 * d1, d2 * min(1, size / other), d3), left


def pair(args):
    seed, tile, S = args
    rng = random.Random(seed)
    size = PATCH + 2 * BORDER
    room = tile.shape[0] - size * S
    places = [(rng.randrange(room + 1), rng.randrange(room + 1)) for _ in range(3)]
    whole = max((tile[y : y + size * S, x : x + size * S] for y, x in places), key=lambda t: t.std())
    way = rng.choice(["box", "box", "cubic", "linear", "lanczos"])
    im = Image.fromarray(whole).resize((size, size), FILTERS[way])
    left, kind, damage = contrast(resizing(size, size * S, way)), rng.randrange(5), 0.0
    if kind <= 1:
        im, damage = palette(im, rng)
        if kind and rng.random() < 0.4:
            im, d = jpeg(im, rng, 50)
            damage = max(damage, d)
    elif kind == 2:
        q = rng.randrange(25, 96)
        im, damage = saved(im, "WEBP", quality=q), (100 - q) / 90
    else:
        im, damage, more = chain(im, rng, size)
        left *= more
    art = np.array(im)[BORDER:-BORDER, BORDER:-BORDER]
    return art, whole[BORDER * S : -BORDER * S, BORDER * S : -BORDER * S], damage, softness_of(left)


def main(tiles, count):
    sets = [(np.load(f"{tiles}/{k}.npy", mmap_mode="r"), n) for k, n in (("drawings", 0.45), ("lettering", 0.2), ("photographs", 0.35))]
    rng = random.Random(17)
    with Pool() as pool:
        for S in (2, 3, 4):
            jobs = []
            for k, (t, share) in enumerate(sets):
                jobs += [(S * 10_000_000 + k * 1_000_000 + i, (k, rng.randrange(len(t)))) for i in range(int(count * share))]
            found = pool.imap(pair, ((seed, np.array(sets[k][0][i]), S) for seed, (k, i) in jobs), chunksize=16)
            art, whole, damage, soft = zip(*found)
            np.savez(f"{tiles}/pairs-{S}.npz", art=np.stack(art), whole=np.stack(whole),
                     damage=np.array(damage, np.float32), softness=np.array(soft, np.float32))


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 6000)
