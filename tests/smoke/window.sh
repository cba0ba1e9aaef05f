#!/usr/bin/env bash
# Starts the real window without a display (Xvfb, software Vulkan), waits for the proof, and
# checks that the canvas is not blank and that hiding a screen changes it.
set -euo pipefail
cd "$(dirname "$0")/../.."
cargo build --locked --quiet -p strikeoff
program=target/${CARGO_BUILD_TARGET:+$CARGO_BUILD_TARGET/}debug/strikeoff
[[ -n ${CARGO_TARGET_DIR:-} ]] && program=$CARGO_TARGET_DIR/debug/strikeoff
out=${SMOKE_OUT:-$(mktemp -d)}
mkdir -p "$out"
export XDG_RUNTIME_DIR="$out/run" XDG_CONFIG_HOME="$out/config" XDG_DATA_HOME="$out/data" XDG_STATE_HOME="$out/state"
mkdir -p -m 700 "$XDG_RUNTIME_DIR"
unset WAYLAND_DISPLAY

display=""
for number in 45 46 47 48 49; do
  [[ -e /tmp/.X11-unix/X$number ]] && continue
  Xvfb ":$number" -screen 0 1440x900x24 -nolisten tcp >"$out/xvfb.log" 2>&1 &
  server=$!
  for _ in $(seq 50); do [[ -e /tmp/.X11-unix/X$number ]] && break; sleep 0.1; done
  if kill -0 "$server" 2>/dev/null; then display=:$number; break; fi
done
[[ -n $display ]] || { echo "no free display for Xvfb between :45 and :49" >&2; exit 1; }
export DISPLAY=$display

stop() {
  [[ -n ${window:-} ]] && kill "$window" 2>/dev/null || true
  kill "$server" 2>/dev/null || true
  [[ -n ${SMOKE_OUT:-} ]] || rm -rf "$out"
}
trap stop EXIT

"$program" >"$out/window.log" 2>&1 &
window=$!

fail() { echo "window: $1" >&2; tail -20 "$out/window.log" >&2; exit 1; }
shot() { import -window root "$out/$1.png"; }
# Colours in the middle of the canvas (x 265..1135, y 50..715 of the window).
canvas=600x560+400+110
tones() { convert "$out/$1.png" -crop $canvas +repage -colors 256 -format '%k' info:; }
differ() { compare -metric AE -fuzz 2% "$out/$1.png[$canvas]" "$out/$2.png[$canvas]" null: 2>&1 | cut -d' ' -f1 || true; }

# The loupe follows the pointer: keep it off the table.
xdotool mousemove 1200 600
# Waits until the window stands still: no work under way, nothing fading.
settle() {
  shot still
  local quiet=0
  for _ in $(seq 90); do
    sleep 1
    shot now
    if cmp -s <(convert "$out/still.png" rgb:-) <(convert "$out/now.png" rgb:-); then quiet=$((quiet + 1)); else quiet=0; fi
    [[ $quiet -ge 3 ]] && return
    cp "$out/now.png" "$out/still.png"
  done
  fail "still busy after 90 s"
}

# The proof is there when the canvas shows many colours and has stopped changing.
for try in $(seq 90); do
  sleep 1
  kill -0 "$window" 2>/dev/null || fail "closed by itself"
  shot now
  [[ $(tones now) -ge 200 ]] && break
  [[ $try -lt 90 ]] || fail "no proof after 90 s: the canvas is blank"
done
settle
shot proof

# As a hand does it: a frame or two between moving, pressing and letting go.
press() {
  xdotool mousemove "$1" "$2"; sleep 1
  xdotool mousedown 1; sleep 0.6
  xdotool mouseup 1; sleep 1
  xdotool mousemove 1200 600
}

# The window is named and takes keys: hide the chosen screen by its card's button.
id=$(xdotool search --onlyvisible --name '^Strikeoff$' | head -1)
[[ -n $id ]] || fail "no window called Strikeoff"
xdotool windowfocus "$id" 2>/dev/null || true
# "shown" on the first card (the black screen).
press 52 841
for try in $(seq 60); do
  sleep 0.5
  # A slow machine may draw no frame while the button is down: press once more if nothing came of it.
  ((try % 12)) || press 52 841
  shot hidden
  changed=$(differ proof hidden)
  [[ ${changed%.*} -gt 2000 ]] && break
  [[ $try -lt 60 ]] || fail "hiding a screen changed $changed pixels of the canvas"
done
# And back again.
press 52 841
for try in $(seq 60); do
  sleep 0.5
  ((try % 12)) || press 52 841
  shot again
  left=$(differ proof again)
  [[ ${left%.*} -lt 500 ]] && break
  [[ $try -lt 60 ]] || fail "showing it again left $left pixels different"
done
echo "window: proof shown, hiding black changed $changed pixels, showing it again brought them back"
