from hashlib import sha256
from pathlib import Path

from counterpoise.dynamics.kernels import forces, motion


def test_the_caller_carries_the_digest_of_the_forces_it_was_compiled_with():
    text = Path(forces.__file__).read_bytes()
    assert sha256(text).hexdigest()[:16] == motion.DRAWS_ON
