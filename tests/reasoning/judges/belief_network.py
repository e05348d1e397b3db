"""pyAgrum, imported without its binding's deprecation warnings.

As errors they would bring the interpreter down.
"""

import warnings

with warnings.catch_warnings():
    warnings.simplefilter("ignore", DeprecationWarning)
    import pyagrum as gum

__all__ = ["gum"]
