"""The process beside the page that does the long work: asked and answering over its own pipes.

It is a process and not a thread so that it can be stopped at any moment, and so that the page stays quick.
"""

import os
import pickle
import struct
import sys
from dataclasses import dataclass, field, replace
from typing import Any, BinaryIO

from recommender import suggest
from recommender.errors import RecommenderError
from recommender.evaporation import DEFAULT_CONDITIONS, Conditions
from recommender.evidence.overlay import Overlay
from recommender.formulas import redundancy
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Formula
from recommender.notebook.overlay import palette_with
from recommender.palette import Palette, shipped
from recommender.suggest import Request

LENGTH = struct.Struct("!Q")


@dataclass(frozen=True, slots=True)
class Job:
    """One long job: a verb, the formula on the page, what is wished, and the person's own."""

    verb: str
    formula: Formula
    over: tuple[Overlay, Conditions] = field(default_factory=lambda: (Overlay(), DEFAULT_CONDITIONS))
    request: Request = field(default_factory=lambda: Request(""))
    relay: bool = False


def answer(ask: Job, palette: Palette) -> Any:
    """Return findings, or for `trim` what would be missed; raises `RecommenderError`."""
    name = ask.formula.name
    ground = replace(palette, saved={name: ask.formula})
    match ask.verb:
        case "trim":
            return redundancy.trim(FormulaDrydown.of(name, ground))
        case "extend":
            return suggest.extend(ask.request, ground, formula=name if ask.request.material != name else None,
                                  relay=ask.relay)  # fmt: skip
        case "vary":
            return suggest.vary(ask.request, ground)
    return suggest.replace(ask.request, ground, formula=name)


def packed(value: object) -> bytes:
    """Return a value as it goes over a pipe: its length, then itself."""
    body = pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)
    return LENGTH.pack(len(body)) + body


def main() -> None:
    """Answer until the page ends."""
    if hasattr(os, "nice"):
        os.nice(10)  # the page itself goes first
    source, sink = sys.stdin.buffer, sys.stdout.buffer
    sys.stdout = sys.stderr  # what a library prints must not mix with answers
    over, palette = (Overlay(), DEFAULT_CONDITIONS), shipped()
    while (ask := _next(source)) is not None:
        try:
            if ask.over != over:
                over, palette = ask.over, palette_with(*ask.over)
            told: tuple[str, Any] = ("answer", answer(ask, palette))
        except RecommenderError as error:
            told = ("error", str(error))
        except Exception as error:
            told = ("failed", f"{type(error).__name__}: {error}")
        sink.write(packed(told))
        sink.flush()


def _next(source: BinaryIO) -> Job | None:
    head = source.read(LENGTH.size)
    if len(head) < LENGTH.size:
        return None
    found: Job = pickle.loads(source.read(LENGTH.unpack(head)[0]))
    return found


if __name__ == "__main__":
    main()
