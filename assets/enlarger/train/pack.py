"""Packs RAW (argument 1, filled by fetch.py) into DATA (argument 2): what render.py and evaluate.py read.

DATA/drawings.json.xz, icons.json.xz   SVG texts to render
DATA/fonts/, DATA/photographs/         to letter with, to cut tiles from
DATA/held-out/                         pictures for measuring; none of them, nor their fonts, is trained on
"""
import glob
import json
import lzma
import os
import random
import shutil
import sys

import numpy as np
from PIL import Image

import render

MOST_OF_A_FOLDER = {"computer": 700, "shapes": 900}  # two folders of near-copies
HELD_OUT_FONTS = ("Bebas", "lobster", "NimbusRoman", "P052")
URW = ("C059-BdIta", "NimbusSans-Bold", "NimbusRoman-Regular", "URWGothic-Demi", "Z003-MediumItalic", "URWBookman-Demi", "P052-Bold")
HELD_OUT_PHOTOGRAPHS = ("chelsea", "perched-osprey", "the-spices-of-life", "casa-mila")
SCIKIT = ("astronaut", "coffee", "ihc", "brick", "grass", "gravel", "camera", "rocket", "hubble_deep_field", "retina")


def drawings(raw, data):
    """Public-domain drawings, icon sets: SVG texts, the largest files left out."""
    rng, folders = random.Random(1), {}
    for f in sorted(glob.glob(f"{raw}/root/usr/share/openclipart/svg/**/*.svg", recursive=True)):
        if os.path.getsize(f) < 48_000 and not os.path.islink(f):
            folders.setdefault(f.split("openclipart/svg/")[1].split("/")[0], []).append(f)
    files = []
    for name, found in folders.items():
        rng.shuffle(found)
        files += found[: MOST_OF_A_FOLDER.get(name, 5000)]
    with lzma.open(f"{data}/drawings.json.xz", "wt", preset=1) as out:
        json.dump([open(f, errors="ignore").read() for f in files], out)
    with lzma.open(f"{data}/icons.json.xz", "wt", preset=1) as out:
        json.dump(icons(raw, "noto") + icons(raw, "fluent-emoji-flat"), out)


def icons(raw, name):
    j = json.load(open(f"{raw}/npm/{name}/icons.json"))
    out = []
    for _, icon in sorted(j["icons"].items()):
        w, h = icon.get("width", j.get("width", 16)), icon.get("height", j.get("height", 16))
        out.append(f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {w} {h}" width="{w}" height="{h}">{icon["body"]}</svg>')
    return out


def keep(picture, path, width, quality):
    h = round(picture.size[1] * width / picture.size[0])
    picture.resize((width, h), Image.LANCZOS).save(path, quality=quality, subsampling=0)


def photographs(raw, data):
    """Photographs at a size at which their own compression no longer shows."""
    import matplotlib
    import skimage

    held = f"{data}/held-out"
    for f in sorted(glob.glob(f"{raw}/budgie/backgrounds/*.jpg")):
        name = os.path.basename(f)[:-4]
        im = Image.open(f).convert("RGB")
        if name in HELD_OUT_PHOTOGRAPHS:
            small = im.resize((1100, round(im.size[1] * 1100 / im.size[0])), Image.LANCZOS)
            x, y = (small.size[0] - 480) // 2, (small.size[1] - 480) // 2
            small.crop((x, y, x + 480, y + 480)).save(f"{held}/photograph-{name}.png")
        else:
            keep(im, f"{data}/photographs/large-{name}.jpg", 2200, 93)
    for name in ("nasa-45068", "nasa-53884", "nasa-89127", "spacex-81773"):
        keep(Image.open(f"{raw}/pop/original/{name}.jpg").convert("RGB"), f"{data}/photographs/large-{name}.jpg", 2000, 92)
    folder = os.path.dirname(skimage.__file__) + "/data/"
    for name in SCIKIT:
        f = glob.glob(f"{folder}{name}.*")[0]
        if f.endswith(".jpg"):
            shutil.copy(f, f"{data}/photographs/jpeg-{name}.jpg")
        else:
            Image.open(f).convert("RGB").save(f"{data}/photographs/plain-{name}.webp", quality=97)
    Image.open(f"{folder}chelsea.png").convert("RGB").crop((20, 0, 320, 300)).save(f"{held}/photograph-chelsea.png")
    hopper = os.path.dirname(matplotlib.__file__) + "/mpl-data/sample_data/grace_hopper.jpg"
    shutil.copy(hopper, f"{data}/photographs/jpeg-grace_hopper.jpg")


def fonts(raw, data):
    for f in glob.glob(f"{raw}/root/usr/share/fonts/**/*.[ot]tf", recursive=True):
        name = os.path.basename(f)
        wanted = name[:-4] in URW if "urw-base35" in f else os.path.getsize(f) < 130_000
        if wanted and not os.path.islink(f):
            folder = "held-out/fonts" if any(h in name for h in HELD_OUT_FONTS) else "fonts"
            shutil.copy(f, f"{data}/{folder}/{name}")


def held_out(raw, data):
    """24 icons of a set that is not trained on, and 8 letterings in fonts that are not."""
    rng, set_, n = random.Random(7), icons(raw, "openmoji"), 0
    while n < 24:
        svg = rng.choice(set_)
        ground = rng.choice([(255, 255, 255), (0, 0, 0), tuple(rng.randrange(256) for _ in range(3))])
        im = render.rasterise(svg, 256)
        if im is None:
            continue
        im = Image.fromarray(render.over(im, np.array(ground, np.float32)))
        if np.array(im).std() >= 8:
            im.save(f"{data}/held-out/drawing-{n:02d}.png")
            n += 1
    files = sorted(glob.glob(f"{data}/held-out/fonts/*"))
    for i in range(8):
        Image.fromarray(render.lettering(9000 + i, files, 288, smallest=16)).save(f"{data}/held-out/lettering-{i}.png")


def main(raw, data):
    for part in ("fonts", "photographs", "held-out/fonts"):
        os.makedirs(f"{data}/{part}", exist_ok=True)
    render.DATA = data
    drawings(raw, data)
    photographs(raw, data)
    fonts(raw, data)
    held_out(raw, data)


if __name__ == "__main__":
    main(sys.argv[1].rstrip("/"), sys.argv[2].rstrip("/"))
