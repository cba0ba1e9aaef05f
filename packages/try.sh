#!/usr/bin/env bash
# Installs a package into an empty folder, runs what it brought, and takes it out again: nothing may be left.
#   packages/try.sh PACKAGE.deb
set -euo pipefail
# A pipe's reader reads to the end: one that stops early ends what feeds it, which counts as a fault here.
[[ $# == 1 ]] || { echo "usage: packages/try.sh PACKAGE.deb" >&2; exit 2; }
package=$(realpath "$1")
root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT
mkdir -p "$root/var/lib/dpkg/info" "$root/var/lib/dpkg/updates" "$root/home"
touch "$root/var/lib/dpkg/status"
# What it depends on is this system's, not the empty folder's.
in_root=(dpkg --root="$root" --force-depends --force-not-root --force-bad-path --log="$root/log")
"${in_root[@]}" --install "$package" >/dev/null 2>"$root/said" || { cat "$root/said" >&2; exit 1; }

program=$root/usr/bin/strikeoff
export HOME="$root/home" XDG_CONFIG_HOME="$root/home" XDG_DATA_HOME="$root/home" XDG_CACHE_HOME="$root/home" XDG_STATE_HOME="$root/home"
"$program" --version | grep '^strikeoff [0-9]' >/dev/null
"$program" profile show --json | python3 -c 'import json, sys; assert json.load(sys.stdin)["profile"]["heads"] >= 1'
desktop-file-validate "$root/usr/share/applications/strikeoff.desktop"
grep -q 'x-strikeoff-job' "$root/usr/share/mime/packages/strikeoff.xml"
verbs=$("$program" --help | sed -n 's/^  \([a-z][a-z-]*\)  .*/\1/p' | grep -v '^help$')
[[ $(wc -w <<<"$verbs") -gt 20 ]]
for verb in $verbs; do
  zcat "$root/usr/share/man/man1/strikeoff-$verb.1.gz" | grep '^\.TH' >/dev/null || { echo "no man page of $verb" >&2; exit 1; }
done
bash -n "$root/usr/share/bash-completion/completions/strikeoff"
zcat "$root/usr/share/doc/strikeoff/THIRD-PARTY.txt.gz" | grep '^eframe ' >/dev/null

"${in_root[@]}" --purge strikeoff >/dev/null 2>"$root/said" || { cat "$root/said" >&2; exit 1; }
left=$(find "$root/usr" ! -type d 2>/dev/null || true)
[[ -z $left ]] || { echo "left behind: $left" >&2; exit 1; }
echo "installed, run and removed: $(basename "$package")"
