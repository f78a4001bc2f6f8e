"""Colour profiles made from published primaries, and what their colours are in sRGB.

Primaries and curves: Display P3 (SMPTE EG 432-1 primaries, D65, the curve of IEC 61966-2-1),
Adobe RGB (1998) encoding (section 4.3: primaries, D65, gamma 563/256), sRGB (IEC 61966-2-1). The
profile's layout: ICC.1:2010, sections 7, 8.3, 10.5, 10.18; white is adapted to D50 by Bradford's
matrix, as its annex E asks. The expected sRGB values come from these matrices alone.
"""

import struct

import numpy as np

D65, D50 = (0.3127, 0.3290), np.array([0.9642, 1.0, 0.8249])
SRGB = ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060))
DISPLAY_P3 = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))
ADOBE_RGB = ((0.640, 0.330), (0.210, 0.710), (0.150, 0.060))
ADOBE_GAMMA = 563 / 256
BRADFORD = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)


def xyz(xy):
    x, y = xy
    return np.array([x / y, 1.0, (1 - x - y) / y])


def to_xyz(primaries):
    """The matrix from linear red, green, blue to XYZ under D65."""
    columns = np.column_stack([xyz(p) for p in primaries])
    return columns * np.linalg.solve(columns, xyz(D65))


def srgb_light(values):
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def srgb_signal(light):
    light = np.clip(light, 0.0, 1.0)
    return np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)


def in_srgb(colour, primaries, gamma=None):
    """8-bit sRGB of an 8-bit colour in another space; what sRGB cannot hold is cut."""
    signal = np.asarray(colour, float) / 255.0
    light = signal**gamma if gamma else srgb_light(signal)
    return 255.0 * srgb_signal(np.linalg.solve(to_xyz(SRGB), to_xyz(primaries) @ light))


def profile(primaries, gamma=None, name=b"made for a test"):
    """An ICC profile of version 2 with a matrix and one curve for all three."""
    adapt = np.diag((BRADFORD @ D50) / (BRADFORD @ xyz(D65)))
    columns = np.linalg.solve(BRADFORD, adapt @ BRADFORD) @ to_xyz(primaries)
    if gamma:
        curve = b"curv" + struct.pack(">4xIH", 1, round(gamma * 256))
    else:
        steps = np.round(65535 * srgb_light(np.linspace(0, 1, 1024))).astype(int)
        curve = b"curv" + struct.pack(f">4xI{steps.size}H", steps.size, *steps)
    text = b"desc" + struct.pack(">4xI", len(name) + 1) + name + b"\0" + b"\0" * 78
    parts = [(b"desc", text), (b"cprt", b"text\0\0\0\0none\0"), (b"wtpt", _xyz(D50))]
    parts += [(t, _xyz(c)) for t, c in zip((b"rXYZ", b"gXYZ", b"bXYZ"), columns.T, strict=True)]
    parts += [(tag, curve) for tag in (b"rTRC", b"gTRC", b"bTRC")]
    table, body, at = b"", b"", 128 + 4 + 12 * len(parts)
    for tag, content in parts:
        padded = content + b"\0" * (-len(content) % 4)
        table += struct.pack(">4sII", tag, at + len(body), len(content))
        body += padded
    head = struct.pack(
        ">I4xI4s4s4s12x4s4x4x4x4x8xI", at + len(body), 0x02100000, b"mntr", b"RGB ", b"XYZ ",
        b"acsp", 0,
    )  # fmt: skip
    head = head[:68] + b"".join(_fixed(v) for v in D50) + b"\0" * 48
    return head + struct.pack(">I", len(parts)) + table + body


def _fixed(value):
    return struct.pack(">i", round(value * 65536))


def _xyz(values):
    return b"XYZ \0\0\0\0" + b"".join(_fixed(v) for v in values)
