"""Run the terminal face as ``python -m counterpoise``."""

from counterpoise.cli import main

main()
