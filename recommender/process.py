"""Settings of a process that is ours alone: the command line, or a worker of the page."""

import atexit
import gc
import os
from collections.abc import MutableMapping

LIMITS = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "BLIS_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
"""How many threads linear algebra uses; read when numpy is imported."""
OTHERS = ("OMP_NUM_THREADS", "GOTO_NUM_THREADS")
"""Read by some libraries where none of the above is set."""
ALLOCATIONS = 50_000
"""How many new objects it takes before cycles are looked for."""


def prepare(environment: MutableMapping[str, str] = os.environ) -> None:
    """Have the process start and end without needless work; call it before numpy is imported.

    Linear algebra gets one thread, unless the environment says how many: products of some hundred numbers
    gain nothing from threads, which wait for each other. Python looks for cyclic garbage less often, and not
    once more at the end. `import recommender` alone does none of this: the process may be somebody else's.
    """
    if not any(name in environment for name in (*LIMITS, *OTHERS)):
        environment.update(dict.fromkeys(LIMITS, "1"))
    gc.set_threshold(ALLOCATIONS)
    atexit.register(gc.freeze)
