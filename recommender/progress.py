"""How much of some work is done, reported to whoever waits for it."""

from collections.abc import Callable
from typing import TypeAlias

Progress: TypeAlias = Callable[[float], object]
"""Is given the share of the work that is done, 0-1."""
StageProgress: TypeAlias = Callable[[str, float], bool]
"""Is given what is being done and the share of the work that is done, 0-1; returns whether it goes on."""


def part(progress: Progress | None, start: float, end: float) -> Progress | None:
    """Return the progress of a part of some work, which goes from `start` to `end` of the whole.

    >>> found = []
    >>> half = part(found.append, 0.5, 1.0)
    >>> half(0.0), half(0.5), found
    (None, None, [0.5, 0.75])
    """
    if progress is None:
        return None
    return lambda share: progress(start + (end - start) * share)


def parts(progress: Progress | None, count: int) -> list[Progress | None]:
    """Return the progress of each of some equal parts of some work, one after the other."""
    return [part(progress, n / count, (n + 1) / count) for n in range(count)]
