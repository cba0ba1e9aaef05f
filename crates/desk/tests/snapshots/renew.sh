#!/usr/bin/env bash
# Draws the pictures of the window again and keeps those that have changed, as lossless WebP (Pillow).
# Look at them before they are committed.
#
#   crates/desk/tests/snapshots/renew.sh
set -euo pipefail
here=$(realpath "$(dirname "$0")")
cd "$here/../../../.."
UPDATE_SNAPSHOTS=1 cargo test --workspace --locked --test window snapshots
/usr/bin/python3 - "${CARGO_TARGET_DIR:-target}/tmp/snapshots" "$here" <<'P'
import pathlib, sys
from PIL import Image

drawn, kept = map(pathlib.Path, sys.argv[1:])
for png in sorted(p for p in drawn.glob("*.png") if p.name.count(".") == 1):
    webp = kept / (png.stem + ".webp")
    now = Image.open(png).convert("RGBA")
    if webp.exists() and Image.open(webp).convert("RGBA").tobytes() == now.tobytes():
        continue
    now.save(webp, lossless=True, quality=100, method=6, exact=True)
    print(f"{webp.name}: {webp.stat().st_size / 1000:.0f} kB")
P
