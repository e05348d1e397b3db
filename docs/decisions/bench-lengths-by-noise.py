"""Shows why lengths of noisy vectors need an interval of their own. Run: python docs/decisions/bench-lengths-by-noise.py."""

import numpy as np

from counterpoise.bench.quantity import Z90, magnitude

RUNS = 20_000


def main() -> None:
    """Print the share of truths held by the plain interval and by ours."""
    rng = np.random.default_rng(1)
    for dimensions in (2, 5):
        for true in (0.5, 1.0, 2.0, 4.0):
            vectors = rng.normal(0, 1, (RUNS, dimensions))
            vectors[:, 0] += true
            lengths = np.linalg.norm(vectors, axis=1)
            plain = np.mean(np.abs(lengths - true) <= Z90)
            found = [magnitude(float(length), 1.0, "sd", dimensions) for length in lengths]
            ours = np.mean([one.low <= true <= one.high for one in found])
            print(f"{dimensions} components, true {true}: plain {100 * plain:.1f} %, ours {100 * ours:.1f} %")


if __name__ == "__main__":
    main()
