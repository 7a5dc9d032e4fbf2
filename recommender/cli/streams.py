"""Output whose encoding lacks some letters: plainer characters, never an error."""

import codecs
import io
import sys
import unicodedata

HANDLER = "recommender.plainer"
BARS = dict(zip("▁▂▃▄▅▆▇█", ".:-=+*%#", strict=True))
"""Bars from low to high, in characters that every encoding has."""
UNKNOWN = "?"


def plainer(letter: str) -> str:
    """Return what stands for a character in ASCII: the letter without its accent, else `?`.

    >>> "".join(map(plainer, "é▁█ラ"))
    'e.#?'
    """
    bare = unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode()
    return BARS.get(letter) or bare or UNKNOWN


def degrade() -> set[str]:
    """Let standard output and error write in plainer characters what their encoding lacks.

    Returns a set that will hold the characters for which `?` was written.
    """
    lost: set[str] = set()

    def handle(error: UnicodeError) -> tuple[str, int]:
        if not isinstance(error, UnicodeEncodeError):
            raise error
        letters = error.object[error.start : error.end]
        lost.update(letter for letter in letters if plainer(letter) == UNKNOWN)
        return "".join(map(plainer, letters)), error.end

    codecs.register_error(HANDLER, handle)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and stream.errors in ("strict", HANDLER):
            stream.reconfigure(errors=HANDLER)
    return lost


def shown_as_unknown(lost: set[str]) -> str:
    """Return in words that characters were lost on the way out, and a way to have them."""
    count = f"{len(lost)} characters" if len(lost) > 1 else "a character"
    return (
        f'{sys.stdout.encoding}, the encoding of the output, lacks {count}, shown as "{UNKNOWN}"; '
        "PYTHONIOENCODING=utf-8 keeps them."
    )
