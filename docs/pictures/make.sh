#!/usr/bin/env bash
# Makes the pictures of the README anew from the real window and the demo, so that they stay true.
#
#   docs/pictures/make.sh target/release/strikeoff
set -euo pipefail
program=$(realpath "${1:?give the built program: docs/pictures/make.sh target/release/strikeoff}")
here=$(realpath "$(dirname "$0")")
. "$here/../../tests/smoke/drive.sh"

keep() {
  shot "$1"
  # 255 colours keep a picture of the window under 300 KB and look the same.
  convert "$out/$1.png" -strip -dither FloydSteinberg -colors 255 "PNG8:$here/$2"
}

open_window
await rest 180
key Escape "No more hints"
keep proof workbench.png
key 4 "Dots"
key ctrl+8 "Whole print"
for _ in 1 2 3 4 5 6 7 8; do key ctrl+equal "Zoom in"; done
keep dots dots.png
close_window
ls -l "$here"/*.png
