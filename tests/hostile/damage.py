"""Harm done to a good file: cut short, bytes changed. The same every time."""

import random


def cut(name, data, parts):
    """The file cut at these shares of its length."""
    stem, end = name.rsplit(".", 1)
    for part in parts:
        yield f"{stem}-cut{int(part * 1000):03}.{end}", data[: int(len(data) * part)]


def changed(name, data, count, most=12, seed=7, keep=0):
    """`count` versions of the file with up to `most` bytes changed, none of the first `keep`."""
    stem, end = name.rsplit(".", 1)
    chance = random.Random(f"{name} {seed}")
    for number in range(count):
        out = bytearray(data)
        for _ in range(chance.randint(1, most)):
            at = chance.randrange(min(keep, len(out) - 1), len(out))
            out[at] = chance.choice([0, 1, 0x7F, 0x80, 0xFF, chance.randrange(256)])
        yield f"{stem}-bits{number:02}.{end}", bytes(out)
