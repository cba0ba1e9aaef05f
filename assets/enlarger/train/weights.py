"""The weights file: written and read with NumPy alone. The layout is described in ../card.md.

usage: weights.py OUT ENLARGER.pt JUDGE.pt     writes the file from what train.py left
"""
import hashlib
import json
import re
import struct
import sys

import numpy as np

MAGIC, VERSION = b"ENLARGER", 1


def write(path, tensors, facts):
    """tensors: name to array, in file order; facts: what the header says besides."""
    listed, at, body = [], 0, b""
    for name, a in tensors.items():
        a = np.ascontiguousarray(a, dtype="<f2")
        if not np.isfinite(a).all():
            raise ValueError(f"{name} holds numbers that a 16-bit float cannot")
        listed.append({"name": name, "shape": list(a.shape), "at": at})
        at += a.size
        body += a.tobytes()
    header = json.dumps(facts | {"numbers": at, "tensors": listed}, separators=(",", ":")).encode()
    header += b" " * (-(len(header)) % 16)
    whole = MAGIC + struct.pack("<II", VERSION, len(header)) + header + body
    with open(path, "wb") as out:
        out.write(whole + hashlib.sha256(whole).digest())
    return len(whole) + 32


def read(path):
    """(header, name to float32 array); refuses a file that is not whole."""
    data = open(path, "rb").read()
    if data[:8] != MAGIC:
        raise ValueError(f"{path} is no enlarger weights file")
    version, length = struct.unpack("<II", data[8:16])
    if version != VERSION:
        raise ValueError(f"{path} has layout {version}, this reads {VERSION}")
    if hashlib.sha256(data[:-32]).digest() != data[-32:]:
        raise ValueError(f"{path} is damaged: its checksum does not match")
    header = json.loads(data[16 : 16 + length])
    numbers = np.frombuffer(data[16 + length : -32], "<f2").astype(np.float32)
    if len(numbers) != header["numbers"]:
        raise ValueError(f"{path} holds {len(numbers)} numbers, its header says {header['numbers']}")
    out = {}
    for t in header["tensors"]:
        out[t["name"]] = numbers[t["at"] : t["at"] + int(np.prod(t["shape"]))].reshape(t["shape"])
    return header, out


def facts_of(tensors):
    return {
        "channels": int(tensors["head.weight"].shape[0]),
        "layers": len([k for k in tensors if re.fullmatch(r"body\d+\.weight", k)]),
        "scales": sorted(int(k[4]) for k in tensors if re.fullmatch(r"tail\d\.weight", k)),
        "terms": int(tensors["head.gain"].shape[0]),
        "judge": {"channels": int(tensors["judge.conv0.weight"].shape[0]),
                  "layers": len([k for k in tensors if re.fullmatch(r"judge\.conv\d\.weight", k)]),
                  "hidden": int(tensors["judge.hidden.weight"].shape[0])} if "judge.hidden.weight" in tensors else None,
    }


def main(out, *parts):
    import torch

    tensors = {}
    for part in parts:
        tensors |= {k: v.numpy() for k, v in torch.load(part).items()}
    print(write(out, tensors, facts_of(tensors)), "bytes")


if __name__ == "__main__":
    main(*sys.argv[1:])
