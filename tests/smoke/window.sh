#!/usr/bin/env bash
# Starts the real window without a display (Xvfb, software Vulkan), waits for the proof, and checks
# that the canvas is not blank and that hiding a screen changes it and showing it brings it back.
# The window is driven by keys; its own log says when everything asked for is on the screen.
#
#   tests/smoke/window.sh PROGRAM        SMOKE_OUT=DIR keeps the pictures and the log
set -euo pipefail
program=$(realpath "${1:?give the built program: tests/smoke/window.sh target/debug/strikeoff}")
. "$(dirname "$0")/drive.sh"
open_window

await rest 180
# The first run shows hints; they go with Escape.
key Escape "No more hints"
shot proof
[[ $(tones proof) -ge 200 ]] || fail "the canvas is blank"

# The chosen screen of the demo is the last one down; go round to the first, black.
key period "Next screen"
key h "Show or hide the chosen screen"
shot hidden
changed=$(differ proof hidden)
[[ $changed -gt 2000 ]] || fail "hiding a screen changed $changed pixels of the canvas"

key h "Show or hide the chosen screen"
shot again
left=$(differ proof again)
[[ $left -lt 50 ]] || fail "showing it again left $left pixels different"

close_window
echo "window: proof shown, hiding black changed $changed pixels, showing it again brought them back"
