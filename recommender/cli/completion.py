"""Completion in bash: names with blanks, which bash would take for several words."""

import os
import re

from click.shell_completion import BashComplete, CompletionItem, add_completion_class

_SPECIAL = re.compile(r"([^\w@%+=:,./~-])")


class QuotingBash(BashComplete):
    """Completions for bash, escaped unless the word that is completed begins with a quotation mark."""

    def format_completion(self, item: CompletionItem) -> str:
        """Return the type and the text of a completion as the script of click expects it."""
        return f"{item.type},{item.value if _is_quoted() else escaped(item.value)}"


def escaped(text: str) -> str:
    r"""Return a text as one word of bash.

    >>> print(escaped("lemon oil"))
    lemon\ oil
    """
    return _SPECIAL.sub(r"\\\1", text)


def _is_quoted() -> bool:
    """Return whether the word that is completed begins with a quotation mark."""
    words = os.environ.get("COMP_WORDS", "").split("\n")
    place = os.environ.get("COMP_CWORD", "")
    word = words[int(place)] if place.isdigit() and int(place) < len(words) else ""
    return word.startswith(('"', "'"))


def install() -> None:
    """Have bash complete with these texts."""
    add_completion_class(QuotingBash, "bash")
