"""How many threads the libraries below numpy take for arithmetic on matrices: one. It loads none of them.

Our matrices are small: several threads spend more time waiting for each other than they save, and on a machine that
has other work to do they wait ten times as long as the work takes.
"""

from __future__ import annotations

from collections.abc import MutableMapping

# What tells the libraries how many (OpenBLAS, MKL, OpenMP, Apple's Accelerate), read once, when numpy is loaded.
THREADS = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


def keep_to_one(environment: MutableMapping[str, str]) -> list[str]:
    """Say so in an environment, unless the user has said otherwise there; the names that were added."""
    added = [name for name in THREADS if name not in environment]
    environment.update(dict.fromkeys(added, "1"))
    return added
