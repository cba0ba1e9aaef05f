"""Scores weights files on held-out pictures.

usage: evaluate.py HELD_OUT WEIGHTS... [--sheet OUT.png]
Each figure is luma, colour and RGB PSNR in dB (ITU-R BT.601 luma, the mean of Cb and Cr, the mean of R, G and B; a
border of S pixels left out), then, where the weights hold a judge, luma and RGB PSNR with both numbers judged instead of
told.
Pictures are grouped by their names up to the first '-'.
"""
import argparse
import glob
import io
import os

import numpy as np
from PIL import Image, ImageDraw

from reference import Reference, to_bytes
from resizing import contrast, resizing, softness_of

CASES = [(2, "area", None), (2, "area", 75), (2, "area", 60), (2, "cubic", None), (3, "area", 75), (4, "area", None), (4, "area", 75),
         (4, "area", 60), (4, "cubic", None), (2, "gif", None), (2, "chain", 80), (2, "soft", 85)]
MATRIX = np.array([[65.481, 128.553, 24.966], [-37.797, -74.203, 112.0], [112.0, -93.786, -18.214]]) / 255


def fast_conv():
    """The same convolution by PyTorch, where it is installed."""
    import torch
    import torch.nn.functional as F

    torch.backends.cudnn.allow_tf32 = False
    dev = "cuda" if torch.cuda.is_available() else "cpu"
    to = lambda a: torch.from_numpy(np.ascontiguousarray(a, np.float32)).to(dev)

    def conv(x, weight, bias, border=1):
        with torch.no_grad():
            return F.conv2d(to(x)[None], to(weight), to(bias), padding=border)[0].cpu().numpy()

    return conv


def linear(a):
    a = a / 255.0
    return np.where(a <= 0.04045, a / 12.92, ((a + 0.055) / 1.055) ** 2.4)


def encoded(a):
    return 255 * np.where(a <= 0.0031308, 12.92 * a, 1.055 * np.maximum(a, 1e-9) ** (1 / 2.4) - 0.055)


def resized(a, h, w, kernel, sigma=0.0):
    """With mirrored edges, so that a wide kernel meets none."""
    m = lambda n_out, n_in: resizing(n_out, n_in, kernel, sigma)
    return np.einsum("yh,hwc,xw->yxc", m(h, a.shape[0]), a, m(w, a.shape[1]), optimize=True)


def whole_bytes(a):
    return np.clip(np.round(a), 0, 255).astype(np.uint8)


def jpeg(a, quality):
    b = io.BytesIO()
    Image.fromarray(a).save(b, "JPEG", quality=quality, subsampling=2)
    return np.array(Image.open(b).convert("RGB"))


def weakened(a, S, way, quality):
    """Weak art and the two true numbers."""
    h, w = a.shape[0] // S, a.shape[1] // S
    soft, damage = 0.0, (100 - quality) / 70 if quality else 0.0
    if way == "cubic":
        x, soft = whole_bytes(resized(a.astype(float), h, w, "cubic")), softness_of(contrast(resizing(64, 64 * S, "cubic")))
    else:
        x = whole_bytes(encoded(linear(a.astype(float)).reshape(h, S, w, S, 3).mean((1, 3))))
    if way == "gif":
        x, damage = np.array(Image.fromarray(x).quantize(32, dither=Image.Dither.FLOYDSTEINBERG, kmeans=1).convert("RGB")), 0.4
    if way == "chain":  # JPEG 70 at two thirds of the size, enlarged, saved again
        x = jpeg(whole_bytes(resized(x.astype(float), h * 2 // 3, w * 2 // 3, "cubic")), 70)
        x = whole_bytes(resized(x.astype(float), h, w, "cubic"))
        soft = softness_of(contrast(resizing(66, 44, "cubic") @ resizing(44, 66, "cubic")))
        damage = max(damage, 30 / 70)
    if way == "soft":
        x = whole_bytes(resized(a.astype(float), h, w, "box", 0.6))
        soft = softness_of(contrast(resizing(64, 64 * S, "box", 0.6)))
    return (jpeg(x, quality) if quality else x), damage, soft


def psnr(a, b, S):
    rgb = (a.astype(float) - b.astype(float))[S:-S, S:-S]
    d = rgb @ MATRIX.T
    db = lambda e: 10 * np.log10(255**2 / max(np.mean(e * e), 1e-9))
    return db(d[..., 0]), db(d[..., 1:]), db(rgb)


def sheet_row(pictures, box, S):
    y, x, n = box
    zoom = max(1, 200 // n)
    return np.concatenate([np.pad(p[y : y + n, x : x + n].repeat(zoom, 0).repeat(zoom, 1), ((18, 2), (1, 1), (0, 0)), constant_values=255)
                           for p in pictures], 1)


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("held_out")
    ask.add_argument("weights", nargs="+")
    ask.add_argument("--sheet")
    ask.add_argument("--crop", type=int, default=200)
    a = ask.parse_args()
    groups = {}
    for f in sorted(glob.glob(a.held_out + "/*.png")):
        groups.setdefault(os.path.basename(f).split("-")[0], []).append(np.array(Image.open(f).convert("RGB")))
    try:
        conv = fast_conv()
        nets = {os.path.basename(f): Reference(f, conv) for f in a.weights}
    except ImportError:
        nets = {os.path.basename(f): Reference(f) for f in a.weights}
    rows = []
    for name, pictures in groups.items():
        for S, way, quality in CASES:
            cases = [p[: p.shape[0] // (6 * S) * 6 * S, : p.shape[1] // (6 * S) * 6 * S] for p in pictures]
            weak = [weakened(p, S, way, quality) for p in cases]
            plain = [whole_bytes(resized(x.astype(float), p.shape[0], p.shape[1], "cubic")) for p, (x, _, _) in zip(cases, weak)]
            line = [f"bicubic {np.mean([psnr(p, b, S) for p, b in zip(cases, plain)], 0).round(2)}"]
            shown = {k: [cases[k], plain[k]] for k in range(0, len(cases), 3)}
            for k, net in nets.items():
                told = [to_bytes(net.enlarge(x, S, d, s)) for x, d, s in weak]
                line.append(f"{k} {np.mean([psnr(p, b, S) for p, b in zip(cases, told)], 0).round(2)}")
                shift = np.mean([b.mean() - p.mean() for p, b in zip(cases, told)])
                line[-1] += f" mean {shift:+.2f}"
                if net.header["judge"]:
                    seen = [net.judge(x) for x, _, _ in weak]
                    made = [to_bytes(net.enlarge(x, S, *j)) for (x, _, _), j in zip(weak, seen)]
                    line[-1] += f" judged {np.mean([psnr(p, b, S)[::2] for p, b in zip(cases, made)], 0).round(2)}"
                    off = np.mean([(abs(j[0] - d), abs(j[1] - s)) for j, (_, d, s) in zip(seen, weak)], 0)
                    line[-1] += f" off {off[0]:.2f} {off[1]:.2f}"
                for i in shown:
                    shown[i].append(told[i])
            print(f"{name} x{S} {way} {'JPEG ' + str(quality) if quality else 'clean'}:", "; ".join(line), flush=True)
            if (S, way, quality) in ((4, "area", 75), (2, "area", 60), (4, "area", None), (2, "gif", None)):
                for i, p in shown.items():
                    n = min(a.crop, p[0].shape[0], p[0].shape[1])
                    rows.append((f"{name} {i} x{S} {way} {quality}", sheet_row(p, ((p[0].shape[0] - n) // 2, (p[0].shape[1] - n) // 2, n), S)))
    if a.sheet:
        wide = max(r.shape[1] for _, r in rows)
        im = Image.fromarray(np.concatenate([np.pad(r, ((0, 0), (0, wide - r.shape[1]), (0, 0)), constant_values=255) for _, r in rows]))
        y = 0
        for text, r in rows:
            ImageDraw.Draw(im).text((3, y + 3), text, fill=(0, 0, 0))
            y += r.shape[0]
        im.save(a.sheet)


if __name__ == "__main__":
    main()
