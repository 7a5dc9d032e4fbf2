"""How far a job in another process is, and whether it goes on: both through one small file."""

import os
import tempfile
from contextlib import suppress
from pathlib import Path

from recommender.progress import StageProgress


class JobProgress:
    """How far one job is, as the page reads it; without its file the job ends with what it has."""

    def __init__(self) -> None:
        handle, name = tempfile.mkstemp(prefix="recommender-job-")
        os.close(handle)
        self.path = Path(name)
        self._last = ("", 0.0)

    def read(self) -> tuple[str, float]:
        """Return what is being done, blank before anything is, and which share of the work is done, 0-1."""
        with suppress(OSError, ValueError):
            share, _, what = self.path.read_text(encoding="utf-8").partition(" ")
            self._last = what, float(share)
        return self._last

    def stop(self) -> None:
        """End the job with what it has; nothing is left of the file."""
        self.path.unlink(missing_ok=True)


def reporter(path: Path) -> StageProgress:
    """Return what a job calls with what it does and how much of it is done; it returns whether to go on."""

    def report(what: str, share: float) -> bool:
        try:
            with path.open("r+", encoding="utf-8") as file:  # never made anew: its absence is the stop
                file.write(f"{share:.3f} {what}")
                file.truncate()
        except FileNotFoundError:
            return False
        return True

    return report
