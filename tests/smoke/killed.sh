#!/usr/bin/env bash
# Kills the real window (SIGKILL) two seconds after an unsaved change and opens it again: the job must
# be offered, opened with the change in it, and be offered no more once it is saved.
#
#   tests/smoke/killed.sh PROGRAM        SMOKE_OUT=DIR keeps pictures, log and job
set -euo pipefail
program=$(realpath "${1:?give the built program: tests/smoke/killed.sh target/debug/strikeoff}")
. "$(dirname "$0")/drive.sh"
here=$(realpath "$(dirname "$0")")
left() { find "$XDG_DATA_HOME" -name '*.strikeoff'; }

"$program" separate "$here/../fixtures/photos/coffee.jpg" --garment '#FFFFFF' --inks 'Ink black,Brick red' \
  --max-height 6in --ppi 72 -o "$out/job.strikeoff" >/dev/null
open_window "$out/job.strikeoff"
await rest 180
key Escape "No more hints"
do_by_name "height 9in" "Print height 228.6 mm"
sleep 2
kill -9 "$window"
wait "$window" 2>/dev/null || true
[[ -n $(left) ]] || fail "two seconds after a change there is no recovery copy"

open_window "$out/job.strikeoff"
await rest 180
shot offered
do_by_name "open the recovered job" "Open the recovered job"
shot opened
# The offer's sheet darkens all that is under it.
[[ $(differ offered opened) -gt 200000 ]] || fail "the job was not offered when the window came up"
do_by_name "save as $out/saved.strikeoff" "Save as"
height=$("$program" inspect "$out/saved.strikeoff" --json | /usr/bin/python3 -c '
import json, sys
print(round(json.load(sys.stdin)["print_size_mm"][1], 1))')
[[ $height == 228.6 ]] || fail "the recovered job is $height mm high, 228.6 was the last change"
close_window
[[ -z $(left) ]] || fail "the saved job is still offered: $(left)"
echo "killed: the change made before SIGKILL was offered, opened and saved"
