# To be sourced by a script that drives the real window: starts Xvfb and the program named by
# $program, sends keys, waits for events of the window's own log (program option --log), takes
# pictures. Everything it starts is stopped when the script ends.

out=${SMOKE_OUT:-$(mktemp -d)}
mkdir -p "$out"
export XDG_RUNTIME_DIR="$out/run" XDG_CONFIG_HOME="$out/config" XDG_DATA_HOME="$out/data" XDG_STATE_HOME="$out/state"
export XDG_CACHE_HOME="$out/cache"
mkdir -p -m 700 "$XDG_RUNTIME_DIR"
unset WAYLAND_DISPLAY
log=$out/window.jsonl
drive_dir=$(dirname "${BASH_SOURCE[0]}")

fail() {
  echo "window: $1" >&2
  tail -5 "$log" >&2 || true
  tail -20 "$out/window.log" >&2 || true
  exit 1
}

stop_all() {
  [[ -n ${window:-} ]] && kill "$window" 2>/dev/null || true
  [[ -n ${server:-} ]] && kill "$server" 2>/dev/null || true
  [[ -n ${SMOKE_OUT:-} ]] || rm -rf "$out"
}
trap stop_all EXIT

open_display() {
  # The server takes the next free display and tells its number when it is ready. Without -noreset it would
  # begin again after its first client, the question whether it is there, and refuse whoever comes just then.
  Xvfb -displayfd 5 -screen 0 "${SMOKE_SCREEN:-1440x900}x24" -nolisten tcp -noreset 5>"$out/display" >"$out/xvfb.log" 2>&1 &
  server=$!
  for _ in {1..300}; do
    [[ -s $out/display ]] && DISPLAY=:$(tr -d '[:space:]' <"$out/display") && export DISPLAY && xdpyinfo >/dev/null 2>&1 && break
    kill -0 "$server" 2>/dev/null || fail "Xvfb does not start: $(tail -1 "$out/xvfb.log")"
    sleep 0.1
  done
  xdpyinfo >/dev/null 2>&1 || fail "Xvfb gives no display after 30 s"
}

# open_window [ARGUMENT...]: the program on a display of its own, with the keyboard's focus.
open_window() {
  [[ -x $program ]] || fail "$program is not built: run cargo test --workspace"
  [[ -n ${server:-} ]] || open_display
  : >"$log"
  seen=0
  "$program" --log "$log" "$@" >"$out/window.log" 2>&1 &
  window=$!
  local id=
  for _ in {1..300}; do
    kill -0 "$window" 2>/dev/null || fail "closed by itself"
    id=$(xdotool search --onlyvisible --name '^Strikeoff' 2>/dev/null | head -1) && [[ -n $id ]] && break
    sleep 0.2
  done
  [[ -n $id ]] || fail "no window called Strikeoff after 60 s"
  # Without a window manager nobody else gives the focus. The loupe follows the pointer: keep it off the table.
  xdotool windowfocus "$id"
  xdotool mousemove 1200 600
}

# The window's end writes its last frames into the log; it must end well.
close_window() {
  /usr/bin/python3 "$drive_dir/close.py" "$(xdotool search --onlyvisible --name '^Strikeoff' | head -1)"
  for _ in {1..100}; do kill -0 "$window" 2>/dev/null || break; sleep 0.1; done
  kill -0 "$window" 2>/dev/null && fail "still open 10 s after it was asked to close"
  wait "$window" || fail "it was asked to close and ended with $?"
  window=
}

# await EVENT SECONDS [PATTERN]: waits for the next line of this event that also has PATTERN. Lines
# before it are passed over, later ones stay for the next call.
await() {
  local lines line
  for ((try = 0; try < $2 * 5; try++)); do
    mapfile -t -s "$seen" lines <"$log"
    for line in "${lines[@]}"; do
      [[ $line == *$'}' ]] || break
      seen=$((seen + 1))
      if [[ $line == *"\"event\":\"$1\""* && $line == *"${3:-}"* ]]; then said=$line; sleep 0.4; return; fi
    done
    kill -0 "$window" 2>/dev/null || fail "closed by itself while waiting for $1 ${3:-}"
    sleep 0.2
  done
  fail "no $1 ${3:-} after $2 s"
}

# key KEYS COMMAND: presses keys, waits for the command that they give and until its work is done.
key() {
  xdotool key --delay 60 "$1"
  await command 60 "$2"
  await rest 180
}

# do_by_name WORDS COMMAND: the same through the sheet that finds commands by name.
do_by_name() {
  key ctrl+k "Find a command"
  xdotool type --delay 30 "$1"
  key Return "$2"
}

shot() { import -window root "$out/$1.png"; }
# The middle of the canvas (x 265..1135, y 50..715 of the window).
canvas=${SMOKE_CANVAS:-600x560+400+110}
tones() { convert "$out/$1.png" -crop "$canvas" +repage -colors 256 -format '%k' info:; }
differ() {
  local count
  count=$(compare -metric AE -fuzz 2% "$out/$1.png[$canvas]" "$out/$2.png[$canvas]" null: 2>&1 | cut -d' ' -f1) || true
  printf '%.0f' "$count"
}
