"""Resizing as matrices, and how soft it leaves a picture: the second told number. NumPy alone."""
import math

import numpy as np

WAVE, AREA = 0.3, math.sin(math.pi * 0.3) / (math.pi * 0.3)  # cycles an output pixel; what an area average leaves of them


def cubic(x):
    x = np.abs(x)
    return np.where(x <= 1, 1.5 * x**3 - 2.5 * x**2 + 1, np.where(x < 2, -0.5 * x**3 + 2.5 * x**2 - 4 * x + 2, 0))


KERNELS = {
    "cubic": cubic,
    "linear": lambda x: np.maximum(0, 1 - np.abs(x)),
    "lanczos": lambda x: np.where(np.abs(x) < 3, np.sinc(x) * np.sinc(x / 3), 0),
    "box": lambda x: (np.abs(x) <= 0.5).astype(float),
    "narrow": lambda x: (np.abs(x) <= 0.25).astype(float),  # near to picking one pixel, without its shift
}


def resizing(n_out, n_in, kernel, sigma=0.0):
    """Matrix from n_in to n_out samples; before it a blur of sigma output pixels."""
    ratio = n_in / n_out
    width = max(ratio, 1)
    at = (np.arange(n_out) + 0.5) * ratio - 0.5
    x = np.arange(n_in)[None] - at[:, None]
    m = KERNELS[kernel](x / width)
    empty = m.sum(1) < 1e-9
    m[empty, np.abs(x[empty]).argmin(1)] = 1
    m = m / m.sum(1, keepdims=True)
    if sigma > 0:
        i = np.arange(n_in)
        g = np.exp(-0.5 * ((i[None] - i[:, None]) / (sigma * ratio)) ** 2)
        m = m @ (g / g.sum(1, keepdims=True))
    return m.astype(np.float32)


def contrast(m):
    """What is left of a wave of WAVE cycles an output pixel after the matrix m."""
    n_out, n_in = m.shape
    wave = np.exp(2j * math.pi * WAVE * (np.arange(n_in) + 0.5) * n_out / n_in)
    same = np.exp(2j * math.pi * WAVE * (np.arange(n_out) + 0.5))
    edge = n_out // 6
    return float(np.real((m @ wave) * same.conj())[edge:-edge].mean())


def softness_of(left):
    return min(1.6, max(-1.5, (AREA - left) / 0.5))
