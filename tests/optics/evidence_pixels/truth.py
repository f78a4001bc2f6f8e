"""Pictures whose blur, smear and noise are known: dead leaves drawn four times as large, blurred
by an exact response in the frequency domain, then sampled."""

import io

import numpy as np
from PIL import Image, ImageDraw
from scipy.special import j1

FINER = 4


def dead_leaves(height, width, *, seed=3, smallest_px=8.0):
    """Overlapping ellipses of linear light 0.08 to 0.92, `FINER` times as large each way."""
    rng = np.random.default_rng(seed)
    tall, wide = height * FINER, width * FINER
    picture = Image.new("L", (wide, tall), 128)
    draw = ImageDraw.Draw(picture)
    count = int(height * width / (smallest_px**2 * 3))
    radii = np.clip(smallest_px * (1 - rng.random(count)) ** -0.7, smallest_px, height / 5)
    turn = np.linspace(0, 2 * np.pi, 36)
    for radius in np.sort(radii)[::-1] * FINER:
        x, y = rng.random() * wide, rng.random() * tall
        a, b = radius * rng.uniform(0.6, 1, 2)
        angle = rng.uniform(0, np.pi)
        u, v = a * np.cos(turn), b * np.sin(turn)
        across = x + u * np.cos(angle) - v * np.sin(angle)
        down = y + u * np.sin(angle) + v * np.cos(angle)
        grey = int(rng.integers(20, 236))
        draw.polygon(list(zip(across, down, strict=True)), fill=grey)
    return np.asarray(picture, float) / 255.0


def frequencies(shape):
    """Cycles per final pixel along x and y."""
    down = np.fft.fftfreq(shape[0])[:, None] * FINER
    across = np.fft.rfftfreq(shape[1])[None] * FINER
    return across, down


def disc(shape, diameter_px):
    """Response of a uniform disc, 2 J1(x) / x (Goodman, Introduction to Fourier Optics)."""
    across, down = frequencies(shape)
    x = np.maximum(np.pi * diameter_px * np.hypot(across, down), 1e-9)
    return 2 * j1(x) / x


def smear(shape, length_px, angle_deg):
    """Response of a straight, even movement."""
    across, down = frequencies(shape)
    angle = np.radians(angle_deg)
    return np.sinc(length_px * (across * np.cos(angle) + down * np.sin(angle)))


def bent_smear(shape, length_px, angle_deg, bend):
    """Response of an even movement along a parabola, y = bend x^2 / length, summed step by step."""
    across, down = frequencies(shape)
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    total = 0.0
    for t in (np.arange(101) - 50) / 101:
        x, y = length_px * t, length_px * bend * t * t
        total = total + np.exp(-2j * np.pi * across * (c * x - s * y)) * np.exp(
            -2j * np.pi * down * (s * x + c * y)
        )
    return total / 101


def sampled(light, response=1.0):
    """Blur by the response and the pixel's own square, then sample once a pixel."""
    across, down = frequencies(light.shape)
    seen = np.fft.rfft2(light) * response * np.sinc(across) * np.sinc(down)
    return np.fft.irfft2(seen, s=light.shape)[FINER // 2 :: FINER, FINER // 2 :: FINER]


def as_8_bit(light, *, noise=0.0, seed=1, quality=None):
    """sRGB curve (IEC 61966-2-1), noise in 8-bit steps, and JPEG where a quality is given."""
    light = np.clip(light, 0, 1)
    curve = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055) * 255
    if noise:
        curve = curve + np.random.default_rng(seed).normal(0, noise, curve.shape)
    grey = np.clip(np.rint(curve), 0, 255).astype(np.uint8)
    if quality is None:
        return grey
    file = io.BytesIO()
    Image.fromarray(grey).save(file, "JPEG", quality=quality)
    return np.asarray(Image.open(file))


def linear(grey):
    """Undo the sRGB curve; on 0 to 255."""
    value = grey / 255.0
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4) * 255.0
