#!/usr/bin/env bash
# A whole job in the real window, driven as a hand would: a photograph dropped on it, cropped by its
# handle, sized to 18 in, a set of inks taken and undone, two screens merged, one re-inked, one trimmed, the order
# changed, dots looked at, films made. The films must equal those that the verbs make of the saved job,
# bit for bit. How long the window's own code took for its frames is printed, not judged: machines differ.
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

# Half of the picture: the right handle of the crop to the middle. The picture lies in the canvas of a
# window of 1440 x 900 points (x 264..1120, y 50..714) with 28 points beside it.
do_by_name "crop on the table" "Crop on the table"
# A hand is slow, and so is a window that draws in software: it must see the pointer rest, press and release.
xdotool mousemove 1092 378 sleep 1.2 mousedown 1 sleep 1.2
for x in 1060 1000 900 800 700; do xdotool mousemove "$x" 378 sleep 0.4; done
xdotool mousemove 692 378 sleep 1.2 mouseup 1
await command 60 "Crop"
shot crop
do_by_name "done cropping" "Done cropping"
xdotool mousemove 1200 600

# Half the usual resolution keeps this run short; everything else is as a shop would have it.
do_by_name "resolution 75ppi" "Work at 75 ppi"
do_by_name "height 18in" "Print height 457.2 mm"

key ctrl+i "Choose inks"
shot inks
key Escape "Close"
# A set of two is always on offer; the six ordinary inks that the job came with are what goes on.
do_by_name "use 2 inks" "Use 2 inks"
shot two
key ctrl+z "Undo"
do_by_name "save as $out/first.strikeoff" "Save as"
# inspect JOB EXPRESSION: something of the report that the verbs give of a job.
inspect() { "$program" inspect "$1" --json | /usr/bin/python3 -c "import json, sys; r = json.load(sys.stdin); $2"; }
mapfile -t screens < <(inspect "$out/first.strikeoff" 'print("\n".join(s["name"] for s in r["screens"]))')
[[ ${#screens[@]} == 6 ]] || fail "six inks give ${#screens[@]} screens"
inspect "$out/first.strikeoff" 'w, h = r["print_size_mm"]; sys.exit(not (abs(h - 457.2) < 0.5 and abs(w - 342.9) < 4))' ||
  fail "half of 512 x 341 at 18 in is not 13.5 in wide"

do_by_name "merge ${screens[0]} into ${screens[1]}" "Merge ${screens[0]} into ${screens[1]}"
do_by_name "print ${screens[2]} with slate grey" "Print ${screens[2]} with"
do_by_name "print ${screens[5]} 1st" "Print ${screens[5]} 1st"
# Of the screens that nothing was done to, the one that covers most.
trimmed=$(inspect "$out/first.strikeoff" 'print(max(r["screens"][3:5], key=lambda s: s["mean_coverage"])["name"])')
do_by_name "trim $trimmed below 12" "Trim $trimmed below 12"
# From afar dots blend to the print; near by they are seen.
key ctrl+8 "Whole print"
for _ in 1 2 3 4 5 6 7 8 9 10; do key ctrl+equal "Zoom in"; done
shot print
key 4 "Dots"
shot dots
key 1 "Print"
[[ $(differ print dots) -gt 2000 ]] || fail "dots look like the print"

do_by_name "save as $out/job.strikeoff" "Save as"
do_by_name "make films into $out/films" "Make films"
close_window

coverage='print(next(s["mean_coverage"] for s in r["screens"] if s["name"] == sys.argv[1]))'
covers() { "$program" inspect "$1" --json | /usr/bin/python3 -c "import json, sys; r = json.load(sys.stdin); $coverage" "$trimmed"; }
before=$(covers "$out/first.strikeoff") after=$(covers "$out/job.strikeoff")
/usr/bin/python3 -c 'import sys; sys.exit(not float(sys.argv[2]) < float(sys.argv[1]))' "$before" "$after" ||
  fail "trimming $trimmed leaves it at $after of $before"
"$program" films "$out/job.strikeoff" --out "$out/verbs" >/dev/null
count=0
for film in "$out"/verbs/*.tif; do
  cmp "$film" "$out/films/$(basename "$film")" || fail "$(basename "$film") differs between window and verbs"
  count=$((count + 1))
done
[[ $count == 5 ]] || fail "five screens give $count films"
/usr/bin/python3 - "$log" <<'P'
import json, sys
frames = [e for e in map(json.loads, open(sys.argv[1])) if e["event"] == "all frames"]
if not frames:
    sys.exit("the log has no frame times")
f = frames[-1]
print(f"window: {f['count']} frames, its own code: median {f['median_ms']:.1f} ms, 95 % under {f['p95_ms']:.1f} ms, "
      f"{f['share_over_4_ms']:.1%} over 4 ms, longest {f['longest_ms']:.0f} ms")
P
echo "whole job: $count films from the window equal those of the verbs bit for bit"
