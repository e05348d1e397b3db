"""Sounds made on purpose, beside the spins of shared.py."""

import io
import struct

import numpy as np
from tests.spin.shared import USUAL, speed_profile


def spin_sound(
    tones, *, rate_hz=16_000, start_s=0.0, points=USUAL, beats=(), standing=(), noise=0.003, seed=2
):
    """A drum with tones {times a turn: size}, ringing ``beats`` times a turn, and hums (Hz)."""
    rng = np.random.default_rng(seed)
    t = np.arange(start_s, points[-1][0], 1 / rate_hz)
    fine = np.arange(0, points[-1][0] + 0.01, 0.001)
    f = speed_profile(t, points)
    turn = np.interp(t, fine, np.cumsum(speed_profile(fine, points)) * 0.001)
    hiss = rng.normal(0, 1, len(t))
    wave = noise * hiss * (1 + f * 2) + 0.0005 * rng.normal(0, 1, len(t))
    for order, size in tones.items():
        wave += size * (f > 2) * np.sin(2 * np.pi * order * turn)
    for order in beats:
        knock = np.exp(-8 * ((order * turn) % 1))
        wave += 0.05 * (f > 2) * knock * np.sin(2 * np.pi * 3000 * t)
    for hz in standing:
        wave += 0.02 * np.sin(2 * np.pi * hz * t)
    return wave


def wav(wave, rate_hz=16_000, *, bits=16, is_float=False, channels=1, extensible=False, before=b""):
    """The bytes of a WAV file."""
    frames = np.repeat(np.asarray(wave)[:, None], channels, axis=1).ravel()
    if is_float:
        data = frames.astype("<f4" if bits == 32 else "<f8").tobytes()
    elif bits == 8:
        data = (np.clip(np.round(frames * 127), -128, 127) + 128).astype(np.uint8).tobytes()
    elif bits == 24:
        whole = np.clip(np.round(frames * (2**23 - 1)), -(2**23), 2**23 - 1).astype("<i4")
        data = whole.view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
    else:
        data = np.clip(
            np.round(frames * (2 ** (bits - 1) - 1)), -(2 ** (bits - 1)), 2 ** (bits - 1) - 1
        )
        data = data.astype(f"<i{bits // 8}").tobytes()
    tag, width = (3 if is_float else 1), bits // 8
    told = struct.pack(
        "<HHIIHH", tag, channels, rate_hz, rate_hz * channels * width, channels * width, bits
    )
    if extensible:
        told = (
            struct.pack("<H", 0xFFFE)
            + told[2:]
            + struct.pack("<HHIH", 22, bits, 0, tag)
            + bytes(14)
        )
    out = io.BytesIO()
    body = b"WAVE" + before + b"fmt " + struct.pack("<I", len(told)) + told
    body += b"data" + struct.pack("<I", len(data)) + data
    out.write(b"RIFF" + struct.pack("<I", len(body)) + body)
    return out.getvalue()
