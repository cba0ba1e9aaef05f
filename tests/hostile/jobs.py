"""Hostile job files: a good one with members that open to gigabytes, screens by the thousand, numbers
without sense, names that lead out; and cut short or with bytes changed."""

import copy
import io
import json
import zipfile
import zlib

from damage import changed, cut
from pictures import chunk, png, zeros


def members(path):
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(parts, how=zipfile.ZIP_DEFLATED):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", how) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return out.getvalue()


def grey16(width, height, claims=False):
    data = zlib.compress(bytes(4000)) if claims else zeros((2 * width + 1) * height)
    return png(width, height, data, depth=16, color=0)


def files(good_path):
    parts = members(good_path)
    job = json.loads(parts["job.json"])

    def with_job(change, more=None, how=zipfile.ZIP_DEFLATED):
        made = copy.deepcopy(job)
        change(made)
        return packed({**parts, "job.json": json.dumps(made).encode(), **(more or {})}, how)

    def screens(count, width, height):
        def change(made):
            entry = made["screens"]
            entry["width_px"], entry["height_px"] = width, height
            one = entry["list"][0]
            entry["list"] = [{**one, "name": f"screen {i}", "file": "one.png"} for i in range(count)]

        return change

    yield "screens-64.strikeoff", lambda: with_job(screens(64, 20000, 6000), {"one.png": grey16(20000, 6000)})
    yield "screens-4000.strikeoff", lambda: with_job(screens(4000, 4000, 4000), {"one.png": grey16(4000, 4000)})
    yield "screen-claims.strikeoff", lambda: with_job(screens(6, 10700, 10700), {"one.png": grey16(10700, 10700, claims=True)})
    yield "screen-huge.strikeoff", lambda: with_job(screens(6, 2**40, 2**40))

    def planned(made, count, name):
        one = made["job"]["separation"]["screens"][0]
        made["job"]["separation"]["screens"] = [{**one, "name": f"{name}{i}"} for i in range(count)]

    yield "planned-5000.strikeoff", lambda: with_job(lambda made: planned(made, 5000, "s"))
    yield "long-name.strikeoff", lambda: with_job(lambda made: planned(made, 2, "heron" * 40_000))
    yield "codes-in-name.strikeoff", lambda: with_job(lambda made: made["job"]["info"].update(title="\x1b[2J\0\x07" * 2000))

    def put(path, value):
        def change(made):
            at = made["job"]
            for key in path[:-1]:
                at = at[key]
            at[path[-1]] = value

        return change

    yield "ppi-million.strikeoff", lambda: with_job(put(["prep", "ppi"], 1e6))
    yield "wide-kilometre.strikeoff", lambda: with_job(put(["prep", "max_width_mm"], 1e6))
    yield "radius-huge.strikeoff", lambda: with_job(put(["prep", "sharpen_radius_mm"], 1e5))
    yield "ruling-huge.strikeoff", lambda: with_job(put(["film", "ruling"], 1e9))
    yield "art-bomb.strikeoff", lambda: with_job(lambda made: None, {job["art"]["file"]: bytes(1 << 30)})
    yield "thumbnail-bomb.strikeoff", lambda: with_job(lambda made: made.update(thumbnail="thumbnail.png"), {"thumbnail.png": png(64, 64, zeros(1 << 30))})
    yield "settings-bomb.strikeoff", lambda: packed({**parts, "job.json": b" " * (1 << 30)})
    yield "settings-deep.strikeoff", lambda: packed({**parts, "job.json": b'{"job":' + b"[" * 3_000_000})
    yield "edits-deep.strikeoff", lambda: packed({**parts, "job.json": parts["job.json"].replace(b'"edits"', b'"edits":' + b"[" * 100_000 + b"]" * 100_000 + b',"x"', 1)})
    yield "members-60000.strikeoff", lambda: packed({**parts, **{f"pictures/{i}.png": b"1" for i in range(60_000)}}, zipfile.ZIP_STORED)
    yield "leads-out.strikeoff", lambda: with_job(lambda made: made["art"].update(file="../../../../etc/passwd"), {"../../../../etc/passwd": b"1"})
    version = {"name": "June", "note": "", "date": "", "job": job["job"]}
    yield "versions-3000.strikeoff", lambda: with_job(lambda made: made.update(versions=[version] * 3000))
    yield "not-a-job.strikeoff", lambda: packed({"readme.txt": b"1"})
    yield "empty.strikeoff", lambda: b""
    good = packed(parts, zipfile.ZIP_STORED)
    yield from cut("fair.strikeoff", good, [0.05, 0.5, 0.95])
    yield from changed("fair.strikeoff", good, 8, keep=4)
