"""What callers outside may import, and from where: it stays so wherever a function lives.

The rows are the project's agreement on the public functions of `optics`, written down before
the modules were; `...` stands for parameters it leaves open.
"""

import ast
import importlib
import inspect
import subprocess
import sys

import pytest

from config.numbers import groups
from tests.house import BASE

PROMISED = {
    "aperture": """
        effective_f_number(f_number, magnification, pupil_magnification=1.0)
        marked_f_number(effective_f_number, magnification, pupil_magnification=1.0)
        exposure_loss_stops(magnification, pupil_magnification=1.0)
        f_number_from_aperture_value(apex)
    """,
    "conjugates": """
        magnification_from_distance(sensor_to_subject_mm, focal_length_mm, hiatus_mm=0.0)
        sensor_to_subject_mm(focal_length_mm, magnification, hiatus_mm=0.0)
        magnification_from_frame_width(sensor_width_mm, subject_width_mm)
        subject_width_mm(sensor_width_mm, magnification)
        extension_mm(focal_length_mm, magnification)
        magnification_with_tube(magnification, tube_mm, focal_length_mm)
        magnification_with_close_up_lens(
            magnification, focal_length_mm, power_dioptre, separation_mm=0.0)
        close_up_working_distance_mm(power_dioptre)
        combined_focal_length_mm(focal_length_mm, close_up_focal_length_mm, separation_mm=0.0)
        magnification_of_coupled_lenses(rear_focal_length_mm, front_focal_length_mm)
        magnification_with_teleconverter(magnification, factor)
        entrance_pupil_to_subject_mm(focal_length_mm, magnification, pupil_magnification=1.0)
    """,
    "depth": """
        depth_of_field_mm(effective_f_number, magnification, coc_mm)
        near_and_far_depth_mm(
            f_number, magnification, coc_mm, focal_length_mm, pupil_magnification=1.0)
        hyperfocal_mm(focal_length_mm, f_number, coc_mm)
        near_and_far_limit_mm(focus_mm, focal_length_mm, f_number, coc_mm)
        coc_mm_from_diagonal(diagonal_mm, divisor=1500)
        coc_mm_from_print(print_coc_mm, enlargement)
        wave_depth_of_field_mm(effective_f_number, magnification, wavelength_um=0.55)
    """,
    "diffraction": """
        airy_diameter_um(effective_f_number, wavelength_um=0.55)
        cutoff_cycles_per_mm(...)
        diffraction_mtf(cycles_per_mm, effective_f_number, wavelength_um=0.55)
        mtf50_cycles_per_mm(...)
    """,
    "blur": """
        defocus_waves(image_shift_mm, effective_f_number, wavelength_um=0.55)
        image_shift_mm(waves, effective_f_number, wavelength_um=0.55)
        defocused_mtf(cycles_per_mm, effective_f_number, waves, wavelength_um=0.55)
        total_blur_um(defocus_disc_um, effective_f_number, wavelength_um=0.55)
        best_effective_f_number(subject_depth_mm, magnification, wavelength_um=0.55)
        largest_depth_mm(total_blur_mm, magnification, wavelength_um=0.55)
    """,
    "stack": """
        rail_step_mm(depth_of_field_mm, overlap=0.25)
        rail_frames(subject_depth_mm, depth_of_field_mm, overlap=0.25)
        landscape_frames(
            focal_length_mm, f_number, coc_mm, near_m, far_m=float("inf"), overlap=0.0)
        landscape_focus_distances_m(...)
        scale_change_per_step(step_mm, focal_length_mm, magnification, pupil_magnification=1.0)
    """,
    "shake": """
        blur_from_rotation_um(
            rotation_deg, focal_length_mm, magnification, pupil_magnification=1.0)
        blur_from_translation_um(translation_um, magnification)
        longest_exposure_s(...)
    """,
    "sampling": """
        pixel_pitch_um(focal_plane_resolution, unit)
        pixel_pitch_um_from_width(sensor_width_mm, width_px)
    """,
    "evidence.sfr": "slanted_edge(luminance)",
    "evidence.sharpness": "sharpness_map(luminance, block_px=32)",
    "evidence.ruler": "tick_spacing(luminance)",
    "evidence.registration": "align(reference, moved)",
    "evidence.noise": "sigma(luminance)",
}


def promised():
    """(module, name, parameters with their defaults, or None where left open)."""
    for module, rows in PROMISED.items():
        for statement in ast.parse(inspect.cleandoc(rows)).body:
            call = statement.value
            is_open = any(isinstance(one, ast.Constant) for one in call.args)
            told = {one.id: inspect.Parameter.empty for one in call.args if not is_open}
            told |= {one.arg: value_of(one.value) for one in call.keywords}
            yield module, call.func.id, None if is_open else told


def value_of(node):
    return float("inf") if isinstance(node, ast.Call) else ast.literal_eval(node)


@pytest.mark.parametrize(
    ("module", "name", "told"),
    list(promised()),
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_was_promised_is_there(module, name, told):
    function = getattr(importlib.import_module(f"optics.{module}"), name)
    assert function.__name__ == name
    if told is not None:
        taken = inspect.signature(function).parameters
        assert {key: one.default for key, one in taken.items()} == told


def test_a_formula_with_two_addresses_is_listed_once():
    listed = [entry.name for group in groups() for entry in group.entries]
    assert sorted(set(listed)) == sorted(listed)


def test_each_module_loads_first():
    """Two modules that import each other load in one order and not in the other."""
    names = [f"optics.{path.stem}" for path in (BASE / "optics").glob("*.py")]
    assert "optics.conjugates" in names
    afresh = """
import importlib, sys
for name in sys.argv[1:]:
    for old in [one for one in sys.modules if one.startswith("optics")]:
        del sys.modules[old]
    importlib.import_module(name.removesuffix(".__init__"))
"""
    subprocess.run([sys.executable, "-c", afresh, *names], cwd=BASE, check=True)
