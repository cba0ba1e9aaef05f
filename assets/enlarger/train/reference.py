"""Plain NumPy inference, the reference for every other: reads the weights file, enlarges a PNG.

usage: reference.py WEIGHTS IN.png OUT.png SCALE [--damage D | --quality Q | --unknown] [--softness S]
Without --damage or --quality both numbers are judged from the picture.
"""
import argparse
import math

import numpy as np

from weights import read

TILE, STEP, TILES = 48, 24, 24


def terms(damage, softness):
    """The eight told terms; None for a number that is not known."""
    e = math.exp(-20 * damage) if damage is not None else 0.0
    d = [damage, damage * damage, e, 0.0] if damage is not None else [0.0, 0.0, 0.0, 1.0]
    s = [softness, softness * softness, softness * e, 0.0] if softness is not None else [0.0, 0.0, 0.0, 1.0]
    return np.array(d + s, np.float32)


def conv3(x, weight, bias, border=1):
    """3x3 correlation of (C,H,W); border 1: zeros outside, size kept; border 0: two pixels less."""
    x = np.pad(x, ((0, 0), (border, border), (border, border)))
    c, h, w = x.shape
    out = np.tile(bias[:, None, None], (1, h - 2, w - 2)).astype(np.float32)
    for dy in range(3):
        for dx in range(3):
            piece = x[:, dy : dy + h - 2, dx : dx + w - 2].reshape(c, -1)
            out += (weight[:, :, dy, dx] @ piece).reshape(out.shape)
    return out


def prelu(x, slope):
    return np.where(x > 0, x, x * slope[:, None, None])


class Reference:
    def __init__(self, path, conv=conv3):
        self.header, self.w = read(path)
        self.conv = conv

    def folded(self, name, told):
        """A layer's weights with what is told worked in: done once a picture."""
        gain = 1 + told @ self.w[name + ".gain"]
        weight = self.w[name + ".weight"] * gain[:, None, None, None]
        return weight, self.w[name + ".bias"] * gain + told @ self.w[name + ".offset"]

    def enlarge(self, art, S, damage, softness):
        """art (H,W,3) bytes, encoded sRGB; gives (SH,SW,3) floats, 0 to 1 but for overshoot."""
        told, w = terms(damage, softness), self.w
        x = art.transpose(2, 0, 1).astype(np.float32) / 255
        first = prelu(self.conv(x - 0.5, *self.folded("head", told)), w["slope0"])
        y = first
        for i in range(self.header["layers"]):
            y = prelu(self.conv(y, *self.folded(f"body{i}", told)), w[f"slope{i + 1}"])
        y = self.conv(y + first, *self.folded(f"tail{S}", told)) + np.repeat(x, S * S, 0)
        h, wide = art.shape[:2]
        return y.reshape(3, S, S, h, wide).transpose(3, 1, 4, 2, 0).reshape(h * S, wide * S, 3)

    def tile_verdicts(self, tile):
        """Five numbers of one tile (h,w,3) bytes: damage, log spread, softness, log spread, log odds of clean."""
        w = self.w
        x = (tile.transpose(2, 0, 1).astype(np.float32) / 255 - 0.5) * 4
        for i in range(self.header["judge"]["layers"]):
            x = prelu(self.conv(x, w[f"judge.conv{i}.weight"], w[f"judge.conv{i}.bias"], 0), w[f"judge.slope{i}"])
        h = w["judge.hidden.weight"] @ (x.mean((1, 2)) * 4) + w["judge.hidden.bias"]
        return w["judge.last.weight"] @ np.where(h > 0, h, 0.1 * h) + w["judge.last.bias"]

    def judge(self, art):
        """(damage, softness) of a picture: the liveliest tiles, each counted by how sure it is."""
        h, wide = art.shape[:2]
        n = min(TILE, h, wide)
        tiles = [art[y : y + n, x : x + n] for y in range(0, h - n + 1, STEP) for x in range(0, wide - n + 1, STEP)]
        tiles.sort(key=lambda t: -float(t.astype(np.float32).std()))
        v = np.stack([self.tile_verdicts(t) for t in tiles[:TILES]])
        sure = np.exp(-np.clip(v[:, [1, 3]], -4, 2))
        damage = float((v[:, 0] * sure[:, 0]).sum() / sure[:, 0].sum())
        softness = float((v[:, 2] * sure[:, 1]).sum() / sure[:, 1].sum())
        clean = float(v[:, 4].mean()) > 0
        return (0.0 if clean else min(1.0, max(0.05, damage))), min(1.6, max(-1.5, softness))


def to_bytes(x):
    return np.clip(np.floor(x * 255 + 0.5), 0, 255).astype(np.uint8)


def main():
    from PIL import Image

    ask = argparse.ArgumentParser()
    for name in ("weights", "art", "out"):
        ask.add_argument(name)
    ask.add_argument("scale", type=int, choices=(2, 3, 4))
    ask.add_argument("--damage", type=float)
    ask.add_argument("--quality", type=float)
    ask.add_argument("--softness", type=float)
    ask.add_argument("--unknown", action="store_true")
    a = ask.parse_args()
    net, art = Reference(a.weights), np.array(Image.open(a.art).convert("RGB"))
    damage = (100 - a.quality) / 70 if a.quality is not None else a.damage
    softness = a.softness
    if not a.unknown:
        d, s = net.judge(art)
        damage, softness = d if damage is None else damage, s if softness is None else softness
    print("damage", damage, "softness", softness)
    Image.fromarray(to_bytes(net.enlarge(art, a.scale, damage, softness))).save(a.out)


if __name__ == "__main__":
    main()
