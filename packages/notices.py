#!/usr/bin/env python3
"""What the program is made of, and under which licences.

notices.py --check           every crate in the program is under a licence of ALLOWED; says which is not
notices.py --out DIR         writes THIRD-PARTY.txt (names, versions, licences and their texts) and sbom.cdx.json
                             (CycloneDX 1.5) into DIR

Both read `cargo metadata --locked`, and take the crates that are linked into the program for this system: what only
builds or tests it is left out.
"""

import argparse
import json
import pathlib
import re
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
ALLOWED = {
    "0BSD", "Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "BSL-1.0", "CC0-1.0", "IJG", "ISC", "MIT", "MIT-0", "MPL-2.0",
    "OFL-1.1", "Ubuntu-font-1.0", "Unicode-3.0", "Unlicense", "Zlib",
}
# Beside the crates: what is compiled into the program from assets.
ASSETS = [("DejaVu Sans 2.37 (fonts)", "Bitstream Vera and public domain", ROOT / "assets/fonts/LICENSE-DejaVu.txt")]
TEXTS = re.compile(r"^(licen[cs]e|copying|notice|unlicense|copyright)", re.IGNORECASE)


def fits(expression):
    """Whether a licence expression (SPDX, and the older form with a stroke for OR) can be met by what is allowed."""
    tokens = re.findall(r"[()]|[A-Za-z0-9.+-]+", expression.replace("/", " OR "))
    words, skip = [], False
    for token in tokens:
        if skip:
            # An exception only adds to what the licence before it allows.
            skip = False
        elif token == "WITH":
            skip = True
        elif token in ("(", ")"):
            words.append(token)
        elif token in ("AND", "OR"):
            words.append(token.lower())
        else:
            words.append(str(token in ALLOWED))
    return eval(" ".join(words), {"__builtins__": {}})  # only True, False, and, or, and brackets


def system():
    host = subprocess.run(["rustc", "-vV"], check=True, capture_output=True, text=True).stdout
    return re.search(r"^host: (\S+)$", host, re.MULTILINE).group(1)


def crates():
    """The crates that are linked into the program, without its own, by name and version."""
    command = ["cargo", "metadata", "--locked", "--format-version", "1", "--filter-platform", system()]
    said = subprocess.run(command, check=True, capture_output=True, text=True, cwd=ROOT).stdout
    data = json.loads(said)
    packages = {package["id"]: package for package in data["packages"]}
    nodes = {node["id"]: node for node in data["resolve"]["nodes"]}
    own = set(data["workspace_members"])
    todo = [id for id in own if packages[id]["name"] == "strikeoff"]
    seen = set(todo)
    while todo:
        for dep in nodes[todo.pop()]["deps"]:
            if any(kind["kind"] is None for kind in dep["dep_kinds"]) and dep["pkg"] not in seen:
                seen.add(dep["pkg"])
                todo.append(dep["pkg"])
    found = [packages[id] for id in seen - own]
    return sorted(found, key=lambda package: (package["name"], package["version"]))


def texts(package):
    folder = pathlib.Path(package["manifest_path"]).parent
    named = [folder / package["license_file"]] if package.get("license_file") else []
    found = named + sorted(path for path in folder.iterdir() if path.is_file() and TEXTS.match(path.name))
    return [path for at, path in enumerate(found) if path.is_file() and path not in found[:at]]


def check(found):
    wrong = [package for package in found if not package["license"] or not fits(package["license"])]
    for package in wrong:
        print(
            f"{package['name']} {package['version']} is under \"{package['license']}\", which is not allowed here: "
            "take another crate, or add the licence to packages/notices.py and deny.toml if its terms can be kept",
            file=sys.stderr,
        )
    print(f"{len(found)} crates are linked into the program, {len(found) - len(wrong)} under licences that are allowed")
    return not wrong


def write(found, out):
    out.mkdir(parents=True, exist_ok=True)
    by_text = {}
    lines = ["What Strikeoff is made of beside its own code, and the licences of each.", ""]
    for package in found:
        lines.append(f"{package['name']} {package['version']}: {package['license']}")
        if package["repository"]:
            lines.append(f"    {package['repository']}")
        for path in texts(package):
            text = path.read_text(encoding="utf-8", errors="replace").strip()
            by_text.setdefault(text, []).append(f"{package['name']} {package['version']}")
    for name, terms, path in ASSETS:
        lines.append(f"{name}: {terms}")
        by_text.setdefault(path.read_text(encoding="utf-8", errors="replace").strip(), []).append(name)
    for text, names in sorted(by_text.items(), key=lambda item: item[1]):
        lines += ["", "-" * 100, "Of " + ", ".join(names), "", text]
    (out / "THIRD-PARTY.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    components = [
        {
            "type": "library",
            "name": package["name"],
            "version": package["version"],
            "purl": f"pkg:cargo/{package['name']}@{package['version']}",
            "licenses": [{"expression": package["license"].replace("/", " OR ")}],
        }
        for package in found
    ]
    version = re.search(r'^version = "(.+)"$', (ROOT / "Cargo.toml").read_text(), re.MULTILINE).group(1)
    sbom = {
        "bomFormat": "CycloneDX",
        "specVersion": "1.5",
        "version": 1,
        "metadata": {"component": {"type": "application", "name": "strikeoff", "version": version}},
        "components": components,
    }
    (out / "sbom.cdx.json").write_text(json.dumps(sbom, indent=1) + "\n", encoding="utf-8")
    print(f"{len(found)} crates, {len(by_text)} different texts in {out / 'THIRD-PARTY.txt'}; {out / 'sbom.cdx.json'}")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--check", action="store_true", help="hold every licence to those that are allowed")
    parser.add_argument("--out", type=pathlib.Path, help="folder to write the notices and the list of parts into")
    args = parser.parse_args()
    if not args.check and not args.out:
        parser.error("say --check or --out DIR")
    # The check cannot pass by reading nothing as fine.
    assert fits("MIT OR GPL-2.0-only") and fits("(MIT OR Apache-2.0) AND IJG") and fits("Apache-2.0 WITH LLVM-exception")
    assert not fits("GPL-3.0-only") and not fits("MIT AND AGPL-3.0-only")
    found = crates()
    if args.out:
        write(found, args.out)
    if args.check and not check(found):
        sys.exit(1)


if __name__ == "__main__":
    main()
