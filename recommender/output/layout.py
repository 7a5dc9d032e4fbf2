"""Rows and lines laid out for a width: what does not fit is wrapped, never cropped."""

import os
import re
import shutil
import sys
import textwrap
from collections.abc import Iterable, Mapping, Sequence

ROOMY = 110
"""Widest line of running text."""
NARROWEST = 30
GAP = 2
"""Blanks between two columns."""
LEAST_WRAPPED = 14
"""A column is not wrapped to less than this, or than its longest word where that is shorter."""
LONGEST_WORD = 24
_STYLE = re.compile(r"\x1b\[[0-9;]*m")
_UNIT = re.compile(r"(?<=\d) (?=(?:%|h|min|days|weeks|months|g|mg|C|of 100)\b|%)")
_NO_BREAK = "\N{NO-BREAK SPACE}"


def on_terminal() -> bool:
    """Return whether stdout is a terminal."""
    return sys.stdout.isatty()


def width() -> int | None:
    """Return the characters of a line: those of the terminal, else $COLUMNS, else None for no bound."""
    if on_terminal():
        return max(shutil.get_terminal_size().columns, NARROWEST)
    asked = os.environ.get("COLUMNS", "")
    return max(int(asked), NARROWEST) if asked.isdigit() and int(asked) else None


def most(characters: int) -> int:
    """Return the characters of a line of a text that is never wider than some number of them."""
    return min(width() or characters, characters)


def strong(line: str) -> str:
    """Return a line in bold where a terminal shows it so."""
    plain = not on_terminal() or "NO_COLOR" in os.environ or os.environ.get("TERM") == "dumb"
    return line if plain else f"\x1b[1m{line}\x1b[0m"


def length(line: str) -> int:
    """Return how many characters of a line are seen."""
    return len(_STYLE.sub("", line))


def fit(lines: Iterable[str], columns: int | None) -> list[str]:
    """Return lines of at most some characters: a longer one goes on two blanks further in.

    Running text is never wider than `ROOMY`.

    >>> fit(["  caution: melts near 37 C"], 16)
    ['  caution: melts', '    near 37 C']
    """
    if columns is None:
        return list(lines)
    found: list[str] = []
    for line in lines:
        if length(line) <= columns:
            found.append(line)
            continue
        indent = line[: len(line) - len(line.lstrip())]
        found += _wrapped(line.strip(), min(columns, ROOMY), indent, f"{indent}  ")
    return found


def _wrapped(text: str, columns: int, first: str = "", more: str = "") -> list[str]:
    """Return a text in lines; a figure stays with its unit, a long name is cut rather than lost."""
    room = columns - max(len(first), len(more))
    together = " ".join(_in_pieces(word, room) for word in _UNIT.sub(_NO_BREAK, text).split(" "))
    lines = textwrap.wrap(
        together, columns, initial_indent=first, subsequent_indent=more, break_on_hyphens=False
    )
    return [line.replace(_NO_BREAK, " ") for line in lines] or [""]


def _in_pieces(word: str, room: int) -> str:
    """Return a word that is too long for a line with blanks where it may be broken: after a hyphen.

    >>> _in_pieces("2-ethyl-3,5-dimethylpyrazine", 20), _in_pieces("rose", 20)
    ('2-ethyl-3,5- dimethylpyrazine', 'rose')
    """
    pieces = []
    while len(word) > room and (at := word.rfind("-", 1, room)) > 0:
        pieces.append(word[: at + 1])
        word = word[at + 1 :]
    return " ".join([*pieces, word])


def table(
    rows: Sequence[Sequence[str]],
    heads: Sequence[str],
    wraps: Sequence[bool],
    right: Sequence[bool],
    amount: int | None = None,
    columns: int | None = None,
) -> list[str]:
    """Return rows as lines under their headings.

    Columns that may wrap share what the others leave of the width; where even that is too little, each row
    becomes lines of its own, with its amount first.

    Parameters
    ----------
    rows : sequence of sequence of str
        The cells of each row.
    heads : sequence of str
        The heading of each column.
    wraps, right : sequence of bool
        Whether a column may wrap, and whether it is right-aligned.
    amount : int, optional
        The column that a row begins with where the table does not fit.
    columns : int, optional
        The width in characters; None for no bound.
    """
    widths = _widths(rows, heads, wraps, columns)
    if widths is None:
        return _as_lines(rows, heads, amount, columns or NARROWEST)
    lines = []
    for cells in (heads, *rows):
        wrapped = [
            [cell] if columns is None else _wrapped(cell, max(w, 1))
            for cell, w in zip(cells, widths, strict=True)
        ]
        for n in range(max(map(len, wrapped))):
            parts = (found[n] if n < len(found) else "" for found in wrapped)
            padded = (
                part.rjust(w) if to_right else part.ljust(w)
                for part, w, to_right in zip(parts, widths, right, strict=True)
            )
            lines.append((" " * GAP).join(padded).rstrip())
    return lines


def _widths(
    rows: Sequence[Sequence[str]], heads: Sequence[str], wraps: Sequence[bool], columns: int | None
) -> list[int] | None:
    """Return the width of each column, None where they do not fit beside each other."""
    bodies = [[row[n] for row in rows] for n in range(len(heads))]
    whole = [max(map(len, (head, *body))) for head, body in zip(heads, bodies, strict=True)]
    if columns is None:
        return whole
    room = columns - GAP * (len(heads) - 1)
    if sum(whole) <= room:
        return whole
    widths = [
        max(
            _longest_word([head]),
            _longest_word(body, LEAST_WRAPPED) if wrap else max(map(len, body), default=0),
        )
        for head, body, wrap in zip(heads, bodies, wraps, strict=True)
    ]
    if sum(widths) > room:
        return None
    spare = room - sum(widths)
    while spare:  # what is left goes to the narrowest column that is still short of its whole width
        short = [n for n, w in enumerate(widths) if w < whole[n]]
        if not short:
            break
        widths[min(short, key=lambda n: (widths[n] / whole[n], n))] += 1
        spare -= 1
    return widths


def _longest_word(texts: Iterable[str], least: int = 0) -> int:
    """Return the length of the longest word, or that of the longest text up to `least`."""
    found = list(texts)
    words = max((len(word) for text in found for word in text.split()), default=0)
    return max(min(words, LONGEST_WORD), min(max(map(len, found), default=0), least))


def _as_lines(
    rows: Sequence[Sequence[str]], heads: Sequence[str], amount: int | None, columns: int
) -> list[str]:
    """Return each row as a line that leads with its amount and its name, and the rest below it."""
    lead = 0 if amount is None else amount
    name = next(n for n in range(len(heads)) if n != lead)
    pad = max((len(row[lead]) for row in rows), default=0) if amount is not None else 0
    lines: list[str] = []
    for row in rows:
        rest = [n for n in range(len(heads)) if n != lead and (amount is None or n != name)]
        first = row[lead].rjust(pad) + (f"{' ' * GAP}{row[name]}" if amount is not None else "")
        more = "; ".join(f"{heads[n]}: {row[n]}" if heads[n] else row[n] for n in rest if row[n])
        indent = " " * (pad + GAP if amount is not None else 4)
        lines += _wrapped(first.strip(), columns, first[: len(first) - len(first.lstrip())], indent)
        lines += _wrapped(more, columns, indent, indent) if more else []
    return lines


def named(
    rows: Sequence[Mapping[str, str]],
    heads: Mapping[str, str],
    wide: Sequence[str] = (),
    right: Sequence[str] = (),
    amount: str | None = None,
    columns: int | None = None,
) -> list[str]:
    """Return rows with named cells as `table` does; `heads` maps a column to its heading.

    What has a number of its own begins with it where the table does not fit.
    """
    keys = list(heads)
    if amount is None and keys[0] in ("number", "line"):
        amount = keys[0]
    return table(
        [[row.get(key, "") for key in keys] for row in rows],
        list(heads.values()),
        [key in wide or key == "name" for key in keys],
        [key in right for key in keys],
        keys.index(amount) if amount in keys else None,
        columns,
    )
