#!/usr/bin/env bash
# Makes a Debian package, and a tarball of the same files, from a built program:
#   cargo build --release && packages/deb.sh target/release/strikeoff target/packages
# COMPRESSION=none makes them fast and large, for trying.
set -euo pipefail
[[ $# == 2 ]] || { echo "usage: packages/deb.sh PROGRAM DIR" >&2; exit 2; }
program=$(realpath "$1")
mkdir -p "$2"
out=$(realpath "$2")
cd "$(dirname "$0")/.."
for tool in dpkg-deb dpkg python3 gzip tar; do
  command -v "$tool" >/dev/null || { echo "$tool is missing. Install it with: apt-get install dpkg python3 gzip tar" >&2; exit 1; }
done

version=$(sed -n 's/^version = "\(.*\)"$/\1/p' Cargo.toml | head -1)
architecture=$(dpkg --print-architecture)
tree=$(mktemp -d)
trap 'rm -rf "$tree"' EXIT
install -Dm755 "$program" "$tree/usr/bin/strikeoff"
[[ ${COMPRESSION:-} == none ]] || strip --strip-unneeded "$tree/usr/bin/strikeoff"
install -Dm644 assets/desktop/strikeoff.desktop "$tree/usr/share/applications/strikeoff.desktop"
install -Dm644 assets/desktop/strikeoff.xml "$tree/usr/share/mime/packages/strikeoff.xml"
install -Dm644 assets/desktop/strikeoff.svg "$tree/usr/share/icons/hicolor/scalable/apps/strikeoff.svg"
install -Dm644 assets/desktop/strikeoff.png "$tree/usr/share/icons/hicolor/256x256/apps/strikeoff.png"

extras=$tree/extras
"$tree/usr/bin/strikeoff" extras --out "$extras" >/dev/null
install -d "$tree/usr/share/man/man1"
for page in "$extras"/man/*; do gzip -9nc "$page" >"$tree/usr/share/man/man1/$(basename "$page").gz"; done
install -Dm644 "$extras/completions/strikeoff.bash" "$tree/usr/share/bash-completion/completions/strikeoff"
install -Dm644 "$extras/completions/_strikeoff" "$tree/usr/share/zsh/vendor-completions/_strikeoff"
install -Dm644 "$extras/completions/strikeoff.fish" "$tree/usr/share/fish/vendor_completions.d/strikeoff.fish"
rm -r "$extras"

papers=$tree/usr/share/doc/strikeoff
install -d "$papers"
install -m644 README.md "$papers/"
install -m644 LICENSE "$papers/copyright"
python3 packages/notices.py --check --out "$papers" >/dev/null
gzip -9n "$papers/THIRD-PARTY.txt" "$papers/sbom.cdx.json"

# The window loads what it draws with when it opens; the verbs need the C library alone.
install -d "$tree/DEBIAN"
cat >"$tree/DEBIAN/control" <<CONTROL
Package: strikeoff
Version: $version
Architecture: $architecture
Maintainer: The Strikeoff authors <authors@strikeoff.invalid>
Section: graphics
Priority: optional
Installed-Size: $(du -sk "$tree/usr" | cut -f1)
Depends: libc6, libgcc-s1
Recommends: libxkbcommon0, libxkbcommon-x11-0, libwayland-client0, libx11-6, libxcursor1, libxi6, libvulkan1 | libgl1, mesa-vulkan-drivers | libgl1, xdg-desktop-portal, fonts-dejavu-core
Description: separates pictures into the screens that print them on garments
 From a client's picture to spot-ink screens for a garment: sizing and enlarging,
 separation, underbase and highlight white, print order and mesh, a proof of the
 shirt, what will go wrong on press, films and sheets.
CONTROL

package=$out/strikeoff_${version}_$architecture.deb
case ${COMPRESSION:-xz} in
  none) dpkg-deb --root-owner-group -Znone --build "$tree" "$package" >/dev/null ;;
  *) dpkg-deb --root-owner-group -Zxz --build "$tree" "$package" >/dev/null ;;
esac
tarball=$out/strikeoff-$version-linux-$architecture.tar.gz
if [[ ${COMPRESSION:-} != none ]]; then
  tar --owner=0 --group=0 --sort=name -C "$tree/usr" -czf "$tarball" bin share
  echo "$tarball"
fi
echo "$package"
