"""Each published quantity, and how our formulas are asked for it.

A value no formula of `optics` answers stands in ELSEWHERE with its reason.
"""

import csv
import json
import math
from pathlib import Path

import numpy as np

from optics import (
    accessories,
    aperture,
    best_stop,
    blur,
    circle_of_confusion,
    conjugates,
    depth,
    diffraction,
    exposure,
    sampling,
    shake,
    stack,
)
from optics.evidence import noise, sfr
from tests.optics.evidence.test_sfr import edge

FOLDER = Path(__file__).parents[2] / "fixtures" / "published"
MM_PER_FOOT = 304.8
NO_PUPIL = 100.0  # so large a pupil magnification that 1 + m / p is 1 within the table's digits


def rows():
    for path in sorted(FOLDER.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(line for line in file if not line.startswith("#")):
                yield row | {"inputs": json.loads(row["inputs"]), "file": path.name}


def um(i):
    return i["wavelength_nm"] / 1000.0


def m_p(i):
    return i["magnification"], i["pupil_magnification"]


def sides(i):
    return depth.near_and_far_depth_mm(
        i["f_number"],
        i["magnification"],
        i["coc_mm"],
        i["focal_length_mm"],
        i["pupil_magnification"],
    )


def printed_depth(i):
    """Nikon's table: N stands for the effective number, so no (1 + m) again."""
    return sum(
        depth.near_and_far_depth_mm(
            i["effective_f_number"],
            i["magnification"],
            i["coc_mm"],
            i["focal_length_mm"],
            NO_PUPIL,
        )
    )


def macro_depth(m, f_number=11.0, coc_mm=0.03):
    return depth.depth_of_field_mm(aperture.effective_f_number(f_number, m), m, coc_mm)


def by_hyperfocal(i):
    """A lens of 1 mm whose f^2 / (N c) is the stated hyperfocal distance, in mm."""
    return depth.near_and_far_limit_mm(1000.0 * i["focus"], 1.0, 1.0, 1e-3 / i["hyperfocal"])


def exposure_factor(i):
    if "image_distance_mm" in i:
        magnification = i["image_distance_mm"] / i["focal_length_mm"] - 1.0
        return aperture.exposure_factor(magnification)
    return aperture.exposure_factor(*m_p(i))


def factor_from_subject(i):
    f, u = i["focal_length_mm"], i["lens_to_subject_mm"]
    return aperture.exposure_factor(f / (u - f))


def wave_depth(i):
    if "numerical_aperture" in i:
        index = i.get("refractive_index", 1.0)
        return depth.wave_depth_of_field_um_from_na(i["numerical_aperture"], um(i), index)
    effective = aperture.effective_f_number(i["f_number"], *m_p(i))
    return 1000.0 * depth.wave_depth_of_field_mm(effective, i["magnification"], um(i))


def rail_depth(i):
    effective = aperture.effective_f_number(i["f_number"], *m_p(i))
    return depth.depth_of_field_mm(effective, i["magnification"], i["coc_mm"])


def level_over_cutoff(level):
    nu = np.linspace(0.0, 1.0, 200_001)
    response = diffraction.diffraction_mtf(1000.0 * nu, 1.0, 1.0)
    return float(np.interp(-level, -response, nu))


def encircled():
    """Energy inside our first dark ring, from the Airy pattern by scipy's Bessel function."""
    from scipy.integrate import quad
    from scipy.special import j1

    edge = math.pi * diffraction.airy_diameter_um(1.0, 1.0) / 2.0
    return quad(lambda x: 2.0 * j1(x) ** 2 / x, 1e-12, edge)[0]


def disc_in_units(i):
    return blur.total_blur_um(8.0 * i["w020_waves"], 1.0, 1.0)


def depth_by_quadrature(i):
    """The view-camera rule's depth: its blur grows as the root of the focus spread."""
    f_number = best_stop.hansma_f_number(1.0, um(i))
    disc_um = blur.defocus_disc_um(0.5, f_number)
    at_one_mm = math.hypot(disc_um, diffraction.airy_diameter_um(f_number, um(i)))
    return (1000.0 * i["total_blur_mm"] / at_one_mm) ** 2 / i["magnification"] ** 2


def crossover(i):
    """The two depths go as N and N squared: from any N, the N where they meet."""
    geometric = depth.depth_of_field_mm(10.0, 1.0, i["coc_mm"])
    return 10.0 * geometric / depth.wave_depth_of_field_mm(10.0, 1.0, um(i))


def landscape(i):
    names = ("focal_length_mm", "f_number", "coc_mm", "near_m")
    return stack.landscape_frames(*(i[n] for n in names), overlap=i["overlap"])


def piper_setting(i):
    """The k-th focus of a lens of 30 mm whose f^2 / (N c) is H metres."""
    h_mm = 1000.0 * i["hyperfocal_m"]
    return stack.landscape_focus_distances_m(30.0, 1.0, 900.0 / h_mm, 1.0)[i["index"]]


def unit_code(i):
    return int(i["unit"].split("(")[1].rstrip(")"))


def angle_for_blur(i):
    one_degree = shake.blur_from_rotation_um(1.0, i["focal_length_mm"], i["magnification"])
    return i["image_blur_um"] / one_degree


def mtf50_of_gaussian(i):
    """Where our finder sees a Gaussian's response fall to a half."""
    cycles = np.linspace(0.0, 1.0, 4001)
    response = np.exp(-2.0 * (math.pi * i["sigma_px"] * cycles) ** 2)
    return sfr.mtf50(cycles, response)


def mtf50_of_edge(i):
    """A blurred edge over square pixels, drawn here, through the whole method."""
    return sfr.mtf50(*sfr.slanted_edge(edge(i["sigma_px"], i["edge_angle_deg"])))


def noise_operator_scale(i):
    """The operator sees four times a lone bright pixel in its middle."""
    alone = np.full((3, 3), 100.0)
    alone[1, 1] += 1.0
    return noise.sigma(alone) / 4.0


ASK = {
    "gaussian_blur_mtf50": mtf50_of_gaussian,
    "slanted_edge_mtf50_expected": mtf50_of_edge,
    "immerkaer_scale": noise_operator_scale,
    "abbe_resolution": lambda i: diffraction.subject_resolution_um(i["numerical_aperture"], um(i)),
    "airy_disk_diameter": lambda i: diffraction.airy_diameter_um(i["effective_f_number"], um(i)),
    "airy_first_zero_radius_over_lambdaN": lambda i: diffraction.airy_diameter_um(1.0, 1.0) / 2.0,
    "angle_for_image_blur": angle_for_blur,
    "close_up_lens_max_working_distance": lambda i: accessories.close_up_working_distance_mm(
        i["close_up_power_dpt"]
    ),
    "coc_from_diagonal": lambda i: circle_of_confusion.coc_mm_from_diagonal(
        i["diagonal_mm"], i["divisor"]
    ),
    "coc_from_print": lambda i: circle_of_confusion.coc_mm_from_print(
        i["final_image_coc_mm"], i["enlargement"]
    ),
    "combined_focal_length": lambda i: accessories.combined_focal_length_mm(
        i["focal_length_mm"], i["close_up_focal_length_mm"], i["separation_mm"]
    ),
    "defocused_otf": lambda i: blur.defocused_otf(
        1000.0 * i["normalized_frequency"], 1.0, i["w020_waves"], 1.0
    ),
    "diffraction_mtf": lambda i: diffraction.diffraction_mtf(
        i["frequency_cycles_per_mm"], i["effective_f_number"], um(i)
    ),
    "diffraction_mtf_normalized": lambda i: diffraction.diffraction_mtf(
        1000.0 * i["normalized_frequency"], 1.0, 1.0
    ),
    "dof_far_limit_from_hyperfocal": lambda i: by_hyperfocal(i)[1] / 1000.0,
    "dof_near_limit_from_hyperfocal": lambda i: by_hyperfocal(i)[0] / 1000.0,
    "dof_near_limit": lambda i: (
        depth.near_and_far_limit_mm(
            1000.0 * i["focus_m"], i["focal_length_mm"], i["f_number"], i["coc_mm"]
        )[0]
        / 1000.0
    ),
    "dof_near_side": lambda i: sides(i)[0],
    "dof_far_side": lambda i: sides(i)[1],
    "dof_ratio_to_unit_magnification": lambda i: (
        macro_depth(i["magnification"]) / macro_depth(i["reference_magnification"])
    ),
    "dof_total_from_effective_f_number": printed_depth,
    "dof_total_macro": lambda i: macro_depth(i["magnification"], i["f_number"], i["coc_mm"]),
    "effective_f_number": lambda i: aperture.effective_f_number(i["f_number"], *m_p(i)),
    "effective_f_number_factor": lambda i: aperture.effective_f_number(1.0, *m_p(i)),
    "effective_f_number_where_wave_equals_geometric_dof": crossover,
    "encircled_energy_in_airy_disk": lambda i: encircled(),
    "equivalent_disc_same_mtf50_over_lambdaN": lambda i: blur.total_blur_um(0.0, 1.0, 1.0),
    "exposure_factor": exposure_factor,
    "exposure_factor_from_subject_distance": factor_from_subject,
    "exposure_loss_stops": lambda i: aperture.exposure_loss_stops(*m_p(i)),
    "exposure_time_from_shutter_speed_value": lambda i: (
        exposure.exposure_s_from_shutter_speed_value(i["shutter_speed_value_apex"])
    ),
    "extension_for_magnification": lambda i: conjugates.extension_mm(
        i["focal_length_mm"], i["magnification"]
    ),
    "f_number_from_aperture_value": lambda i: aperture.f_number_from_aperture_value(
        i["aperture_value_apex"]
    ),
    "focal_length_at_unit_magnification_from_distance": lambda i: (
        conjugates.focal_length_from_distance_mm(
            i["sensor_to_subject_mm"], i["magnification"], i["hiatus_mm"]
        )
    ),
    "focal_length_from_added_tube_magnification": lambda i: accessories.focal_length_from_tube_mm(
        i["magnification_without_tube"], i["magnification_with_tube"], i["tube_length_mm"]
    ),
    "hand_tremor_rms_translation": lambda i: shake.HAND_TREMOR_RMS_UM,
    "hansma_constant": lambda i: best_stop.hansma_f_number(1.0, um(i)) ** 2,
    "hansma_optimum_f_number": lambda i: best_stop.hansma_f_number(i["focus_spread_mm"]),
    "hyperfocal_distance_simple": lambda i: (
        (
            depth.hyperfocal_mm(i["focal_length_mm"], i["f_number"], i["coc_mm"])
            - i["focal_length_mm"]
        )
        / MM_PER_FOOT
    ),
    "image_blur_from_translation": lambda i: shake.blur_from_translation_um(
        i["subject_side_translation_um"], i["magnification"]
    ),
    "image_stabilization_blur_threshold": lambda i: shake.STABILISER_BLUR_UM,
    "landscape_focus_setting": piper_setting,
    "landscape_stack_frames_to_infinity": landscape,
    "largest_depth_at_total_blur_airy_quadrature": depth_by_quadrature,
    "magnification_error_from_distance_error": lambda i: (
        conjugates.magnification_uncertainty_from_distance(
            i["distance_error_mm"], i["focal_length_mm"], i["magnification"]
        )
    ),
    "magnification_from_distance_thick_lens": lambda i: conjugates.magnification_from_distance(
        i["sensor_to_subject_mm"], i["focal_length_mm"], i["hiatus_mm"]
    ),
    "magnification_from_distance_thin_lens": lambda i: conjugates.magnification_from_distance(
        i["sensor_to_subject_mm"], i["focal_length_mm"]
    ),
    "magnification_from_frame_width": lambda i: conjugates.magnification_from_frame_width(
        i["sensor_width_mm"], i["subject_width_mm"]
    ),
    "magnification_of_coupled_lenses": lambda i: accessories.magnification_of_coupled_lenses(
        i["rear_focal_length_mm"], i["front_reversed_focal_length_mm"]
    ),
    "magnification_with_close_up_lens": lambda i: accessories.magnification_with_close_up_lens(
        i["magnification_without"],
        i["focal_length_mm"],
        i["close_up_power_dpt"],
        i["separation_mm"],
    ),
    "magnification_with_extension_tube": lambda i: accessories.magnification_with_tube(
        i["magnification_without_tube"], i["tube_length_mm"], i["focal_length_mm"]
    ),
    "magnification_with_teleconverter": lambda i: accessories.magnification_with_teleconverter(
        i["magnification_without"], i["teleconverter_factor"]
    ),
    "marked_f_number_for_metered": lambda i: aperture.marked_f_number(
        i["metered_f_number"], i["magnification"]
    ),
    "mtf20_over_cutoff": lambda i: level_over_cutoff(0.2),
    "mtf50_over_cutoff": lambda i: diffraction.mtf50_cycles_per_mm(1.0, 1.0) / 1000.0,
    "mtf_at_rayleigh_frequency": lambda i: diffraction.diffraction_mtf(
        1000.0 * i["normalized_frequency"], 1.0, 1.0
    ),
    "mtf_cutoff_frequency": lambda i: diffraction.cutoff_cycles_per_mm(
        i["effective_f_number"], um(i)
    ),
    "near_limit_focused_at_infinity_from_sensor": lambda i: (
        depth.near_limit_at_infinity_from_sensor_mm(
            i["focal_length_mm"], i["f_number"], i["coc_mm"], i["hiatus_mm"]
        )
        / 1000.0
    ),
    "optimum_f_number_max_mtf50_at_limits": lambda i: best_stop.best_effective_f_number(
        i["focus_spread_mm"], 1.0, um(i)
    ),
    "pixel_pitch_from_focal_plane_resolution": lambda i: sampling.pixel_pitch_um(
        i["focal_plane_x_resolution"], unit_code(i)
    ),
    "rail_stack_frames": lambda i: stack.rail_frames(
        i["subject_depth_mm"], rail_depth(i), i["overlap"]
    ),
    "scale_change_per_rail_step": lambda i: stack.scale_change_per_step(
        stack.rail_step_mm(rail_depth(i), i["overlap"]), i["focal_length_mm"], *m_p(i)
    ),
    "sensor_to_subject_distance_thick_lens": lambda i: conjugates.sensor_to_subject_mm(
        i["focal_length_mm"], i["magnification"], i["hiatus_mm"]
    ),
    "sensor_to_subject_distance_thin_lens": lambda i: conjugates.sensor_to_subject_mm(
        i["focal_length_mm"], i["magnification"]
    ),
    "sfr_central_difference_correction": lambda i: sampling.slanted_edge_correction(
        i["frequency_cycles_per_pixel"], i["oversampling"]
    ),
    "sfr_edge_angle_frequency_factor": lambda i: sampling.edge_angle_factor(i["edge_angle_deg"]),
    "strehl_on_axis": lambda i: blur.strehl_ratio(i["w020_waves"]),
    "subject_width_from_magnification": lambda i: conjugates.subject_width_mm(
        i["sensor_width_mm"], i["magnification"]
    ),
    "total_blur_over_lambdaN_mtf50": disc_in_units,
    "w020_from_image_shift": lambda i: blur.defocus_waves(
        i["image_shift_um"] / 1000.0, i["effective_f_number"], um(i)
    ),
    "wave_optics_dof_total": wave_depth,
}

ELSEWHERE = {
    "canon_macro_magnification_decode": "a maker's code, not optics: tests/shootlog/test_makers.py",
    "nikon_focus_distance_decode": "a maker's code, not optics: tests/shootlog/test_makers.py",
    "nikon_focus_distance_code_step": "a maker's code, not optics: tests/shootlog/test_makers.py",
    "motion_blur_first_spectral_zero": "the law of an even smear: held against the truth below",
    "flash_duration_t0_5": "one flash's figure: what a formula is given, not what it returns",
    "recorded_f_number_wide_open": "one lens's figure: held against our allowance below",
    "internal_focus_focal_length_ratio_to_infinity": "one lens's figure: held against our model",
    "luminance_weighted_effective_wavelength": "why 0.55 um is the default: held against it below",
}
