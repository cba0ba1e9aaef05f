"""Hostile measurements, shelves and scans of wedges."""

import json

from damage import changed, cut
from pictures import picture, png, saved, zeros

BANDS = [f"SPECTRAL_NM{nm}" for nm in range(380, 740, 10)]


def cgats(rows, bands=BANDS):
    head = f"CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_NAME BACKING {' '.join(bands)}\nEND_DATA_FORMAT\nBEGIN_DATA\n"
    return (head + "".join(rows) + "END_DATA\n").encode()


def row(name, backing, value):
    return f'"{name}" {backing} {" ".join([str(value)] * len(BANDS))}\n'


def measurements():
    good = [row("card", "white", 0.9), row("card", "black", 0.04), row("Kite red", "white", 0.5), row("Kite red", "black", 0.3)]
    yield "rows-100000.txt", lambda: cgats(good + [row(f"ink {i}", "white", 0.5) for i in range(50_000)])
    yield "same-name.txt", lambda: cgats(good * 20_000)
    yield "long-name.txt", lambda: cgats(good[:2] + [row("heron" * 200_000, "white", 0.5), row("heron" * 200_000, "black", 0.5)])
    yield "not-numbers.txt", lambda: cgats(good[:2] + [row("a", "white", "NaN"), row("a", "black", "inf")])
    yield "numbers-huge.txt", lambda: cgats(good[:2] + [row("a", "white", "9" * 5000), row("a", "black", "1e308")])
    yield "bands-100000.txt", lambda: cgats(good, [f"SPECTRAL_NM{i}" for i in range(100_000)])
    yield "one-line.txt", lambda: b"BEGIN_DATA_FORMAT " * 500_000
    yield "nothing.txt", lambda: b""
    yield "zeros.txt", lambda: bytes(1 << 20)
    deep = b"<a>" * 300_000 + b"</a>" * 300_000
    yield "deep.cxf", lambda: b'<?xml version="1.0"?><CxF xmlns="http://colorexchangeformat.com/CxF3-core">' + deep + b"</CxF>"
    laughs = "".join(f"<!ENTITY a{i} '{f'&a{i - 1};' * 10}'>" for i in range(1, 10))
    yield "entities.cxf", lambda: f"<!DOCTYPE CxF [<!ENTITY a0 'ha'>{laughs}]><CxF>&a9;</CxF>".encode()
    yield "attributes.cxf", lambda: b"<CxF " + b" ".join(b'a%d="1"' % i for i in range(200_000)) + b"/>"
    yield from cut("kite.txt", cgats(good), [0.3, 0.8])
    yield from changed("kite.txt", cgats(good), 3)


def shelves():
    ink = {"name": "Kite red", "over_white": "#C02030", "opacity": 0.75}
    many = [{**ink, "name": f"ink {i}"} for i in range(20_000)]
    yield "inks-20000.json", lambda: json.dumps({"inks": many}).encode()
    yield "long-name.json", lambda: json.dumps({"inks": [ink, {**ink, "name": "heron" * 400_000}]}).encode()
    yield "codes.json", lambda: json.dumps({"inks": [{**ink, "name": "\x1b[2J\n\n"}]}).encode()
    yield "deep.json", lambda: b'{"inks":' + b"[" * 2_000_000
    yield "opaque.json", lambda: json.dumps({"inks": [{**ink, "opacity": 1e308}]}).encode()
    yield "keys.json", lambda: b'{"inks":[{' + b",".join(b'"k%d":1' % i for i in range(300_000)) + b"}]}"
    yield from cut("shelf.json", json.dumps({"inks": [ink]}).encode(), [0.5])


def wedges():
    yield "wedge-noise.png", lambda: saved(picture(size=(600, 300)), "PNG")
    yield "wedge-white.png", lambda: png(3000, 2000, zeros(9001 * 2000))
    yield "wedge-tall.png", lambda: png(1, 500_000, zeros(500_000 * 4))
    yield "wedge-claims.png", lambda: png(60000, 60000, zeros(4000))
