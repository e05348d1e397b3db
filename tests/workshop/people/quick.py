"""A hasher that costs tests nothing; what it costs the program is tested by itself."""

from argon2 import PasswordHasher

from counterpoise.workshop.people.secret import Hasher


def quick():
    return Hasher(PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
