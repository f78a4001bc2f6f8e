"""By how much what is measured differs from what is true: the error columns of the truth table."""

import statistics
import tomllib
from pathlib import Path

import numpy as np
from PIL import Image

from optics.evidence import ruler, sfr
from shootlog.intake.pixels import look
from shootlog.recorded import Recorded
from tests.optics.evidence_pixels import truth as drawn

FRAMES = Path(__file__).resolve().parents[2] / "fixtures" / "frames"
DISCS_PX = (1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0)
SIGMAS = (1.0, 2.0, 4.0, 8.0)
#: Weights of red, green and blue in luminance (ITU-R BT.601), as noise adds up: roots of squares.
LUMA_NOISE = (0.299**2 + 0.587**2 + 0.114**2) ** 0.5


def edge_frames():
    for described in sorted(FRAMES.glob("edge-*.toml")):
        facts = tomllib.loads(described.read_text(encoding="utf-8"))
        yield facts, FRAMES / facts["file"]


def drawn_blur(folder):
    """Relative errors of blur on drawn leaves through an exact disc, noise and JPEG."""
    light = drawn.dead_leaves(320, 448, smallest_px=16, seed=5)
    errors = []
    for disc_px in DISCS_PX:
        grey = drawn.as_8_bit(drawn.sampled(light, drawn.disc(light.shape, disc_px)), noise=1.0)
        path = folder / f"disc-{disc_px}.jpg"
        Image.fromarray(grey).save(path, quality=92)
        found = look(path, Recorded(), None)["blur_px"]
        errors.append(None if found is None else found / disc_px - 1.0)
    return errors


def edge_blur():
    """The same for single slanted edges; the true disc of defocus and diffraction together."""
    errors = []
    for facts, path in edge_frames():
        edge = facts["edge"]
        spread = 1.745 * edge["wavelength_um"] * edge["effective_f_number"] / edge["pixel_pitch_um"]
        true = (edge["defocus_disc_px"] ** 3 + spread**3) ** (1 / 3)
        if edge["sharpening"] or not 1.5 <= true <= 12:
            continue
        found = look(path, None, None)["blur_px"]
        errors.append(None if found is None else found / true - 1.0)
    return errors


def wanted_places(judged):
    """(true blur, evidence) where a thing that kept still was wanted sharp."""
    for truth, evidence, _ in judged:
        true = truth["blur"]["total_px"]
        still = truth["shake"]["length_px"] == truth["motion"]["length_px"] == 0
        as_shot = truth["frame"]["treatment"] == "original" and truth["frame"]["digital_zoom"] == 1
        if still and as_shot and 1.5 <= true <= 12:
            yield true, evidence


def wanted_blur(judged):
    """The same where a rendered thing was wanted sharp, and one number is told of it."""
    told = [(true, evidence["wanted_blur_px"]) for true, evidence in wanted_places(judged)]
    return [None if found is None else found / true - 1.0 for true, found in told]


def wanted_ranges(judged):
    """Of how many such places a range is told, and how many of those hold the true blur."""
    ends = [
        (e["wanted_blur_low_px"] <= true <= e["wanted_blur_high_px"])
        for true, e in wanted_places(judged)
        if e["wanted_blur_high_px"] is not None
    ]
    return len(ends), sum(ends)


def smears(judged):
    """Relative errors of length and errors of angle of even, straight movements."""
    lengths, angles = [], []
    for truth, evidence, _ in judged:
        real = truth["shake"]
        if real["kind"] == "line" and evidence["smear_where"] == "frame":
            lengths.append(evidence["smear_px"] / real["length_px"] - 1.0)
            # the scenes count angles with y upwards
            angles.append((evidence["smear_angle_deg"] + real["angle_deg"] + 90) % 180 - 90)
    return lengths, angles


def drawn_noise(folder):
    light = drawn.sampled(drawn.dead_leaves(320, 448, smallest_px=30, seed=6))
    errors = []
    for sigma in SIGMAS:
        path = folder / f"noise-{sigma}.jpg"
        Image.fromarray(drawn.as_8_bit(light, noise=sigma)).save(path, quality=95)
        found = look(path, Recorded(), None)["noise_sigma"]
        errors.append(None if found is None else found / sigma - 1.0)
    return errors


def rendered_noise(judged, least_iso):
    return [
        evidence["noise_sigma"] / (truth["noise"]["sigma_8bit_at_018"] * LUMA_NOISE) - 1.0
        for truth, evidence, _ in judged
        if "-iso" in truth["file"] and truth["frame"]["iso"] >= least_iso
    ]


def edge_mtf50():
    errors = []
    for facts, path in edge_frames():
        grey = drawn.linear(np.asarray(Image.open(path).convert("L"), float))
        if facts["edge"]["sharpening"]:
            continue
        try:
            found = sfr.mtf50(*sfr.slanted_edge(grey))
        except ValueError:
            found = None
        true = facts["edge"]["mtf50_cycles_per_px"]
        errors.append(None if found is None else found / true - 1.0)
    return errors


def rulers(tilted):
    """Relative errors of pixels for a millimetre, in the middle of what is seen of the scale."""
    errors = []
    for described in sorted(FRAMES.glob("ruler-*.toml")):
        facts = tomllib.loads(described.read_text(encoding="utf-8"))
        scale = facts["ruler"]
        if (scale["tilt_deg"] > 1.0) != tilted:
            continue
        try:
            grey = np.asarray(Image.open(FRAMES / facts["file"]).convert("L"))
            found = ruler.tick_spacing(grey).px_per_mm
        except ruler.NoScale:
            errors.append(None)
            continue
        errors.append(found / scale["px_per_mm"] - 1.0)
    return errors


def line(name, aim, errors, per_cent=True):
    told = [abs(e) for e in errors if e is not None]
    silent = len(errors) - len(told)
    if not told:
        return f"| {name} | {aim} | {len(errors)} | - | - | {silent} |"
    middle, most = statistics.median(told), max(told)
    written = (lambda v: f"{v:.1%}") if per_cent else (lambda v: f"{v:.1f}°")
    return f"| {name} | {aim} | {len(errors)} | {written(middle)} | {written(most)} | {silent} |"


def table(judged, folder):
    lengths, angles = smears(judged)
    told, held = wanted_ranges(judged)
    return [
        "| measured against the truth | aim | of | median off | most off | no one number |",
        "|---|---|---|---|---|---|",
        line("blur, drawn leaves, 1.5 to 12 px", "10 %", drawn_blur(folder)),
        line("blur, single slanted edges", "10 %", edge_blur()),
        line("blur where it was wanted sharp, rendered things", "10 %", wanted_blur(judged)),
        line("length of a straight shake", "15 %", lengths),
        line("direction of a straight shake", "5°", angles, per_cent=False),
        line("MTF50 of a slanted edge", "2 %", edge_mtf50()),
        line("ruler, straight", "0.5 %", rulers(False)),
        line("ruler, tilted or leaning", "2 %", rulers(True)),
        line("noise, drawn, sigma 1 to 8", "10 %", drawn_noise(folder)),
        line("noise, rendered, ISO 25,600", "10 %", rendered_noise(judged, 25600)),
        line("noise, rendered, ISO 6,400, most of it taken out by JPEG", "10 %",
             [e for e in rendered_noise(judged, 6400) if e not in rendered_noise(judged, 25600)]),
        "",
        f"Where it was wanted sharp a range of the blur was told of {told} places; {held} of them "
        "held the true one. Where one number could be told it stands above; where a plain thing "
        "could be as soft by itself the range is 'at most'.",
    ]  # fmt: skip
