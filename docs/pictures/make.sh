#!/usr/bin/env bash
# Makes the README's picture again from the real window and the demo, so that it stays true.
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
close_window
ls -l "$here"/*.png
