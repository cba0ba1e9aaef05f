#!/usr/bin/env bash
# A whole job in the real window, driven as a hand would: a photograph dropped on it, print size,
# inks, edits, order, dots, films. The films must equal those that the verbs make of the saved job,
# bit for bit. Frame times of the window's own code are printed at the end.
#
#   tests/smoke/whole_job.sh PROGRAM     SMOKE_OUT=DIR keeps pictures, log, job and films
set -euo pipefail
program=$(realpath "${1:?give the built program: tests/smoke/whole_job.sh target/debug/strikeoff}")
here=$(realpath "$(dirname "$0")")
. "$here/drive.sh"
open_window
await rest 180
key Escape "No more hints"

/usr/bin/python3 "$here/drop.py" "$(xdotool search --onlyvisible --name '^Strikeoff' | head -1)" 700 400 "$here/../fixtures/photos/coffee.jpg"
await command 60 "Open"
await rest 180
shot dropped
[[ $(tones dropped) -ge 100 ]] || fail "the dropped photograph gives no proof"

# Half the usual resolution keeps this run short; everything else is as a shop would have it.
do_by_name "resolution 150ppi" "Work at 150 ppi"
do_by_name "height 9in" "Print height 228.6 mm"

key ctrl+i "Choose inks"
shot inks
key Escape "Close"
do_by_name "use 6 inks" "Use 6 inks"
do_by_name "save as $out/first.strikeoff" "Save as"
mapfile -t screens < <("$program" inspect "$out/first.strikeoff" --json | /usr/bin/python3 -c '
import json, sys
print("\n".join(s["name"] for s in json.load(sys.stdin)["screens"]))')
[[ ${#screens[@]} == 6 ]] || fail "six inks give ${#screens[@]} screens"

do_by_name "merge ${screens[0]} into ${screens[1]}" "Merge ${screens[0]} into ${screens[1]}"
do_by_name "print ${screens[2]} with slate grey" "Print ${screens[2]} with"
do_by_name "print ${screens[5]} 1st" "Print ${screens[5]} 1st"
# From afar dots blend to the print; near by they are seen.
key ctrl+8 "Whole print"
for _ in 1 2 3 4 5 6 7 8; do key ctrl+equal "Zoom in"; done
shot print
key 4 "Dots"
shot dots
key 1 "Print"
[[ $(differ print dots) -gt 2000 ]] || fail "dots look like the print"

do_by_name "save as $out/job.strikeoff" "Save as"
do_by_name "make films into $out/films" "Make films"
close_window

"$program" films "$out/job.strikeoff" --out "$out/verbs" >/dev/null
count=0
for film in "$out"/verbs/*.tif; do
  cmp "$film" "$out/films/$(basename "$film")" || fail "$(basename "$film") differs between window and verbs"
  count=$((count + 1))
done
[[ $count == 5 ]] || fail "five screens give $count films"
/usr/bin/python3 - "$log" <<'P'
import json, sys
frames = [e for e in map(json.loads, open(sys.argv[1])) if e["event"] == "frames"]
count = sum(f["count"] for f in frames)
p95 = sorted(f["p95_ms"] for f in frames)[len(frames) // 2]
print(f"window: {count} frames, its own code 95 % under {p95:.1f} ms (median of 5 s spans)")
P
echo "whole job: $count films from the window equal those of the verbs bit for bit"
