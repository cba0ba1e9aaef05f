"""Fetches what the enlarger is trained and measured on, into RAW (argument 1, a new folder).

Run it on Debian or a system with its package lists; needs apt-get, dpkg, npm, git and pip on the path.
Everything comes by package name, except two sets of photographs, which come from their public
repositories at a fixed commit. card.md lists the licence of each.
"""
import os
import subprocess
import sys

DRAWINGS = ["openclipart-svg"]
FONTS = """bebas-neue blankenburg breip comic-neue dancingscript goudybookletter humor-sans kaushanscript
league-spartan leckerli-one lobster lobstertwo play cabin cabinsketch dosis quattrocento
yanone-kaffeesatz comfortaa allerta oldstandard prociono courier-prime vollkorn quicksand lindenhill
karla junction urw-base35""".split()
ICONS = ["@iconify-json/noto@1.2.9", "@iconify-json/fluent-emoji-flat@1.2.6", "@iconify-json/openmoji@1.2.29"]
PHOTOGRAPHS = {
    "budgie": ("https://github.com/BuddiesOfBudgie/budgie-backgrounds", "82067426f1dde366e9c9038fdbe457c2527525dd"),
    "pop": ("https://github.com/pop-os/wallpapers", "03a25a14a76eaf3825b980ab50aad6698c1c5a35"),
}


def run(*args, cwd=None):
    print("+", " ".join(args), flush=True)
    subprocess.run(args, cwd=cwd, check=True)


def main(raw):
    raw = os.path.abspath(raw)
    for part in ("deb", "npm", "root"):
        os.makedirs(f"{raw}/{part}", exist_ok=True)
    run("apt-get", "download", *DRAWINGS, *("fonts-" + f for f in FONTS), cwd=f"{raw}/deb")
    for deb in sorted(os.listdir(f"{raw}/deb")):
        run("dpkg", "-x", f"{raw}/deb/{deb}", f"{raw}/root")
    for name in ICONS:
        run("npm", "pack", "--silent", name, cwd=f"{raw}/npm")
        tgz = name[1:].replace("/", "-").replace("@", "-") + ".tgz"
        out = f"{raw}/npm/" + name.split("/")[1].split("@")[0]
        os.makedirs(out, exist_ok=True)
        run("tar", "xzf", f"{raw}/npm/{tgz}", "-C", out, "--strip-components=1")
    for name, (address, commit) in PHOTOGRAPHS.items():
        run("git", "clone", "--quiet", "--no-checkout", address, f"{raw}/{name}")
        run("git", "checkout", "--quiet", commit, cwd=f"{raw}/{name}")
    run(sys.executable, "-m", "pip", "install", "--quiet", "numpy", "pillow", "scikit-image==0.26.0",
        "matplotlib", "resvg-py==0.5.0")


if __name__ == "__main__":
    main(sys.argv[1])
