"""Makes tests/reference/icc/*: small PNG files with embedded colour profiles, and icc.csv with the CIELAB (D50) that an
independent CMM, LittleCMS 2.14, reads from them (relative colorimetric, `transicc`, package liblcms2-utils).

Run from the project's top: python3 tests/reference/icc.py
"""
import random
import struct
import subprocess
import zlib
from pathlib import Path

HERE = Path(__file__).parent / "icc"
D50 = (0.9642, 1.0, 0.8249)
BRADFORD = ((0.8951, 0.2664, -0.1614), (-0.7502, 1.7135, 0.0367), (0.0389, -0.0685, 1.0296))


def mul(a, b):
    return [[sum(a[i][k] * b[k][j] for k in range(3)) for j in range(len(b[0]))] for i in range(3)]


def inv(m):
    (a, b, c), (d, e, f), (g, h, i) = m
    det = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)
    return [[(e * i - f * h) / det, (c * h - b * i) / det, (b * f - c * e) / det],
            [(f * g - d * i) / det, (a * i - c * g) / det, (c * d - a * f) / det],
            [(d * h - e * g) / det, (b * g - a * h) / det, (a * e - b * d) / det]]


def colorants(primaries, white):
    """XYZ of the primaries, adapted to D50."""
    col = [[x / y, 1.0, (1 - x - y) / y] for x, y in primaries]
    m = [list(r) for r in zip(*col)]
    w = [white[0] / white[1], 1.0, (1 - white[0] - white[1]) / white[1]]
    s = [r[0] for r in mul(inv(m), [[v] for v in w])]
    m = [[m[i][j] * s[j] for j in range(3)] for i in range(3)]
    cone = lambda v: [r[0] for r in mul(BRADFORD, [[x] for x in v])]
    scale = [a / b for a, b in zip(cone(D50), cone(w))]
    adapt = mul(inv(BRADFORD), mul([[scale[0], 0, 0], [0, scale[1], 0], [0, 0, scale[2]]], BRADFORD))
    return mul(adapt, m)


def s15(v):
    return struct.pack(">i", round(v * 65536))


def xyz_tag(v):
    return b"XYZ \0\0\0\0" + b"".join(s15(x) for x in v)


def curve_tag(f, n=1024):
    return b"curv\0\0\0\0" + struct.pack(">I", n) + b"".join(struct.pack(">H", round(65535 * f(i / (n - 1)))) for i in range(n))


def gamma_tag(g):
    return b"curv\0\0\0\0" + struct.pack(">IH", 1, round(g * 256)) + b"\0\0"


def desc_tag(name):
    text = name.encode() + b"\0"
    return b"desc\0\0\0\0" + struct.pack(">I", len(text)) + text + b"\0" * (4 + 4 + 2 + 1 + 67)


def profile(space, pcs, tags):
    """An ICC version 2.1 display profile."""
    body, table = b"", b""
    offset = 128 + 4 + 12 * len(tags)
    for sig, data in tags:
        data += b"\0" * (-len(data) % 4)
        table += sig + struct.pack(">II", offset + len(body), len(data))
        body += data
    rest = struct.pack(">I", len(tags)) + table + body
    head = struct.pack(">I4sI4s4s4s", 128 + len(rest), b"\0" * 4, 0x02100000, b"mntr", space, pcs)
    head += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + b"\0" * 28 + b"".join(s15(v) for v in D50)
    return head + b"\0" * (128 - len(head)) + rest


def rgb_profile(name, primaries, white, trc):
    m = colorants(primaries, white)
    col = [[m[i][j] for i in range(3)] for j in range(3)]
    tags = [(b"desc", desc_tag(name)), (b"cprt", b"text\0\0\0\0none\0"), (b"wtpt", xyz_tag(D50))]
    tags += [(s, xyz_tag(c)) for s, c in zip((b"rXYZ", b"gXYZ", b"bXYZ"), col)]
    tags += [(s, trc) for s in (b"rTRC", b"gTRC", b"bTRC")]
    return profile(b"RGB ", b"XYZ ", tags)


def table_profile(name):
    """A 16-bit table from RGB to CIELAB: a camera of gamma 2 on sRGB's primaries, on a 9 × 9 × 9 grid."""
    m = colorants(SRGB, D65)
    n = 9
    grid = b""
    f = lambda t: t ** (1 / 3) if t > 216 / 24389 else (24389 / 27 * t + 16) / 116
    for r in range(n):
        for g in range(n):
            for b in range(n):
                lin = [[(v / (n - 1)) ** 2] for v in (r, g, b)]
                x, y, z = (f(v[0] / w) for v, w in zip(mul(m, lin), D50))
                lab = (116 * y - 16, 500 * (x - y), 200 * (y - z))
                # ICC.1:2001 section 6.4.4.1: 100 is 0xff00, a and b are offset by 128 in steps of 1/256.
                grid += struct.pack(">3H", round(lab[0] / 100 * 0xFF00), round((lab[1] + 128) * 256), round((lab[2] + 128) * 256))
    line = struct.pack(">2H", 0, 65535)
    lut = b"mft2\0\0\0\0" + bytes([3, 3, n, 0]) + b"".join(s15(v) for v in (1, 0, 0, 0, 1, 0, 0, 0, 1))
    lut += struct.pack(">2H", 2, 2) + line * 3 + grid + line * 3
    return profile(b"RGB ", b"Lab ", [(b"desc", desc_tag(name)), (b"cprt", b"text\0\0\0\0none\0"), (b"wtpt", xyz_tag(D50)), (b"A2B0", lut)])


def png(pixels, side, depth, channels, icc):
    chunk = lambda kind, data: struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
    code = "B" if depth == 8 else ">H"
    rows = b""
    for y in range(side):
        rows += b"\0" + b"".join(struct.pack(code, v) for p in pixels[y * side:(y + 1) * side] for v in p)
    head = struct.pack(">IIBBBBB", side, side, depth, 2 if channels == 3 else 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"iCCP", b"icc\0\0" + zlib.compress(icc, 9)) + chunk(b"IDAT", zlib.compress(rows, 9)) + chunk(b"IEND", b"")


def read_by_cmm(icc, values):
    path = HERE / "profile.icc"
    path.write_bytes(icc)
    text = "\n".join(" ".join(f"{v:.6f}" for v in p) for p in values) + "\n"
    out = subprocess.run(["transicc", "-i" + str(path), "-o*Lab", "-t1", "-c0", "-n"], input=text, capture_output=True, text=True, check=True)
    path.unlink()
    rows = [list(map(float, line.split())) for line in out.stdout.splitlines() if line.strip()]
    assert len(rows) == len(values), (len(rows), len(values))
    return rows


def srgb_curve(v):
    return v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4


D65 = (0.3127, 0.3290)
SRGB = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
P3 = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))
ADOBE = ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06))

PROFILES = {
    "srgb": (rgb_profile("sRGB", SRGB, D65, curve_tag(srgb_curve)), 3),
    "display-p3": (rgb_profile("Display P3", P3, D65, curve_tag(srgb_curve)), 3),
    "adobe-rgb": (rgb_profile("Adobe RGB", ADOBE, D65, gamma_tag(563 / 256)), 3),
    "grey": (profile(b"GRAY", b"XYZ ", [(b"desc", desc_tag("Grey 2.2")), (b"cprt", b"text\0\0\0\0none\0"), (b"wtpt", xyz_tag(D50)), (b"kTRC", gamma_tag(2.2))]), 1),
    "table": (table_profile("Table"), 3),
}

if __name__ == "__main__":
    HERE.mkdir(exist_ok=True)
    side = 16
    rows = ["# CIELAB (D50) of pixels of the PNG files beside, as LittleCMS 2.14 reads them; made by icc.py", "file,x,y,l,a,b"]
    for name, (icc, channels) in PROFILES.items():
        for depth in (8, 16):
            rng = random.Random(f"{name}{depth}")
            top = 255 if depth == 8 else 65535
            # The table is compared inside sRGB, to which it is cut off.
            low, high = (0.25, 0.75) if name == "table" else (0.0, 1.0)
            pixels = [[round(top * rng.uniform(low, high)) for _ in range(channels)] for _ in range(side * side)]
            (HERE / f"{name}-{depth}.png").write_bytes(png(pixels, side, depth, channels, icc))
            chosen = rng.sample(range(side * side), 24)
            for i, lab in zip(chosen, read_by_cmm(icc, [[v * 255 / top for v in pixels[i]] for i in chosen])):
                rows.append(f"{name}-{depth}.png,{i % side},{i // side}," + ",".join(f"{v:.4f}" for v in lab))
    (HERE / "icc.csv").write_text("\n".join(rows) + "\n")
