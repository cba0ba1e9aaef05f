"""Hostile pictures: PNG, JPEG, TIFF, WebP, GIF, BMP. Headers that claim much, data that opens to
gigabytes, parts that repeat for ever, and good files cut short or with bytes changed."""

import io
import struct
import zlib

from PIL import Image

from damage import changed, cut


def picture(mode="RGB", size=(97, 61)):
    """A small picture of soft colours."""
    out = Image.new("RGB", size)
    out.putdata([((x * 5) % 256, (y * 9) % 256, (x * y) % 256) for y in range(size[1]) for x in range(size[0])])
    return out.convert(mode)


def saved(image, kind, **options):
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def repeated(part, times, before=b"", after=b""):
    """A zlib stream that opens to `part` so many times over, made without going through all of it: a block that is
    squeezed by itself can be repeated as it is (RFC 1951)."""
    block = max(1, min(times, (1 << 20) // len(part)))
    squeeze = zlib.compressobj(9, zlib.DEFLATED, -15)
    first = squeeze.compress(before) + squeeze.flush(zlib.Z_FULL_FLUSH)
    many = squeeze.compress(part * block) + squeeze.flush(zlib.Z_FULL_FLUSH)
    rest = squeeze.compress(part * (times % block) + after) + squeeze.flush()
    check = zlib.adler32(before)
    # The sum of a block that is repeated grows evenly (RFC 1950): only its own two halves are needed.
    low, high = check & 0xFFFF, check >> 16
    length, own = block * len(part), zlib.adler32(part * block)
    own_low, own_high = (own & 0xFFFF) - 1, (own >> 16) - length
    count = times // block
    high += count * (own_high + length * low) + own_low * length * (count * (count - 1) // 2)
    low += count * own_low
    check = zlib.adler32(part * (times % block) + after, (high % 65521) << 16 | low % 65521)
    return b"\x78\xda" + first + many * count + rest + struct.pack(">I", check)


def zeros(count):
    """A zlib stream that opens to so many zeros."""
    return repeated(b"\0", count)


def chunk(kind, body):
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png(width, height, data, depth=8, color=2, interlace=0, before=b""):
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, color, 0, 0, interlace))
    return b"\x89PNG\r\n\x1a\n" + head + before + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def pngs():
    few = zlib.compress(bytes(4000))
    yield "claims-60000-1bit.png", lambda: png(60000, 60000, few, depth=1, color=0)
    yield "claims-65535-rgba16.png", lambda: png(65535, 65535, few, depth=16, color=6)
    yield "claims-2-31.png", lambda: png(2**31 - 1, 2**31 - 1, few)
    yield "claims-nothing.png", lambda: png(0, 90, few)
    yield "in-reach-10700-1bit.png", lambda: png(10700, 10700, few, depth=1, color=0)
    yield "in-reach-rgba16.png", lambda: png(10700, 10700, few, depth=16, color=6)
    yield "in-reach-whole-1bit.png", lambda: png(10700, 10700, zeros(1339 * 10700), depth=1, color=0)
    yield "tall-10m.png", lambda: png(1, 10_000_000, zeros(40_000_000))
    yield "tall-30m.png", lambda: png(1, 30_000_000, zeros(120_000_000))
    yield "wide-10m.png", lambda: png(10_000_000, 1, zeros(30_000_001))
    yield "wide-100m-grey.png", lambda: png(100_000_000, 1, zeros(100_000_001), color=0)
    yield "adam7-10700.png", lambda: png(10700, 10700, few, interlace=1)
    yield "adam7-tall.png", lambda: png(1, 8_000_000, few, interlace=1)
    yield "bomb-rows.png", lambda: png(64, 64, zeros(1 << 30))
    yield "bomb-profile.png", lambda: png(9, 9, few, before=chunk(b"iCCP", b"x\0\0" + zeros(1 << 30)))
    yield "bomb-words.png", lambda: png(9, 9, few, before=chunk(b"zTXt", b"x\0\0" + zeros(1 << 30)))
    yield "many-chunks.png", lambda: png(9, 9, few, before=chunk(b"tEXt", b"a\0b") * 300_000)
    yield "many-palettes.png", lambda: png(9, 9, few, color=3, before=chunk(b"PLTE", bytes(768)) * 2000)
    yield "no-palette.png", lambda: png(9, 9, few, color=3)
    yield "no-gamma.png", lambda: png(9, 9, few, before=chunk(b"gAMA", bytes(4)))
    yield "points-nowhere.png", lambda: png(9, 9, few, before=chunk(b"cHRM", bytes(32)))
    yield "no-size.png", lambda: png(9, 9, few, before=chunk(b"pHYs", struct.pack(">IIB", 2**32 - 1, 1, 1)))
    yield "long-chunk.png", lambda: png(9, 9, few)[:33] + b"\xff\xff\xff\xf0IDAT" + few
    yield "frames.png", lambda: png(9, 9, few, before=chunk(b"acTL", struct.pack(">II", 2**31, 0)))
    good = saved(picture("RGBA"), "PNG")
    yield from cut("lantern.png", good, [0.02, 0.1, 0.5, 0.9, 0.99])
    yield from changed("lantern.png", good, 12, keep=8)


def jpegs():
    good = saved(picture(), "JPEG", quality=90)
    frame = good.index(b"\xff\xc0")

    def sized(height, width, data=good):
        return data[: frame + 5] + struct.pack(">HH", height, width) + data[frame + 9 :]

    yield "claims-65535.jpg", lambda: sized(65535, 65535)
    yield "in-reach-10700.jpg", lambda: sized(10700, 10700)
    yield "tall.jpg", lambda: sized(65535, 1800)
    yield "no-height.jpg", lambda: sized(0, 97)
    large = picture(size=(400, 300)).resize((4000, 3000))
    many = saved(large, "JPEG", quality=20, progressive=True)
    scan = many.index(b"\xff\xda")
    end = many.index(b"\xff\xc4", scan) if b"\xff\xc4" in many[scan:] else len(many) - 2
    yield "many-scans.jpg", lambda: many[:scan] + many[scan:end] * 60 + b"\xff\xd9"
    deep = saved(picture(size=(64, 64)), "JPEG", progressive=True)
    at = deep.index(b"\xff\xc2")
    first = deep.index(b"\xff\xda")
    claims = deep[: at + 5] + struct.pack(">HH", 10000, 10000) + deep[at + 9 : first]
    yield "scans-that-claim.jpg", lambda: claims + (deep[first:][:40]) * 2000
    exif = b"Exif\0\0II*\0\x08\0\0\0" + struct.pack("<H", 1) + struct.pack("<HHII", 0x8769, 4, 1, 8) + struct.pack("<I", 8)
    yield "exif-circle.jpg", lambda: good[:2] + b"\xff\xe1" + struct.pack(">H", len(exif) + 2) + exif + good[2:]
    icc = b"ICC_PROFILE\0\xff\xff" + bytes(60000)
    yield "profile-parts.jpg", lambda: good[:2] + (b"\xff\xe2" + struct.pack(">H", len(icc) + 2) + icc) * 255 + good[2:]
    yield "many-marks.jpg", lambda: good[:2] + b"\xff\xfe\0\x02" * 500_000 + good[2:]
    yield "restarts.jpg", lambda: good[:frame] + b"\xff\xdd\0\x04\0\x01" + good[frame:]
    cmyk = saved(picture().convert("CMYK"), "JPEG")
    yield "no-adobe.jpg", lambda: cmyk.replace(b"Adobe", b"Adobf")
    yield from cut("lantern.jpg", good, [0.05, 0.3, 0.5, 0.7, 0.95])
    yield from changed("lantern.jpg", good, 12, keep=3)
    yield from changed("steps.jpg", many, 4, keep=3)


def tiff(entries, after=b"", then=0):
    """A little-endian TIFF with one directory of (tag, kind, count, value)."""
    out = b"II*\0\x08\0\0\0" + struct.pack("<H", len(entries))
    for tag, kind, count, value in entries:
        out += struct.pack("<HHII", tag, kind, count, value)
    return out + struct.pack("<I", then) + bytes(200 - len(out) - 4 if len(out) < 196 else 0) + after


def entries(width, height, strip=200, size=100, kind=1, bits=8, samples=1, rows=None, color=1):
    return [
        (256, 4, 1, width), (257, 4, 1, height), (258, 3, 1, bits), (259, 3, 1, kind), (262, 3, 1, color),
        (273, 4, 1, strip), (277, 3, 1, samples), (278, 4, 1, rows or height), (279, 4, 1, size),
    ]


def tiffs():
    few = zlib.compress(bytes(4000))
    yield "claims-60000.tif", lambda: tiff(entries(60000, 60000), bytes(100))
    yield "claims-2-32.tif", lambda: tiff(entries(2**32 - 1, 2**32 - 1), bytes(100))
    yield "in-reach-10700.tif", lambda: tiff(entries(10700, 10700), bytes(100))
    yield "in-reach-64bit.tif", lambda: tiff(entries(10700, 10700, bits=64), bytes(100))
    yield "in-reach-deflate.tif", lambda: tiff(entries(10700, 10700, kind=8, size=len(few)), few)
    bomb = zeros(1 << 30)
    yield "bomb-strip.tif", lambda: tiff(entries(64, 64, kind=8, size=len(bomb)), bomb)
    yield "tall-30m.tif", lambda: tiff(entries(1, 30_000_000), bytes(100))
    yield "wide-100m.tif", lambda: tiff(entries(100_000_000, 1), bytes(100))
    yield "tall-rows.tif", lambda: tiff(entries(1, 30_000_000, rows=1), bytes(100))
    yield "samples-65535.tif", lambda: tiff(entries(900, 900, samples=65535), bytes(100))
    yield "samples-many-deep.tif", lambda: tiff(entries(10700, 10700, samples=4, bits=32, color=2), bytes(100))
    yield "no-rows.tif", lambda: tiff(entries(900, 900)[:7] + [(278, 4, 1, 0), (279, 4, 1, 9)], bytes(100))
    yield "far-strip.tif", lambda: tiff(entries(90, 90, strip=2**32 - 2), bytes(100))
    yield "long-strip.tif", lambda: tiff(entries(90, 90, size=2**32 - 2), bytes(100))
    yield "many-strips.tif", lambda: tiff([e if e[0] not in (273, 279) else (e[0], 4, 2**30, 200) for e in entries(90, 90)], bytes(100))
    yield "long-words.tif", lambda: tiff(entries(90, 90) + [(305, 2, 2**31, 8)], bytes(100))
    yield "profile-2gb.tif", lambda: tiff(entries(90, 90) + [(34675, 7, 2**31, 8)], bytes(100))
    yield "circle.tif", lambda: tiff(entries(9, 9), bytes(100), then=8)
    pages = b"".join(struct.pack("<HHHIII", 1, 256, 4, 1, 9, 8 + 18 * (i + 1)) for i in range(200_000))
    yield "pages-200000.tif", lambda: b"II*\0\x08\0\0\0" + pages + bytes(6)
    tiles = [e for e in entries(900, 900) if e[0] not in (273, 278, 279)]
    tiled = tiles + [(322, 4, 1, 2**20), (323, 4, 1, 2**20), (324, 4, 1, 200), (325, 4, 1, 100)]
    yield "tile-2-20.tif", lambda: tiff(sorted(tiled), bytes(100))
    yield "tile-nothing.tif", lambda: tiff(sorted(tiles + [(322, 4, 1, 0), (323, 4, 1, 0), (324, 4, 1, 200), (325, 4, 1, 9)]), bytes(100))
    yield "big-claims.tif", lambda: b"II+\0\x08\0\0\0" + struct.pack("<QQ", 16, 2**62) + bytes(100)
    yield "fax.tif", lambda: tiff(entries(10700, 10700, kind=4, bits=1), bytes(100))
    yield "jpeg-inside.tif", lambda: tiff(entries(10700, 10700, kind=7), saved(picture("L"), "JPEG"))
    for way in ("tiff_lzw", "tiff_deflate", "packbits"):
        good = saved(picture(), "TIFF", compression=way)
        yield from cut(f"{way}.tif", good, [0.3, 0.8])
        yield from changed(f"{way}.tif", good, 4, keep=4)


def others():
    webp = saved(picture("RGBA"), "WEBP", lossless=True)
    yield "claims-16384.webp", lambda: webp[:21] + b"\xff\xff\xff\x0f" + webp[25:]
    lossy = saved(picture(), "WEBP", quality=60)
    at = lossy.index(b"\x9d\x01\x2a")
    yield "claims-16383.webp", lambda: lossy[: at + 3] + b"\xff\x3f\xff\x3f" + lossy[at + 7 :]
    yield "in-reach-10700.webp", lambda: lossy[: at + 3] + struct.pack("<HH", 10700, 10700) + lossy[at + 7 :]
    yield "long-part.webp", lambda: lossy[:16] + b"\xf0\xff\xff\xff" + lossy[20:]
    for name, good in (("lossless.webp", webp), ("lossy.webp", lossy)):
        yield from cut(name, good, [0.2, 0.6, 0.95])
        yield from changed(name, good, 5, keep=12)
    gif = saved(picture("P"), "GIF")
    yield "claims-65535.gif", lambda: gif[:6] + b"\xff\xff\xff\xff" + gif[10:]
    yield "in-reach-10700.gif", lambda: gif[:6] + struct.pack("<HH", 10700, 10700) + gif[10:]
    frame = gif[gif.index(b"\x2c\0\0\0\0") : -1]
    yield "frames-900.gif", lambda: gif[:-1] + frame * 900 + b";"
    head = gif[: gif.index(b"\x2c\0\0\0\0")]
    yield "data-without-end.gif", lambda: head + frame[:11] + b"\xff" + (b"\x44" * 255 + b"\xff") * 60_000
    yield from cut("palette.gif", gif, [0.2, 0.6, 0.95])
    yield from changed("palette.gif", gif, 6, keep=6)
    bmp = saved(picture(), "BMP")
    yield "claims-60000.bmp", lambda: bmp[:18] + struct.pack("<ii", 60000, 60000) + bmp[26:]
    yield "in-reach-10700.bmp", lambda: bmp[:18] + struct.pack("<ii", 10700, -10700) + bmp[26:]
    yield "least-height.bmp", lambda: bmp[:18] + struct.pack("<ii", 97, -(2**31)) + bmp[26:]
    yield "run-lengths.bmp", lambda: bmp[:18] + struct.pack("<iiHHI", 10700, 10700, 1, 8, 1) + bmp[34:]
    yield "masks.bmp", lambda: bmp[:28] + struct.pack("<HI", 32, 3) + bmp[34:]
    yield from cut("plain.bmp", bmp, [0.1, 0.6])
    yield from changed("plain.bmp", bmp, 5, keep=2)


def files():
    for make in (pngs, jpegs, tiffs, others):
        yield from make()
