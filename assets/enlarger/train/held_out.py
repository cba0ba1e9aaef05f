"""Draws ../held-out: small pictures for tests, never trained on; all our own but for three cut from CC0 photographs.

usage: held_out.py DATA FOLDER     DATA as pack.py left it, for the photographs and the held-out fonts
"""
import json
import os
import sys

import numpy as np
from PIL import Image, ImageDraw, ImageFont

import render

LANTERN = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 240 240"><rect width="240" height="240" fill="#1d2b4c"/>
<g fill="none" stroke="#f4f3ef" stroke-width="3"><path d="M120 20v22M96 56c0-22 48-22 48 0"/></g>
<path d="M84 58h72l-8 16H92z" fill="#8a5a2b"/><path d="M92 74h56l18 92H74z" fill="#e2a53a" stroke="#18181a" stroke-width="5"/>
<path d="M110 74l-10 92M130 74l10 92" stroke="#18181a" stroke-width="3"/><path d="M120 100c18 22 14 44 0 48-14-4-18-26 0-48z" fill="#f6f5f1"/>
<path d="M120 118c8 12 6 22 0 25-6-3-8-13 0-25z" fill="#c22f33"/><path d="M68 166h104l-6 18H74z" fill="#8a5a2b"/>
<g fill="#f6f5f1"><circle cx="30" cy="40" r="3"/><circle cx="206" cy="64" r="2"/><circle cx="196" cy="30" r="4"/><circle cx="44" cy="110" r="2"/></g>
<path d="M0 214c40-18 80 14 120 0s80-10 120 4v22H0z" fill="#12828f"/></svg>"""
HERON = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 240 240"><defs><linearGradient id="a" x2="0" y2="1"><stop stop-color="#ffd27a"/>
<stop offset="1" stop-color="#c24a3a"/></linearGradient></defs><rect width="240" height="240" fill="url(#a)"/><circle cx="176" cy="72" r="34" fill="#fff2d0"/>
<path d="M70 150c10-40 60-44 92-20l34 26c-30 12-84 18-126-6z" fill="#4d6a8a" stroke="#18233a" stroke-width="4"/>
<path d="M82 136c-24-24 10-50-8-74-10-14-26-10-30-2l-34 10 36 2c16 0 12 18 4 34-8 18-8 34 14 50z" fill="#dfe6ea" stroke="#18233a" stroke-width="4"/>
<path d="M46 60l-26-14 14 16" fill="#18233a"/><circle cx="50" cy="64" r="3" fill="#18181a"/>
<path d="M116 168l-6 56M138 168l8 56M110 224l-14 4m14-4l12 6M146 224l-12 4m12-4l14 6" stroke="#18233a" stroke-width="4" fill="none"/>
<path d="M0 226q60-12 120 0t120 0v14H0z" fill="#1f4f59"/><g stroke="#2f7a4a" stroke-width="3"><path d="M210 240c0-40 4-70 12-96M220 240c2-30 10-56 18-70M200 240c-2-24-8-50-14-60"/></g></svg>"""
OURS = "our own, dedicated to the public domain (CC0 1.0)"


def ticket(fonts):
    """A fair's ticket in fonts that are not trained on."""
    im = Image.new("RGB", (720, 720), "#f4efe2")
    draw = ImageDraw.Draw(im)
    find = lambda part, size: ImageFont.truetype(next(f for f in fonts if part in f), size)
    draw.rectangle((18, 18, 702, 702), outline="#c22f33", width=9)
    draw.text((360, 130), "LANTERN FAIR", fill="#1d2b4c", font=find("Bebas", 150), anchor="mm")
    draw.text((360, 270), "Heron Marsh", fill="#c22f33", font=find("lobster", 120), anchor="mm")
    draw.text((360, 390), "Saturday 12 October", fill="#18181a", font=find("NimbusRoman", 66), anchor="mm")
    draw.text((360, 480), "six till late, Mill Lane", fill="#12828f", font=find("P052", 54), anchor="mm")
    draw.rectangle((90, 545, 630, 640), fill="#12828f")
    draw.text((360, 592), "ADMIT ONE  No. 0417", fill="#f6f5f1", font=find("Bebas", 74), anchor="mm")
    return im.resize((240, 240), Image.BOX)


def cloth():
    """Woven stripes in soft light."""
    y, x = np.mgrid[0:960, 0:960] / 4.0
    u, v = x * 0.94 + y * 0.34, y * 0.94 - x * 0.34
    warp = ((u / 6).astype(int) + (v / 6).astype(int)) % 2 == 0
    light = np.where(warp, np.sin(np.pi * ((u / 6) % 1)), np.sin(np.pi * ((v / 6) % 1)))
    band = (v / 36).astype(int) % 3
    colour = np.array([(40, 70, 120), (220, 215, 200), (170, 50, 50)])[band]
    im = colour * (0.55 + 0.45 * light)[..., None] * (0.8 + 0.2 * np.cos((x - 120) / 90))[..., None]
    return Image.fromarray(np.clip(im.reshape(240, 4, 240, 4, 3).mean((1, 3)), 0, 255).round().astype(np.uint8))


def main(data, folder):
    os.makedirs(folder, exist_ok=True)
    fonts = sorted(f"{data}/held-out/fonts/{f}" for f in os.listdir(f"{data}/held-out/fonts"))
    svg = lambda s: Image.fromarray(render.rasterise(s, 240)).convert("RGB")
    photo = lambda name, box: Image.open(f"{data}/held-out/photograph-{name}.png").convert("RGB").crop(box)
    files = {
        "drawing-lantern": (svg(LANTERN), OURS),
        "drawing-heron": (svg(HERON), OURS),
        "lettering-ticket": (ticket(fonts), OURS + "; set in Bebas Neue, Lobster (OFL), Nimbus Roman and P052 (URW, with font exception)"),
        "pattern-cloth": (cloth(), OURS),
        "photograph-cat": (photo("chelsea", (60, 20, 180, 140)), "CC0 1.0, Stefan van der Walt, picture 'chelsea' of scikit-image"),
        "photograph-osprey": (photo("perched-osprey", (70, 45, 190, 165)), "CC0 1.0, picture 'perched-osprey' of budgie-backgrounds"),
        "photograph-spices": (photo("the-spices-of-life", (120, 180, 240, 300)), "CC0 1.0, picture 'the-spices-of-life' of budgie-backgrounds"),
    }
    for name, (im, _) in files.items():
        im.save(f"{folder}/{name}.png", optimize=True)
    listed = [{"file": name + ".png", "size_px": list(im.size), "licence": licence} for name, (im, licence) in files.items()]
    json.dump(listed, open(f"{folder}/manifest.json", "w"), indent=1)


if __name__ == "__main__":
    main(*sys.argv[1:])
