"""Hostile drawings: SVG and PDF that nest without end, ask for memory without end, run for ever, or
reach for what is outside them."""

import base64
import zlib

from damage import changed, cut
from pictures import chunk, png, repeated, zeros


def pdf(content, resources="", objects=(), box="0 0 144 144", pages=1, packed=None, page=""):
    """A PDF of one content stream; `objects` are numbered from 5."""
    data = packed if packed is not None else content.encode("latin-1")
    way = "/Filter/FlateDecode" if packed is not None else ""
    kids = "4 0 R " * pages
    bodies = [
        b"<</Type/Catalog/Pages 2 0 R>>",
        f"<</Type/Pages/Count {pages}/Kids[{kids}]>>".encode(),
        f"<</Length {len(data)}{way}>>stream\n".encode() + data + b"\nendstream",
        f"<</Type/Page/Parent 2 0 R/MediaBox[{box}]/Contents 3 0 R/Resources<<{resources}>>{page}>>".encode(),
    ]
    bodies += [body if isinstance(body, bytes) else body.encode("latin-1") for body in objects]
    out, places = b"%PDF-1.7\n", []
    for number, body in enumerate(bodies, 1):
        places.append(len(out))
        out += b"%d 0 obj\n" % number + body + b"\nendobj\n"
    table = b"xref\n0 %d\n0000000000 65535 f \n" % (len(bodies) + 1)
    table += b"".join(b"%010d 00000 n \n" % place for place in places)
    return out + table + b"trailer<</Size %d/Root 1 0 R>>\nstartxref\n%d\n%%%%EOF" % (len(bodies) + 1, len(out))


def image(width, height, extra, data=b"", space="/DeviceRGB", bits=8):
    head = f"<</Type/XObject/Subtype/Image/Width {width}/Height {height}/ColorSpace{space}/BitsPerComponent {bits}{extra}"
    return head.encode() + b"/Length %d>>stream\n" % len(data) + data + b"\nendstream"


def stream(head, data):
    data = data if isinstance(data, bytes) else data.encode("latin-1")
    return f"<<{head}/Length {len(data)}>>stream\n".encode() + data + b"\nendstream"


SHOW = "q 144 0 0 144 0 0 cm /X Do Q"
X = "/XObject<</X 5 0 R>>"


def pdf_memory():
    fax = "/Filter/CCITTFaxDecode/DecodeParms<</K -1/Columns 2147483647/Rows 2147483647>>"
    yield "fax-columns.pdf", lambda: pdf(SHOW, X, [image(9, 9, fax, b"\x26\xa0" * 20, "/DeviceGray", 1)])
    wide = "/Filter/CCITTFaxDecode/DecodeParms<</K -1/Columns 60000/Rows 60000>>"
    yield "fax-60000.pdf", lambda: pdf(SHOW, X, [image(60000, 60000, wide, b"\x26\xa0" * 200, "/DeviceGray", 1)])
    yield "image-60000-1bit.pdf", lambda: pdf(SHOW, X, [image(60000, 60000, "/Filter/FlateDecode", zeros(60000 * 7500), "/DeviceGray", 1)])
    yield "image-60000-empty.pdf", lambda: pdf(SHOW, X, [image(60000, 60000, "", b"1234")])
    yield "image-2-31.pdf", lambda: pdf(SHOW, X, [image(2**31 - 1, 2**31 - 1, "", b"1234")])
    yield "image-in-reach.pdf", lambda: pdf(SHOW, X, [image(20000, 20000, "/Filter/FlateDecode", zeros(20000 * 60000))])
    yield "mask-60000.pdf", lambda: pdf(SHOW, X, [image(9, 9, "/SMask 6 0 R", bytes(243)), image(60000, 60000, "", b"1", "/DeviceGray")])
    inline = "q 144 0 0 144 0 0 cm BI /W 60000 /H 60000 /CS /RGB /BPC 8 ID 1234 EI Q"
    yield "inline-60000.pdf", lambda: pdf(inline)
    yield "inline-65535-1bit.pdf", lambda: pdf(inline.replace("60000", "65535").replace("/BPC 8", "/BPC 1"))
    yield "inline-many.pdf", lambda: pdf("q 144 0 0 144 0 0 cm BI /W 6000 /H 6000 /CS /RGB /BPC 8 ID 1234 EI Q\n" * 60)
    yield "content-bomb.pdf", lambda: pdf("", packed=repeated(b"0 0 m 9 9 l S\n", 20_000_000))
    yield "content-bomb-path.pdf", lambda: pdf("", packed=repeated(b"1 2 3 4 5 6 c ", 20_000_000, b"0 0 m ", b"S"))
    yield "content-bomb-save.pdf", lambda: pdf("", packed=repeated(b"q ", 30_000_000))
    yield "dashes.pdf", lambda: pdf("[0.000001 0.000001] 0 d 3 w 0 0 m 144 144 l S " * 40)
    yield "dashes-one.pdf", lambda: pdf("[0.00001] 0 d 9 w 0 72 m 144 72 l S")
    shading = "/Shading<</S<</ShadingType %s/ColorSpace/DeviceRGB %s>>>>"
    smooth = "/Function<</FunctionType 2/Domain[0 1]/C0[1 0 0]/C1[0 0 1]/N 1>>"
    yield "shadings.pdf", lambda: pdf("/S sh " * 20_000, shading % ("2/Coords[0 0 144 144]", smooth))
    yield "shadings-radial.pdf", lambda: pdf("/S sh " * 2000, shading % ("3/Coords[0 0 0 144 144 9]/Extend[true true]", smooth))
    mesh = "/ShadingType 4/ColorSpace/DeviceRGB/BitsPerCoordinate 8/BitsPerComponent 8/BitsPerFlag 8/Decode[0 144 0 144 0 1 0 1 0 1]"
    data = repeated(bytes(range(256)), 200_000)
    yield "mesh.pdf", lambda: pdf("/S sh", "/Shading<</S 5 0 R>>", [stream(mesh + "/Filter/FlateDecode", data)])
    sampled = "/FunctionType 0/Domain[0 1 0 1 0 1 0 1]/Range[0 1 0 1 0 1]/Size[999 999 999 999]/BitsPerSample 8"
    yield "function-samples.pdf", lambda: pdf("/C cs 1 1 1 1 sc 0 0 99 99 re f", "/ColorSpace<</C[/DeviceN[/A/B/C/D]/DeviceRGB 5 0 R]>>", [stream(sampled, b"1")])
    filters = "[" + "/FlateDecode" * 6 + "]"
    data = zeros(1 << 30)
    for _ in range(3):
        data = zlib.compress(data, 9)
    yield "filters.pdf", lambda: pdf(SHOW, X, [image(9, 9, "/Filter[/FlateDecode/FlateDecode/FlateDecode/FlateDecode]", data)])
    yield "filters-none.pdf", lambda: pdf(SHOW, X, [image(9, 9, f"/Filter{filters}", zlib.compress(b"1"))])
    yield "predictor.pdf", lambda: pdf(SHOW, X, [image(9, 9, "/Filter/FlateDecode/DecodeParms<</Predictor 15/Columns 2147483647/Colors 32/BitsPerComponent 16>>", zlib.compress(bytes(99)))])
    yield "runs.pdf", lambda: pdf(SHOW, X, [image(9, 9, "/Filter[/FlateDecode/RunLengthDecode]", zlib.compress(b"\x81\0" * 10_000_000, 9))])
    jbig = b"\0\0\0\0\x30\0\x01\0\0\0\x13" + b"\xff\xff\xff\xf0" * 2 + bytes(11)
    yield "jbig2-page.pdf", lambda: pdf(SHOW, X, [image(9, 9, "/Filter/JBIG2Decode", jbig, "/DeviceGray", 1)])
    j2k = bytes.fromhex("ff4fff510029") + b"\0\0" + b"\x7f\xff\xff\xff" * 2 + bytes(8) + b"\x7f\xff\xff\xff" * 2 + bytes(8) + b"\0\x01\x07\x01\x01"
    yield "jpx-claims.pdf", lambda: pdf(SHOW, X, [image(9, 9, "/Filter/JPXDecode", j2k)])
    yield "pattern.pdf", lambda: pdf("/Pattern cs /P scn 0 0 144 144 re f", "/Pattern<</P 5 0 R>>", [stream("/PatternType 1/PaintType 1/TilingType 1/BBox[0 0 1 1]/XStep 0.0001/YStep 0.0001/Resources<<>>", "0 0 1 1 re f")])
    yield "pattern-large.pdf", lambda: pdf("/Pattern cs /P scn 0 0 144 144 re f", "/Pattern<</P 5 0 R>>", [stream("/PatternType 1/PaintType 1/TilingType 1/BBox[0 0 1e9 1e9]/XStep 1e9/YStep 1e9/Resources<<>>", "0 0 1 1 re f")])


def pdf_depth():
    braces = "{" * 300_000 + "}" * 300_000
    calculator = "/FunctionType 4/Domain[0 1]/Range[0 1 0 1 0 1]"
    tint = "/ColorSpace<</C[/Separation/A/DeviceRGB 5 0 R]>>"
    yield "braces.pdf", lambda: pdf("/C cs 1 sc 0 0 99 99 re f", tint, [stream(calculator, braces)])
    yield "calculator-long.pdf", lambda: pdf("/C cs 1 sc 0 0 99 99 re f", tint, [stream(calculator, "{" + "dup " * 2_000_000 + "}")])
    yield "arrays.pdf", lambda: pdf("[" * 300_000 + "]" * 300_000 + " 0 d 0 0 m 9 9 l S")
    yield "dictionaries.pdf", lambda: pdf("/A " + "<</A " * 200_000 + "1" + ">>" * 200_000 + " BDC 0 0 9 9 re f EMC")
    yield "arrays-page.pdf", lambda: pdf("0 0 9 9 re f", page="/B" + "[" * 200_000 + "]" * 200_000)
    yield "form-itself.pdf", lambda: pdf("/X Do", X, [stream("/Type/XObject/Subtype/Form/BBox[0 0 144 144]/Resources<</XObject<</X 5 0 R>>>>", "/X Do /X Do")])
    chain = [stream(f"/Type/XObject/Subtype/Form/BBox[0 0 144 144]/Resources<</XObject<</X {i + 6} 0 R>>>>", "/X Do") for i in range(20_000)]
    yield "forms-20000.pdf", lambda: pdf("/X Do", X, chain)
    groups = [stream(f"/Type/XObject/Subtype/Form/Group<</S/Transparency/I true>>/BBox[0 0 144 144]/Resources<</XObject<</X {i + 6} 0 R>>>>", "0 0 99 99 re f /X Do") for i in range(300)]
    yield "groups-300.pdf", lambda: pdf("/G gs /X Do", X + "/ExtGState<</G<</ca 0.5>>>>", groups)
    doubling = [stream(f"/Type/XObject/Subtype/Form/BBox[0 0 144 144]/Resources<</XObject<</X {i + 6} 0 R>>>>", "/X Do " * 10) for i in range(12)]
    yield "forms-doubling.pdf", lambda: pdf("/X Do", X, doubling + [stream("/Type/XObject/Subtype/Form/BBox[0 0 9 9]", "0 0 9 9 re f")])
    soft = []
    for i in range(400):
        soft.append(stream(f"/Type/XObject/Subtype/Form/Group<</S/Transparency>>/BBox[0 0 144 144]/Resources<</ExtGState<</G<</SMask<</S/Alpha/G {i + 6} 0 R>>>>>>>>", "/G gs 0 0 99 99 re f"))
    yield "masks-400.pdf", lambda: pdf("/G gs 0 0 99 99 re f", "/ExtGState<</G<</SMask<</S/Alpha/G 5 0 R>>>>>>", soft)
    yield "pages-itself.pdf", lambda: pdf("").replace(b"/Kids[4 0 R ]", b"/Kids[2 0 R ]")
    yield "pages-100000.pdf", lambda: pdf("0 0 9 9 re f", pages=100_000)
    yield "length-itself.pdf", lambda: pdf("0 0 9 9 re f").replace(b"/Length 12>>", b"/Length 3 0 R>>")
    yield "space-itself.pdf", lambda: pdf("/C cs 1 sc 0 0 9 9 re f", "/ColorSpace<</C 5 0 R>>", ["[/Indexed 5 0 R 1 <0000>]"])
    yield "function-itself.pdf", lambda: pdf("/C cs 1 sc 0 0 9 9 re f", tint, ["<</FunctionType 3/Domain[0 1]/Functions[5 0 R 5 0 R]/Bounds[0.5]/Encode[0 1 0 1]>>"])
    yield "type3-itself.pdf", lambda: pdf("BT /F 9 Tf (aaaa) Tj ET", "/Font<</F 5 0 R>>", ["<</Type/Font/Subtype/Type3/FontBBox[0 0 9 9]/FontMatrix[1 0 0 1 0 0]/CharProcs<</a 6 0 R>>/Encoding<</Differences[97/a]>>/FirstChar 97/LastChar 97/Widths[9]/Resources<</Font<</F 5 0 R>>>>>>", stream("", "9 0 d0 BT /F 9 Tf (aaaa) Tj ET")])
    yield "text-200000.pdf", lambda: pdf("BT /F 9 Tf " + "(Heron) Tj " * 200_000 + "ET", "/Font<</F<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>>>")
    yield "box-huge.pdf", lambda: pdf("0 0 9 9 re f", box="0 0 1e30 1e30")
    yield "box-thin.pdf", lambda: pdf("0 0 9 9 re f", box="0 0 0.00001 900000")
    yield "box-nothing.pdf", lambda: pdf("0 0 9 9 re f", box="9 9 9 9")
    url = "http://127.0.0.1:9/lantern.jpg"
    yield "outside.pdf", lambda: pdf(SHOW, X, [image(9, 9, f"/F<</FS/URL/F({url})>>")], page=f"/AA<</O<</S/Launch/F(/etc/passwd)>>>>/Annots[<</Subtype/Link/A<</S/URI/URI({url})>>>>]")
    good = pdf("0.2 0.4 0.6 rg 0 0 72 144 re f 1 0 0 RG 3 w 0 0 m 9 1 l 1 2 3 4 5 6 c S", box="0 0 400 4")
    yield from cut("lantern.pdf", good, [0.1, 0.4, 0.6, 0.9])
    yield from changed("lantern.pdf", good, 8, keep=8)


def svg(body, size='width="96" height="96"'):
    head = f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" {size}>'
    return (head + body + "</svg>").encode()


def svg_depth():
    def chain(element, attribute, count=50_000, inner='<rect width="90" height="90"/>'):
        parts = [f'<{element} id="c{i}" {attribute}="url(#c{i + 1})">{inner}</{element}>' for i in range(count)]
        return svg(f'<defs>{"".join(parts)}</defs><rect width="90" height="90" {attribute}="url(#c0)"/>')

    yield "clip-paths-50000.svg", lambda: chain("clipPath", "clip-path")
    yield "masks-50000.svg", lambda: chain("mask", "mask")
    yield "masks-60.svg", lambda: chain("mask", "mask", 60)
    gradients = "".join(f'<linearGradient id="c{i}" href="#c{i + 1}"/>' for i in range(50_000))
    yield "gradients-50000.svg", lambda: svg(f'<defs>{gradients}</defs><rect width="9" height="9" fill="url(#c0)"/>')
    patterns = "".join(f'<pattern id="c{i}" width="9" height="9" patternUnits="userSpaceOnUse"><rect width="9" height="9" fill="url(#c{i + 1})"/></pattern>' for i in range(20_000))
    yield "patterns-20000.svg", lambda: svg(f'<defs>{patterns}</defs><rect width="96" height="96" fill="url(#c0)"/>')
    uses = "".join(f'<g id="c{i}"><use href="#c{i + 1}"/></g>' for i in range(20_000))
    yield "uses-20000.svg", lambda: svg(f'<defs>{uses}<g id="c20000"/></defs><use href="#c0"/>')
    yield "groups-90000.svg", lambda: svg("<g>" * 90_000 + "</g>" * 90_000)
    yield "groups-190.svg", lambda: svg('<g opacity="0.5">' * 190 + '<rect width="96" height="96"/>' + "</g>" * 190)
    yield "itself.svg", lambda: svg('<g id="a"><use href="#a"/></g><clipPath id="b" clip-path="url(#b)"><rect width="9" height="9"/></clipPath><rect width="9" height="9" clip-path="url(#b)"/>')
    levels = "".join(f'<g id="a{i}">{f"""<use href="#a{i - 1}"/>""" * 10}</g>' for i in range(1, 11))
    yield "uses-ten-by-ten.svg", lambda: svg(f'<rect id="a0" width="1" height="1"/>{levels}')
    laughs = "".join(f"<!ENTITY a{i} '{f'&a{i - 1};' * 10}'>" for i in range(1, 10))
    yield "entities.svg", lambda: f"<!DOCTYPE svg [<!ENTITY a0 'ha'>{laughs}]>".encode() + svg("<text>&a9;</text>")
    yield "switch-deep.svg", lambda: svg("<switch>" * 150 + '<rect width="9" height="9"/>' + "</switch>" * 150)
    yield "styles.svg", lambda: svg("<style>" + "rect{fill:red}" * 100_000 + "</style>" + "<rect/>" * 2000)
    yield "parentheses.svg", lambda: svg(f'<rect width="9" height="9" transform="{"translate(" * 100_000}"/>')


def svg_memory():
    def data(bytes_):
        return "data:image/png;base64," + base64.b64encode(bytes_).decode()

    few = zlib.compress(bytes(4000))
    yield "png-60000.svg", lambda: svg(f'<image width="96" height="96" href="{data(png(60000, 60000, few))}"/>')
    yield "png-1bit-60000.svg", lambda: svg(f'<image width="96" height="96" href="{data(png(60000, 60000, zeros(7501 * 60000), depth=1, color=0))}"/>')
    yield "png-20000.svg", lambda: svg(f'<image width="96" height="96" href="{data(png(20000, 20000, zeros(60001 * 20000)))}"/>')
    yield "png-9000-four.svg", lambda: svg(f'<image width="96" height="96" href="{data(png(9000, 9000, zeros(27001 * 9000)))}"/>' * 4)
    yield "png-profile.svg", lambda: svg(f'<image width="9" height="9" href="{data(png(9, 9, few, before=chunk(b"iCCP", b"x" + bytes(2) + zeros(1 << 30))))}"/>')
    nested = svg('<rect width="96" height="96"/>')
    for _ in range(12):
        nested = svg(f'<image width="96" height="96" href="data:image/svg+xml;base64,{base64.b64encode(nested).decode()}"/>')
    yield "svg-in-svg.svg", lambda: nested
    yield "blur.svg", lambda: svg('<filter id="f"><feGaussianBlur stdDeviation="9999"/></filter><rect width="96" height="96" filter="url(#f)"/>')
    yield "filters-400.svg", lambda: svg('<filter id="f" x="-9" y="-9" width="19" height="19"><feGaussianBlur stdDeviation="3"/><feMorphology radius="40"/></filter>' + '<rect width="96" height="96" filter="url(#f)"/>' * 400)
    yield "results-900.svg", lambda: svg("<filter id='f'>" + "".join(f"<feFlood flood-color='red' result='r{i}'/>" for i in range(900)) + "<feMerge>" + "".join(f"<feMergeNode in='r{i}'/>" for i in range(900)) + "</feMerge></filter><rect width='96' height='96' filter='url(#f)'/>")
    yield "turbulence.svg", lambda: svg('<filter id="f"><feTurbulence baseFrequency="0.9" numOctaves="99999"/></filter><rect width="96" height="96" filter="url(#f)"/>')
    yield "convolve.svg", lambda: svg(f'<filter id="f"><feConvolveMatrix order="99" kernelMatrix="{"1 " * 9801}"/></filter><rect width="96" height="96" filter="url(#f)"/>')
    yield "morphology.svg", lambda: svg('<filter id="f"><feMorphology operator="dilate" radius="9000"/></filter><rect width="96" height="96" filter="url(#f)"/>')
    yield "dashes.svg", lambda: svg('<path d="M0 48H96" stroke="red" stroke-dasharray="0.000001" stroke-width="9"/>')
    yield "dashes-many.svg", lambda: svg('<path d="M0 0L96 96" stroke="red" stroke-dasharray="0.0001 0.0001"/>' * 300)
    yield "curves.svg", lambda: svg(f'<path d="M0 0{"C 1 2 90 4 5 96 " * 400_000}" stroke="red" fill="none"/>')
    yield "pattern-small.svg", lambda: svg('<pattern id="p" width="0.0001" height="0.0001" patternUnits="userSpaceOnUse"><rect width="1" height="1"/></pattern><rect width="96" height="96" fill="url(#p)"/>')
    yield "pattern-large.svg", lambda: svg('<pattern id="p" width="90000" height="90000" patternUnits="userSpaceOnUse"><rect width="90000" height="9"/></pattern><rect width="96" height="96" fill="url(#p)"/>')
    yield "parts-million.svg", lambda: svg('<rect width="1" height="1"/>' * 1_200_000)
    yield "text-long.svg", lambda: svg(f'<text y="40" font-size="2">{"Heron and lantern " * 60_000}</text>')
    yield "letters-unknown.svg", lambda: svg(f'<text y="40">{"".join(chr(0x10000 + i * 7) for i in range(3000))}</text>')
    yield "size-huge.svg", lambda: svg('<rect width="9" height="9"/>', 'width="1e30" height="1e30"')
    yield "size-thin.svg", lambda: svg('<rect width="9" height="9"/>', 'width="0.000001" height="900000"')
    yield "size-not-a-number.svg", lambda: svg('<rect width="9" height="9"/>', 'width="NaN" height="-1"')
    yield "outside.svg", lambda: b'<!DOCTYPE svg [<!ENTITY own SYSTEM "file:///etc/passwd">]>' + svg('<image width="9" height="9" href="file:///etc/passwd.png"/><image width="9" height="9" href="http://127.0.0.1:9/a.png"/><use href="/etc/passwd#a"/>')
    good = svg('<linearGradient id="g"><stop offset="0" stop-color="red"/><stop offset="1"/></linearGradient><rect width="90" height="2" fill="url(#g)"/><text x="3" y="2">ab</text>', 'width="400" height="4"')
    yield from cut("lantern.svg", good, [0.2, 0.5, 0.9])
    yield from changed("lantern.svg", good, 6, keep=40)


def files():
    for make in (pdf_memory, pdf_depth, svg_depth, svg_memory):
        yield from make()
