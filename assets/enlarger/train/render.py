"""Renders training tiles of 320 px on all cores: drawings, lettering, patterns, photographs.

usage: render.py DATA TILES [SHARE]     writes TILES/drawings.npy, lettering.npy, photographs.npy
"""
import glob
import io
import json
import lzma
import math
import mmap
import os
import random
import sys
import time
from multiprocessing import Pool

import numpy as np
from PIL import Image, ImageDraw, ImageFont

TILE = 320
DATA = ""
LETTERINGS, PATTERNS, HALFTONES = 5200, 1000, 500
WORDS = """LANTERN FAIR Heron Marsh Harvest Supper est 1931 Mill Lane Bakers Rowing Club Night Market County
Champions Hill Runners Team Bride Class of 2031 Oak & Ash Joinery Fire Brigade Best Dad Ever Summer Camp Lake
Trail 10K Choir Tour Volleyball Girls Boys No. 7 Garage Band Old Bridge Brewery 100% Cotton never too late to sing
handmade with care www.lanternfair.example @millyard (c) crew staff LOVE Street Food Kings Valley Riders Wild River
MOUNTAIN Weekend since 88 XXL Union Local 12""".split()


def colour(rng):
    return tuple(rng.randrange(256) for _ in range(3))


def photographs():
    """(name, picture) of every photograph, read once a process."""
    if not PHOTOGRAPHS:
        for f in sorted(glob.glob(DATA + "/photographs/*")):
            PHOTOGRAPHS.append((os.path.basename(f), np.array(Image.open(f).convert("RGB"))))
    return PHOTOGRAPHS


PHOTOGRAPHS = []


def ground(rng, n=TILE):
    """What a drawing stands on: white, black, a colour, a gradient or a photograph."""
    k = rng.random()
    if k < 0.42:
        return np.full((n, n, 3), 255, np.uint8)
    if k < 0.54:
        return np.zeros((n, n, 3), np.uint8)
    if k < 0.80:
        return np.full((n, n, 3), colour(rng), np.uint8)
    if k < 0.91 or not photographs():
        t = np.linspace(0, 1, n)[:, None, None]
        t = t if rng.random() < 0.5 else t.transpose(1, 0, 2)
        a, b = np.array(colour(rng)), np.array(colour(rng))
        return np.broadcast_to(a * (1 - t) + b * t, (n, n, 3)).round().astype(np.uint8)
    p = rng.choice(photographs())[1]
    h, w = p.shape[:2]
    if h < n or w < n:
        return np.full((n, n, 3), 240, np.uint8)
    y, x = rng.randrange(h - n + 1), rng.randrange(w - n + 1)
    return p[y : y + n, x : x + n]


def over(rgba, back):
    a = rgba[..., 3:].astype(np.float32) / 255
    return np.round(rgba[..., :3] * a + back * (1 - a)).astype(np.uint8)


def rasterise(svg, width):
    """An SVG text as RGBA of this width; None where it cannot be drawn."""
    import resvg_py

    try:
        png = bytes(resvg_py.svg_to_bytes(svg_string=svg, width=width, skip_system_fonts=True))
        return np.array(Image.open(io.BytesIO(png)).convert("RGBA"))
    except BaseException:  # the renderer panics on some files
        return None


def window(im, rng):
    """A tile of an RGBA picture with something in it, padded where the picture is smaller."""
    h, w = im.shape[:2]
    out = np.zeros((TILE, TILE, 4), np.uint8)
    for _ in range(6):
        y = rng.randrange(min(0, h - TILE), max(0, h - TILE) + 1)
        x = rng.randrange(min(0, w - TILE), max(0, w - TILE) + 1)
        ys, xs = max(y, 0), max(x, 0)
        c = im[ys : min(y + TILE, h), xs : min(x + TILE, w)]
        out[:] = 0
        out[ys - y : ys - y + c.shape[0], xs - x : xs - x + c.shape[1]] = c
        solid = out[..., 3] > 0
        if solid.mean() > 0.12 and out[..., :3][solid].std() > 2:
            break
    return out


def drawing(svg, seed, least, most):
    rng = random.Random(seed)
    im = rasterise(svg, int(math.exp(rng.uniform(math.log(least), math.log(most)))))
    return None if im is None or im.shape[0] > 2600 else over(window(im, rng), ground(rng))


def lettering(seed, files=None, size=TILE, smallest=13):
    """Lines of words in many fonts, some outlined, some turned; drawn three times too large and reduced."""
    rng, k = random.Random(seed), 3
    n = size * k
    files = files or sorted(glob.glob(DATA + "/fonts/*"))
    im = Image.fromarray(ground(rng, size)).resize((n, n), Image.NEAREST)
    draw, y = ImageDraw.Draw(im), rng.randrange(-20, 30) * k
    while y < n:
        px = int(math.exp(rng.uniform(math.log(smallest), math.log(120))))
        font = ImageFont.truetype(rng.choice(files), px * k)
        text = " ".join(rng.choice(WORDS) for _ in range(rng.randrange(1, 8)))
        if rng.random() < 0.35:
            text = text.upper()
        outline = rng.choice([0, 0, 0, 0, 1, 2, 4]) * k if px > 28 else 0
        fill = rng.choice([(0, 0, 0), (255, 255, 255), colour(rng), colour(rng)])
        at = (rng.randrange(-60, size // 3) * k, y)
        draw.text(at, text, font=font, fill=fill, stroke_width=outline, stroke_fill=colour(rng))
        y += int(px * k * rng.uniform(1.0, 1.5))
    if rng.random() < 0.5:
        corner = tuple(int(v) for v in np.array(im)[0, 0])
        im = im.rotate(rng.uniform(-25, 25), Image.BILINEAR, fillcolor=corner)
    return np.array(im.resize((size, size), Image.BOX))


def reduce4(mask):
    n = mask.shape[0] // 4
    return mask.astype(np.float32).reshape(n, 4, n, 4).mean((1, 3))


def grid(rng):
    yy, xx = np.mgrid[0 : TILE * 4, 0 : TILE * 4].astype(np.float32) / 4
    a = rng.uniform(0, math.pi)
    return xx, yy, xx * math.cos(a) + yy * math.sin(a), yy * math.cos(a) - xx * math.sin(a)


def pattern(seed):
    """Dots, stripes, checks, rings, rays, hairlines and woven cloth in two colours."""
    rng = random.Random(seed)
    xx, yy, u, v = grid(rng)
    p, kind = math.exp(rng.uniform(math.log(4), math.log(40))), rng.randrange(7)
    cx, cy = rng.uniform(0, TILE), rng.uniform(0, TILE)
    if kind == 0:
        tone = u / TILE * 0.7 + 0.3 * np.sin(v / TILE * rng.uniform(1, 6))
        m = (np.cos(2 * math.pi * u / p) + np.cos(2 * math.pi * v / p)) / 4 + 0.5 < np.clip(tone, 0.05, 0.95)
    elif kind == 1:
        m = (u / p) % 1 < rng.uniform(0.15, 0.85)
    elif kind == 2:
        m = ((u / p).astype(int) + (v / p).astype(int)) % 2 == 0
    elif kind == 3:
        m = (np.hypot(xx - cx, yy - cy) / p) % 1 < rng.uniform(0.2, 0.8)
    elif kind == 4:
        m = (np.arctan2(yy - cy, xx - cx) / math.pi * rng.randrange(6, 40)) % 1 < 0.5
    elif kind == 5:
        m = np.abs(v % p - p / 2) < rng.uniform(0.4, 2)
    else:  # over one, under one; the light falls off along each thread
        warp = ((u / p).astype(int) + (v / p).astype(int)) % 2 == 0
        m = np.where(warp, np.sin(math.pi * ((u / p) % 1)), 0.7 * np.sin(math.pi * ((v / p) % 1)))
    m = reduce4(m)[..., None]
    a = ground(rng).astype(np.float32)
    b = (ground(rng) if rng.random() < 0.5 else np.full((TILE, TILE, 3), colour(rng))).astype(np.float32)
    return np.round(a * m + b * (1 - m)).astype(np.uint8)


def halftoned(seed):
    """A photograph or lettering as three screens of dots: what a scan of a print shows."""
    rng = random.Random(seed)
    tone = lettering(seed) if rng.random() < 0.35 else None
    if tone is None:
        p = rng.choice([p for _, p in photographs() if min(p.shape[:2]) >= TILE])
        y, x = rng.randrange(p.shape[0] - TILE + 1), rng.randrange(p.shape[1] - TILE + 1)
        tone = p[y : y + TILE, x : x + TILE]
    yy, xx = np.mgrid[0 : TILE * 4, 0 : TILE * 4].astype(np.float32) / 4
    period, one = rng.uniform(7, 22), rng.random() < 0.3
    out = np.zeros((TILE, TILE, 3), np.float32)
    for c, degrees in enumerate((15, 75, 45)):
        a = math.radians(45 if one else degrees)
        u, v = xx * math.cos(a) + yy * math.sin(a), yy * math.cos(a) - xx * math.sin(a)
        spot = (np.cos(2 * math.pi * u / period) + np.cos(2 * math.pi * v / period)) / 4 + 0.5
        level = tone.mean(2) if one else tone[..., c]
        out[..., c] = reduce4(spot < np.repeat(np.repeat(level / 255, 4, 0), 4, 1)) * 255
    return np.round(out).astype(np.uint8)


def work(job):
    kind, args = job
    try:
        tile = {"d": drawing, "l": lettering, "p": pattern, "h": halftoned}[kind](*args)
    except (ValueError, OSError, IndexError):
        return None
    return tile if tile is not None and tile.std() > 8 else None


def photograph_tiles():
    """The livelier of two places, at one to three sizes."""
    rng, out = random.Random(5), []
    for name, p in photographs():
        sizes = {"l": ((1, 28), (0.6, 14), (0.35, 6)), "p": ((1, 8), (0.7, 5)), "j": ((0.8, 6), (0.6, 4))}[name[0]]
        for share, count in sizes:
            h, w = round(p.shape[0] * share), round(p.shape[1] * share)
            if h < TILE or w < TILE:
                continue
            q = p if share == 1 else np.array(Image.fromarray(p).resize((w, h), Image.LANCZOS))
            for _ in range(count):
                places = [(rng.randrange(h - TILE + 1), rng.randrange(w - TILE + 1)) for _ in range(2)]
                tiles = [q[y : y + TILE, x : x + TILE] for y, x in places]
                out.append(max(tiles, key=lambda t: t.std()))
    return np.stack(out)


def slot(k):
    tile = work(JOBS[k])
    if tile is not None:
        BUFFER[k] = tile
    return tile is not None


def main(data, tiles, share=1.0):
    global JOBS, BUFFER, DATA
    DATA, start = data, time.time()
    clip = json.load(lzma.open(data + "/drawings.json.xz", "rt"))
    icons = json.load(lzma.open(data + "/icons.json.xz", "rt"))
    jobs = [("d", (s, i * 7 + k, *((180, 420), (300, 1100))[k])) for i, s in enumerate(clip) for k in (0, 1)]
    jobs += [("d", (s, 900_000 + i, 130, 520)) for i, s in enumerate(icons)]
    jobs += [("l", (500_000 + i,)) for i in range(LETTERINGS)] + [("p", (700_000 + i,)) for i in range(PATTERNS)]
    jobs += [("h", (800_000 + i,)) for i in range(HALFTONES)]
    random.Random(3).shuffle(jobs)
    JOBS = jobs[: int(len(jobs) * share)]
    n = len(JOBS)
    BUFFER = np.frombuffer(mmap.mmap(-1, n * TILE * TILE * 3), np.uint8).reshape(n, TILE, TILE, 3)
    photographs()
    with Pool() as pool:
        photo = pool.apply_async(photograph_tiles)
        done = np.array(pool.map(slot, range(n), chunksize=8))
        photo = photo.get()
    kinds = np.array([k for k, _ in JOBS])
    os.makedirs(tiles, exist_ok=True)
    np.save(tiles + "/photographs.npy", photo)
    np.save(tiles + "/drawings.npy", BUFFER[done & (kinds == "d")])
    np.save(tiles + "/lettering.npy", BUFFER[done & (kinds != "d")])
    print({k: int((done & (kinds == k)).sum()) for k in "dlph"}, "photographs", len(photo), f"{time.time() - start:.0f} s", flush=True)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], float(sys.argv[3]) if len(sys.argv) > 3 else 1.0)
