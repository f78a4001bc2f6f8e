"""Files sent with intent: made here from nothing, the same ones each time, over 2,000 of them.

Each is (kind, name, bytes). They are small; what they claim to be is not.
"""

import bz2
import gzip
import io
import lzma
import random
import struct
import tarfile
import zipfile
import zlib

from PIL import Image

MARKER = b"HOSTILE-PAYLOAD"
SCRIPT = b"<script>fetch('/me/?" + MARKER + b"')</script>"
PAYLOADS = {
    "html": b"<!doctype html><html><body>" + SCRIPT + b"</body></html>",
    "svg": b'<svg xmlns="http://www.w3.org/2000/svg">' + SCRIPT + b"</svg>",
    "xxe": b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]><x>&e;'
    + MARKER
    + b"</x>",
    "php": b"<?php system($_GET['" + MARKER + b"']); ?>",
    "js": b"/*" + MARKER + b"*/alert(1)",
    "sh": b"#!/bin/sh\necho " + MARKER + b"\n",
    "pdf": b"%PDF-1.7\n1 0 obj<</OpenAction<</S/JavaScript/JS(" + MARKER + b")>>>>endobj\n%%EOF",
    "elf": b"\x7fELF\x02\x01\x01" + bytes(9) + MARKER,
    "exe": b"MZ\x90\x00" + bytes(56) + MARKER,
    "swf": b"FWS\x0a" + struct.pack("<I", 64) + MARKER,
    "mp4": b"\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00mp42isom" + MARKER,
    "gif": b"GIF89a\x01\x00\x01\x00\x80\x00\x00" + MARKER + b";",
    "bmp": b"BM" + struct.pack("<I", 70) + bytes(4) + struct.pack("<I", 54) + MARKER,
    "ps": b"%!PS-Adobe-3.0\n(" + MARKER + b") run\n",
    "pickle": b"cos\nsystem\n(S'" + MARKER + b"'\ntR.",
    "csv": b"=cmd|' /C calc'!A0," + MARKER + b"\n",
}
ENDINGS = ["jpg", "jpeg", "JPG", "png", "tif", "heic", "dng", "nef", "cr3", "webp"] + [
    "html", "svg", "php", "exe", "zip", "jpg.php", "php.jpg", "jpg%00.php", "jpg;.asp", "",
]  # fmt: skip
NAMES = [
    "../../../../etc/passwd", "..\\..\\windows\\win.ini", "/etc/cron.d/x", "C:\\x.jpg", "~/x.jpg",
    "x.jpg\x00.php", "\u202egpj.exe", "CON.jpg", "nul", ".", "..", "", " ", "-rf.jpg", "--help",
    "$(id).jpg", "`id`.jpg", "x.jpg; rm -rf .", "x|y.jpg", "x\r\nSet-Cookie: a=b.jpg",
    'x".jpg', "x'.jpg", "<script>alert(1)</script>.jpg", "{{7*7}}.jpg", "${7*7}.jpg", "%2e%2e%2fx",
    "a" * 300 + ".jpg", "\u00fc" * 200, "\U0001f98b.jpg", "x.jpg/", "//host/share.jpg", "x\ty.jpg",
    "file:///etc/passwd", "http://192.0.2.1/x.jpg", "x.jpg:stream", ".htaccess", ".git/config",
    "originals/1/aa/x", "shown/1/1/screen.jpg", "SHA256SUMS", "\ufeffx.jpg", "x\u0000", "LPT1.png",
]  # fmt: skip


def picture(kind, size=(48, 32), seed=0, **options):
    out = io.BytesIO()
    noise = random.Random(seed).randbytes(size[0] * size[1] * 3)
    Image.frombytes("RGB", size, noise).save(out, kind, **options)
    return out.getvalue()


def every_file():
    """Yield all of them."""
    made = (polyglots, foreign, archives, bombs, bad_exif, mutated_exif, cut_short, flipped)
    for kind in (*made, named, tiny):
        for name, data in kind():
            yield kind.__name__, name, data


def hosts():
    """Yield real pictures of the kinds that Pillow writes."""
    for kind, ending in (("JPEG", "jpg"), ("PNG", "png"), ("TIFF", "tif"), ("WEBP", "webp")):
        yield kind, ending, picture(kind)


def polyglots():
    for kind, ending, host in hosts():
        for what, payload in PAYLOADS.items():
            yield f"behind-{what}.{ending}", host + payload
            yield f"before-{what}.{ending}", payload + host
            middle = len(host) // 2
            yield f"inside-{what}.{ending}", host[:middle] + payload + host[middle:]
            if kind == "JPEG":
                yield f"comment-{what}.jpg", picture("JPEG", comment=payload)
                yield f"exif-{what}.jpg", picture("JPEG", exif=exif({0x010E: payload}))
                for app in (0xE1, 0xE2, 0xED, 0xEE):
                    segment = bytes([0xFF, app]) + struct.pack(">H", len(payload) + 2) + payload
                    yield f"app{app:x}-{what}.jpg", host[:2] + segment + host[2:]
            if kind == "PNG":
                for chunk in (b"tEXt", b"iTXt", b"zTXt", b"eXIf", b"iCCP"):
                    yield f"{chunk.decode()}-{what}.png", png_with(host, chunk, payload)


def png_with(host, chunk, payload):
    body = chunk + payload
    made = struct.pack(">I", len(payload)) + body + struct.pack(">I", zlib.crc32(body))
    return host[:33] + made + host[33:]  # behind IHDR


def foreign():
    """Things that are no picture under every ending, and pictures under the endings of others."""
    for what, payload in PAYLOADS.items():
        for ending in ENDINGS:
            yield f"{what}.{ending}", payload
    for kind, _, host in hosts():
        for ending in ENDINGS:
            yield f"real-{kind}.{ending}", host


def archives():
    for name, data in archive_bytes():
        for ending in ("zip", "jpg", "png", "dng", "heic", "cr3", "tif"):
            yield f"{name}.{ending}", data
        yield f"jpeg-and-{name}.jpg", picture("JPEG") + data


def archive_bytes():
    inside = picture("JPEG")
    for name in ("x.jpg", "../../x.jpg", "/etc/x.jpg", "a/" * 200 + "x.jpg"):
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
            made.writestr(zipfile.ZipInfo(name), inside)
        yield f"zip-{len(name)}", out.getvalue()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        link = zipfile.ZipInfo("link.jpg")
        link.external_attr = 0o120777 << 16
        made.writestr(link, "/etc/passwd")
        made.writestr(zipfile.ZipInfo("bomb"), bytes(500_000))
    yield "zip-symlink-bomb", out.getvalue()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        for k in range(2000):
            made.writestr(zipfile.ZipInfo(f"{k}"), b"")
    yield "zip-many", out.getvalue()
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w") as made:
        entry = tarfile.TarInfo("../../x.jpg")
        entry.size = len(inside)
        made.addfile(entry, io.BytesIO(inside))
    yield "tar-slip", out.getvalue()
    yield "gzip", gzip.compress(bytes(3_000_000), mtime=0)
    yield "bzip2", bz2.compress(bytes(3_000_000))
    yield "xz", lzma.compress(bytes(3_000_000))
    yield "7z", b"7z\xbc\xaf\x27\x1c" + bytes(40)
    yield "rar", b"Rar!\x1a\x07\x01\x00" + bytes(40)


def bombs():
    """Little that says it is much."""
    for side in (20_000, 65_535, 100_000, 2**20, 2**31 - 1):
        yield f"png-says-{side}.png", png_saying(side, side, zlib.compress(bytes(1000)))
        yield f"png-strip-{side}.png", png_saying(side, 1, zlib.compress(bytes(1000)))
        yield f"tiff-says-{side}.tif", tiff_saying(min(side, 2**31 - 1))
        yield f"webp-says-{side}.webp", webp_saying(min(side, 2**24))
    for side in (30_000, 65_535):
        yield f"jpeg-says-{side}.jpg", jpeg_saying(side)
    flat = zlib.compress(bytes(30_000_000), 9)
    for side in (10_000, 30_000, 60_000):
        yield f"png-flat-{side}.png", png_saying(side, side, flat)
    for chunk in (b"zTXt", b"iCCP"):
        body = b"x\0\0" + zlib.compress(bytes(30_000_000), 9)
        yield f"{chunk.decode()}-bomb.png", png_with(picture("PNG"), chunk, body)
    scan = picture("JPEG", progressive=True)
    start = scan.index(b"\xff\xda")
    yield "jpeg-many-scans.jpg", scan[:-2] + scan[start:-2] * 200 + b"\xff\xd9"
    yield (
        "jpeg-many-comments.jpg",
        (picture("JPEG")[:2] + b"\xff\xfe\x00\x03x" * 20_000 + picture("JPEG")[2:]),
    )
    yield "tiff-many-pages.tif", tiff_chain(5000)
    for depth in (50, 500, 5000):
        yield f"heic-nested-{depth}.heic", heic_nested(depth)


def png_saying(width, height, data):
    head = b"IHDR" + struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    chunks = [head, b"IDAT" + data, b"IEND"]
    made = b"".join(
        struct.pack(">I", len(c) - 4) + c + struct.pack(">I", zlib.crc32(c)) for c in chunks
    )
    return b"\x89PNG\r\n\x1a\n" + made


def tiff_saying(side):
    rows = [(256, 4, 1, side), (257, 4, 1, side), (258, 3, 1, 8), (259, 3, 1, 1)]
    rows += [(262, 3, 1, 1), (273, 4, 1, 8), (277, 3, 1, 1), (278, 4, 1, side)]
    rows += [(279, 4, 1, 2**31 - 1)]
    return b"II*\0" + struct.pack("<I", 8) + directory(rows)


def tiff_chain(pages):
    out, at = b"II*\0" + struct.pack("<I", 8), 8
    for k in range(pages):
        rows = [(256, 4, 1, 10), (257, 4, 1, 10)]
        size = 2 + 12 * len(rows) + 4
        out += directory(rows, following=at + size if k < pages - 1 else 8)  # and round again
        at += size
    return out


def webp_saying(side):
    dims = (side - 1).to_bytes(3, "little")
    body = b"VP8X" + struct.pack("<I", 10) + bytes(4) + dims + dims
    return b"RIFF" + struct.pack("<I", len(body) + 4) + b"WEBP" + body


def jpeg_saying(side):
    data = bytearray(picture("JPEG"))
    at = data.index(b"\xff\xc0")
    data[at + 5 : at + 9] = struct.pack(">HH", side, side)
    return bytes(data)


def heic_nested(depth):
    inner = b""
    for _ in range(depth):
        inner = struct.pack(">I", len(inner) + 8) + b"moov" + inner
    return b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + inner


def directory(rows, following=0):
    made = struct.pack("<H", len(rows))
    for tag, kind, count, value in rows:
        made += struct.pack("<HHII", tag, kind, count & 0xFFFFFFFF, value & 0xFFFFFFFF)
    return made + struct.pack("<I", following)


def exif(tags):
    made = Image.Exif()
    for tag, value in tags.items():
        made[tag] = value
    return made.tobytes()


def jpeg_with_exif(block):
    segment = b"Exif\0\0" + block[:65_000]
    host = picture("JPEG")
    return host[:2] + b"\xff\xe1" + struct.pack(">H", len(segment) + 2) + segment + host[2:]


def bad_exif():
    """Directories that point at themselves, past the end, everywhere and nowhere."""
    pointers = {"exif": 0x8769, "gps": 0x8825, "inter": 0xA005, "sub": 0x014A, "note": 0x927C}
    wheres = (0, 4, 8, 9, 100, 65_000, 2**31 - 1, 2**32 - 1)
    for name, tag in pointers.items():
        for where in wheres:
            rows = [(0x010F, 2, 4, 0x6E6F6E), (tag, 4, 1, where)]
            block = b"II*\0" + struct.pack("<I", 8) + directory(rows, following=where)
            yield f"{name}-to-{where}.jpg", jpeg_with_exif(block)
    for kind in (0, 1, 2, 3, 4, 5, 7, 10, 11, 12, 13, 16, 255, 65_535):
        for count in (0, 1, 2**16, 2**31, 2**32 - 1):
            rows = [(0x829D, kind, count, 8), (0x9209, kind, count, 8), (0x9003, kind, count, 8)]
            block = b"II*\0" + struct.pack("<I", 8) + directory(rows)
            yield f"type-{kind}-count-{count}.jpg", jpeg_with_exif(block)
    for first in (0, 1, 7, 8, 2**32 - 1):
        yield f"first-at-{first}.jpg", jpeg_with_exif(b"II*\0" + struct.pack("<I", first))
        yield f"first-at-{first}.tif", b"MM\0*" + struct.pack(">I", first)
    for entries in (1000, 5000):
        rows = [(k, 4, 1, 0) for k in range(entries)]
        block = b"II*\0" + struct.pack("<I", 8) + directory(rows)
        yield f"entries-{entries}.jpg", jpeg_with_exif(block)


def mutated_exif():
    chance = random.Random(2026)
    whole = exif({271: "A maker", 272: "A body", 306: "2026:05:03 09:10:11", 0x829D: 8.0,
                  0x920A: 90.0, 0x8827: 200, 0x927C: chance.randbytes(200)})  # fmt: skip
    block = whole.removeprefix(b"Exif\0\0")
    for k in range(400):
        bytes_ = bytearray(block)
        for _ in range(chance.choice((1, 2, 4, 8, 16))):
            bytes_[chance.randrange(len(bytes_))] = chance.choice((0, 1, 0x7F, 0xFF, k & 0xFF))
        yield f"mutated-{k}.jpg", jpeg_with_exif(bytes(bytes_))


def cut_short():
    for kind, ending, host in hosts():
        for k in range(1, 50):
            yield f"cut-{kind}-{k}.{ending}", host[: len(host) * k // 50]


def flipped():
    chance = random.Random(5)
    for kind, ending, host in hosts():
        for k in range(75):
            bytes_ = bytearray(host)
            for _ in range(1 + k // 10):
                bytes_[chance.randrange(len(bytes_))] ^= 1 << chance.randrange(8)
            yield f"flipped-{kind}-{k}.{ending}", bytes(bytes_)


def named():
    for k, name in enumerate(NAMES):
        yield name, picture("JPEG", seed=1000 + k)


def tiny():
    from shootlog.intake.sniff import BRANDS, BY_START

    for k, (start, kind) in enumerate(BY_START):
        yield f"only-{kind}-{k}.bin", start
        yield f"then-noise-{kind}-{k}.bin", start + random.Random(k).randbytes(3000)
    for brand in BRANDS:
        yield f"only-{brand.decode()}.heic", b"\x00\x00\x00\x18ftyp" + brand + bytes(12)
        yield f"endless-{brand.decode()}.heic", b"\xff\xff\xff\xffftyp" + brand + bytes(500)
    for k in range(40):
        yield f"noise-{k}.jpg", random.Random(k).randbytes(1 + k * k)
        yield f"zeros-{k}.jpg", bytes(1 + k * k)
    yield "empty.jpg", b""
