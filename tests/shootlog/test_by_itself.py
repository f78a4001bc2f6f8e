"""Phones: the lens really used, digital zoom, exposures joined. Said, never judged."""

import io
from pathlib import Path

import pytest
from PIL import ExifTags, Image

from shootlog.by_itself import by_itself
from shootlog.caption import caption
from shootlog.findings import all_findings, examine
from shootlog.intake.tags import read_recorded, read_recorded_from
from shootlog.recorded import Recorded
from shootlog.shown import first_rows
from shootlog.work_out import work_out

FRAMES = Path(__file__).resolve().parents[2] / ".." / "shared" / "frames"
COMPOSITE_IMAGE, SOURCES_OF_COMPOSITE = 0xA460, 0xA461  # Exif 2.32 and 3.0, 4.6.6.7
ONE_EXPOSURE = {"shake", "thin-depth", "banding", "high-iso"}


def phone(xmp=b"", **tags):
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = "Brackwater"
    exif.get_ifd(ExifTags.IFD.Exif).update(tags.pop("exif", {}))
    out = io.BytesIO()
    more = {"xmp": xmp} if xmp else {}
    Image.new("RGB", (64, 48)).save(out, "JPEG", exif=exif, **more)
    out.seek(0)
    return read_recorded_from(out, "phone.jpg")


def test_composite_tags_of_the_standard_are_read():
    found = phone(exif={COMPOSITE_IMAGE: 3, SOURCES_OF_COMPOSITE: (9, 7)})
    assert found.composite == "while shooting"
    assert found.composite_count == 7  # those used
    assert phone(exif={COMPOSITE_IMAGE: 1}).composite == "no"
    assert phone(exif={COMPOSITE_IMAGE: 0}).composite is None
    odd = phone(exif={COMPOSITE_IMAGE: 3, SOURCES_OF_COMPOSITE: (65535, 65535)})
    assert odd.composite_count is None


@pytest.mark.parametrize(
    ("code", "composite"),
    [("computationalCapture", "while shooting"), ("digitalCapture", "no"), ("print", None)],
)
def test_the_open_vocabulary_of_sources_is_read(code, composite):
    """Codes: IPTC NewsCodes, http://cv.iptc.org/newscodes/digitalsourcetype/."""
    xmp = (
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><Iptc4xmpExt:DigitalSourceType>'
        f"http://cv.iptc.org/newscodes/digitalsourcetype/{code}"
        "</Iptc4xmpExt:DigitalSourceType></x:xmpmeta>"
    ).encode()
    assert phone(xmp).composite == composite


def test_what_it_did_is_said_in_words():
    joined = Recorded(
        focal_length_mm=5.7, focal_length_35mm=26, lens_shortest_mm=1.57, lens_longest_mm=9.0,
        digital_zoom_ratio=2.0, composite="while shooting", composite_count=9,
    )  # fmt: skip
    assert by_itself(joined) == (
        "Taken with the 5.7 mm lens, of those from 1.57 to 9 mm; it sees as 26 mm on 36 x 24 mm. "
        "2 times digital zoom: the middle of the sensor, enlarged. "
        "9 exposures joined into this one picture."
    )
    reading = work_out(joined)
    assert first_rows(reading)[-1].words == by_itself(joined)
    assert "2.0 times digital zoom · exposures joined" in caption(joined, reading)


def test_an_ordinary_camera_says_nothing_of_the_kind():
    plain = Recorded(focal_length_mm=100, focal_length_35mm=100, digital_zoom_ratio=1.0)
    assert by_itself(plain) == ""
    assert by_itself(Recorded()) == ""


def test_what_needs_one_exposure_cannot_be_told_of_joined_ones():
    told = {o.finding: o for o in examine(work_out(Recorded(composite="while shooting")))}
    for slug in ONE_EXPOSURE:
        assert all_findings()[slug].of_one_exposure, slug
        assert told[slug].answer == "cannot tell"
        assert told[slug].words == "The camera merged several exposures into this picture.", slug


def test_real_phones():
    """Three files of phones, read by an independent reader in the frames' own truth."""
    if not (FRAMES / "heic").exists():
        pytest.skip("the shared real frames are not beside the project")
    names = ("arrow.heic", "IMG_3578.heic", "iphone_13_pro_max.HEIC")
    paths = [path for path in FRAMES.rglob("*.*") if path.name in names]
    said = {path.name: by_itself(read_recorded(path)) for path in paths}
    assert "3.99 mm lens, of those from 3.99 to 6.6 mm" in said["arrow.heic"]
    assert "as phones do" in said["IMG_3578.heic"]
    assert "No digital zoom." in said["iphone_13_pro_max.HEIC"]
