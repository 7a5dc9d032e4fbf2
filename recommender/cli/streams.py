"""Output in an encoding that lacks some characters: simpler ones instead of an error."""

import codecs
import io
import sys
import unicodedata

HANDLER = "recommender.plainer"
BARS = dict(zip("▁▂▃▄▅▆▇█", ".:-=+*%#", strict=True))
"""ASCII replacements of the bars, from low to high."""
UNKNOWN = "?"


def plainer(letter: str) -> str:
    """Return a character in ASCII: a bar, a letter without its accent, else `?`.

    >>> "".join(map(plainer, "é▁█ラ"))
    'e.#?'
    """
    bare = unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode()
    return BARS.get(letter) or bare or UNKNOWN


def degrade() -> set[str]:
    """Have standard output and error replace characters that their encoding lacks.

    Returns a set that collects the characters replaced by `?`.
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
    """Return a note that characters were replaced, and how to avoid it."""
    count = f"{len(lost)} characters" if len(lost) > 1 else "a character"
    return (
        f'{sys.stdout.encoding}, the encoding of the output, lacks {count}, shown as "{UNKNOWN}"; '
        "set PYTHONIOENCODING=utf-8 to print them."
    )
