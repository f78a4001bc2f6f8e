"""Against pictures made here: a cloudy texture, blurred by a uniform disc of known diameter."""

import numpy as np

from optics.evidence import fall_off


def texture(disc_px, seed=3):
    spectrum = np.fft.fft2(np.random.default_rng(seed).normal(0, 60, (256, 256)))
    f = np.hypot(np.fft.fftfreq(256)[:, None], np.fft.fftfreq(256)[None])
    spectrum *= 0.06 / np.maximum(f, 0.02)  # clouds: white would pass for noise
    if disc_px:
        x = np.linspace(-0.5, 0.5, 401)[1:-1]  # the chord of a disc, summed: 2 J1(u) / u
        chord = np.sqrt(0.25 - x**2)
        wave = np.cos(2 * np.pi * disc_px * f[..., None] * x) @ chord
        spectrum *= wave / chord.sum()
    return np.clip(128 + np.fft.ifft2(spectrum).real, 0, 255).round()


def test_a_soft_place_falls_off_steeply_and_sharp_ones_do_not():
    picture = texture(0)
    picture[80:176, 80:176] = texture(6)[80:176, 80:176]
    inside, best = fall_off.against_the_rest(picture, [0.35, 0.35, 0.3, 0.3])
    assert (best > -2.0).all()
    assert (inside < best - 1.0).all()


def test_a_disc_of_three_pixels_shows_in_the_finer_bands():
    picture = texture(0)
    picture[80:176, 80:176] = texture(3)[80:176, 80:176]
    inside, best = fall_off.against_the_rest(picture, [0.35, 0.35, 0.3, 0.3])
    assert inside[1] < best[1] - 0.7


def test_a_plain_place_shows_nothing():
    assert np.isnan(fall_off.fall_offs(np.full((1, 64, 64), 90))).all()
    assert fall_off.against_the_rest(np.full((200, 300), 90), [0.4, 0.4, 0.1, 0.1]) is None
    assert fall_off.against_the_rest(np.full((60, 60), 90), [0.4, 0.4, 0.1, 0.1]) is None
