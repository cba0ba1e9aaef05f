"""Photographs of a print and of the reference strip beside it, as a camera gives them. Shares no code with the reader.

Reads a list of scenes (JSON) from argv[1] and writes each as a JPEG. The print is a plane of linear light, raw floats; the
strip is drawn from the rectangles of its SVG.
"""
import json
import re
import sys

import numpy as np
from PIL import Image
from scipy import ndimage

MM = 100 / 25.4  # pixels a millimetre of planes


def decode(v):
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def encode(v):
    v = np.clip(v, 0, 1)
    return np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)


def strip_plane(svg, swap, fade):
    wide, high = map(float, re.search(r'viewBox="0 0 (\S+) (\S+)"', svg).groups())
    out = np.ones((round(high * MM), round(wide * MM), 3))
    rect = r'<rect(?: x="(\S+)" y="(\S+)")? width="(\S+)" height="(\S+)" fill="#(\w{6})"/>'
    fields = 0
    for x, y, w, h, color in re.findall(rect, svg):
        x, y = float(x or 0), float(y or 0)
        rgb = decode(np.array([int(color[i:i + 2], 16) for i in (0, 2, 4)]) / 255)
        if float(w) == 18:
            if swap and fields in (2, 5):
                rgb = decode(np.full(3, (0x58 if fields == 2 else 0xB4) / 255))
            if fields >= 8:
                rgb = rgb * (1 - fade) + fade * rgb[::-1]
            fields += 1
        out[round(y * MM):round((y + float(h)) * MM), round(x * MM):round((x + float(w)) * MM)] = rgb
    return out


def camera(s):
    """Homography from millimetres to pixels: a pinhole over the table."""
    w, h = s["pixels"]
    f = 1.3 * max(w, h)
    ax, ay, az = np.radians(s["turn"])
    rx = np.array([[1, 0, 0], [0, np.cos(ax), -np.sin(ax)], [0, np.sin(ax), np.cos(ax)]])
    ry = np.array([[np.cos(ay), 0, np.sin(ay)], [0, 1, 0], [-np.sin(ay), 0, np.cos(ay)]])
    rz = np.array([[np.cos(az), -np.sin(az), 0], [np.sin(az), np.cos(az), 0], [0, 0, 1]])
    r = rx @ ry @ rz
    cx, cy = s["look_at"]
    pose = np.column_stack([r[:, 0], r[:, 1], r @ np.array([-cx, -cy, 0]) + np.array([0, 0, s["distance"]])])
    return np.array([[f, 0, w / 2], [0, f, h / 2], [0, 0, 1]]) @ pose


def look(plane, x, y):
    """Bilinear, with a mask of what lies on the plane (x and y in mm)."""
    h, w = plane.shape[:2]
    u, v = x * MM - 0.5, y * MM - 0.5
    on = (u > -0.5) & (v > -0.5) & (u < w - 0.5) & (v < h - 0.5)
    at = [v, u]
    return np.stack([ndimage.map_coordinates(plane[..., c], at, order=1, mode="nearest") for c in range(3)], -1), on


def photograph(s):
    w, h = s["pixels"]
    pw, ph = s["print_px"]
    plane = np.fromfile(s["print"], np.float32).reshape(ph, pw, 3).astype(float)
    back = np.linalg.inv(camera(s))
    px, py = np.meshgrid(np.arange(w) + 0.5, np.arange(h) + 0.5)
    z = back[2, 0] * px + back[2, 1] * py + back[2, 2]
    x = (back[0, 0] * px + back[0, 1] * py + back[0, 2]) / z
    y = (back[1, 0] * px + back[1, 1] * py + back[1, 2]) / z
    out = np.empty((h, w, 3))
    out[:] = [0.25, 0.22, 0.2]
    garment = (x > -45) & (x < pw / MM + 45) & (y > -40) & (y < ph / MM + 120)
    out[garment] = s["garment"]
    seen, on = look(plane, x, y)
    out[on] = seen[on]
    if s["strip"] is not None:
        sx, sy, turn = s["strip"]
        c, n = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        strip = strip_plane(s["svg"], s["swap"], s["fade"])
        seen, on = look(strip, (x - sx) * c + (y - sy) * n, -(x - sx) * n + (y - sy) * c)
        out[on] = seen[on]
    for cx, cy, r in s["covers"]:
        out[(x - cx) ** 2 + (y - cy) ** 2 < r * r] = [0.5, 0.3, 0.22]
    # Light: falls off to the rim and to one side, a shadow with an edge, reflections.
    d = max(w, h)
    nx, ny = (px - w / 2) / d, (py - h / 2) / d
    light = 1 / (1 + s["vignette"] * (nx ** 2 + ny ** 2)) ** 2 * (1 + s["slope"][0] * nx + s["slope"][1] * ny)
    if s["shadow"] is not None:
        light = light * np.where(x > s["shadow"], 0.6, 1)
    out *= light[..., None]
    for cx, cy, r, strength in s["glare"]:
        out += (strength * np.exp(-((x - cx) ** 2 + (y - cy) ** 2) / (2 * r * r)))[..., None]
    out = ndimage.gaussian_filter(out, (s["blur"], s["blur"], 0))
    if s["shake"]:
        out = ndimage.uniform_filter1d(out, s["shake"], axis=1)
    # The camera: its colours are mixed, cast by the lamp, and bent by a curve of its own.
    mix = np.array([[0.88, 0.09, 0.03], [0.05, 0.90, 0.05], [0.02, 0.10, 0.88]])
    out = np.clip(out @ mix.T * np.array(s["cast"]) * s["exposure"], 0, 1)
    v = encode(out)
    v = v + 0.10 * v * (1 - v) * (v - 0.35) * 4
    rng = np.random.default_rng(s["seed"])
    v = v + rng.normal(0, s["noise"], v.shape)
    if s["mirror"]:
        v = v[:, ::-1]
    Image.fromarray((np.clip(v, 0, 1) * 255 + 0.5).astype(np.uint8)).save(s["out"], quality=92)


for scene in json.load(open(sys.argv[1])):
    photograph(scene)
