"""How many threads linear algebra uses in a process of ours."""

import os
from collections.abc import MutableMapping

LIMITS = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "BLIS_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
"""Read by the libraries under numpy and scipy when these are imported."""
OTHERS = ("OMP_NUM_THREADS", "GOTO_NUM_THREADS")
"""Read by some of them where none of the above is set."""


def one_thread(environment: MutableMapping[str, str] = os.environ) -> None:
    """Have linear algebra work in one thread, unless the environment says how many.

    Products of some hundred numbers gain nothing from threads, which then wait for each other. For a process
    that is ours alone, before numpy is imported: the command line and the page's workers call it, `import
    recommender` does not.
    """
    if not any(name in environment for name in (*LIMITS, *OTHERS)):
        environment.update(dict.fromkeys(LIMITS, "1"))
