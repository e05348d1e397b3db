"""What is sent: recordings of a spin, pictures and hostile bytes, made from a seed."""

from __future__ import annotations

import math
import random
import struct
import zlib
from collections.abc import Callable


def spin_file(seed: int) -> bytes:
    """A made-up recording of a spin: still, slowly up through a resonance, full speed, still."""
    rng = random.Random(f"spin {seed}")
    size, top, phase = rng.uniform(0.3, 2.5), rng.choice((800, 1000, 1200)), 0.0
    rows = ["time,x,y,z"]
    for i in range(9000):
        t = i / 100
        up = 60 + (t - 8) * top / 55
        rpm = 0 if t < 8 else min(up, top) if t < 72 else max(top - (t - 72) * 90, 0)
        hz = rpm / 60
        phase += 2 * math.pi * hz / 100
        push = size * (hz / 20) ** 2 * (1 + 6 / (1 + ((hz - 3.2) / 0.5) ** 2))
        shake = (math.cos(phase), 0.6 * math.sin(phase), 0.4 * math.sin(phase + 1))
        x, y, z = (push * part + rng.gauss(0, 0.02) for part in shake)
        rows.append(f"{t:.2f},{x:.4f},{y:.4f},{z + 9.81:.4f}")
    return "\n".join(rows).encode()


def picture(seed: int) -> bytes:
    """A small made-up PNG."""
    rng = random.Random(f"picture {seed}")
    wide, high, base = 48, 32, [rng.randrange(200) for _ in range(3)]
    lines = [
        b"\0" + b"".join(bytes((base[0] + x, base[1] + y, base[2])) for x in range(wide))
        for y in range(high)
    ]

    def chunk(kind: bytes, body: bytes) -> bytes:
        check = struct.pack(">I", zlib.crc32(kind + body))
        return struct.pack(">I", len(body)) + kind + body + check

    head = struct.pack(">IIBBBBB", wide, high, 8, 2, 0, 0, 0)
    body = chunk(b"IDAT", zlib.compress(b"".join(lines), 9))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + body + chunk(b"IEND", b"")


MADE: dict[str, Callable[[int], bytes]] = {"spin": spin_file, "picture": picture}


def raw_bytes(told: str) -> bytes:
    """The bytes of a body: ``spin:3`` and ``picture:3`` are made up, ``text:...`` is as it is."""
    kind, _, rest = told.partition(":")
    return rest.encode() if kind == "text" else MADE[kind](int(rest))
