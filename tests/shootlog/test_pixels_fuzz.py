"""Mutated picture files: evidence or words, never another exception."""

import io

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from shootlog.intake.pixels import look
from shootlog.intake.tags import Unreadable


def seeds():
    grey = np.random.default_rng(3).integers(0, 255, (64, 96, 3), np.uint8)
    for kind in ("JPEG", "PNG", "WEBP", "TIFF"):
        file = io.BytesIO()
        Image.fromarray(grey).save(file, kind)
        yield file.getvalue()


SEEDS = list(seeds())


def mutated(draw):
    data = bytearray(draw(st.sampled_from(SEEDS)))
    for _ in range(draw(st.integers(1, 8))):
        data[draw(st.integers(0, len(data) - 1))] = draw(st.integers(0, 255))
    return bytes(data[: draw(st.integers(1, len(data)))])


def look_at(path, data):
    path.write_bytes(data)
    try:
        found = look(path, None, None)
    except Unreadable as refused:
        words = str(refused)
    else:
        words = f"{path.name} is {found['width_px']} pixels wide"
    assert path.name in words


@settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.composite(mutated)())
def test_mutated_files_give_evidence_or_words(tmp_path, data):
    look_at(tmp_path / "frame.jpg", data)


@pytest.mark.slow
@settings(max_examples=5000, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.composite(mutated)())
def test_many_mutated_files_give_evidence_or_words(tmp_path, data):
    look_at(tmp_path / "frame.jpg", data)
