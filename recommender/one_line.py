"""A text of any origin as one line, in which nothing moves the cursor of a terminal or fills the screen."""

LONGEST_MESSAGE = 600
"""Characters; a text that it quotes may be a whole file."""


def printable(text: str) -> str:
    r"""Return a text as one line in which nothing moves the cursor of a terminal.

    >>> printable("fig\n leaf\x1b[2J")
    'fig leaf?[2J'
    """
    return "".join(letter if letter.isprintable() else "?" for letter in " ".join(text.split()))


def one_line(text: str) -> str:
    r"""Return a message as one line that does not fill the screen; of a long one the middle is left out.

    >>> one_line("a\n  b\x1b[31m"), len(one_line(1000 * "a"))
    ('a b?[31m', 599)
    """
    line, half = printable(text), (LONGEST_MESSAGE - len(" ... ")) // 2
    return line if len(line) <= LONGEST_MESSAGE else f"{line[:half]} ... {line[-half:]}"
