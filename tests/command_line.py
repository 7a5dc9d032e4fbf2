"""Runs the command line in this process, with the exit status that a shell would see."""

import contextlib
import io
import json
import sys
from dataclasses import dataclass
from typing import Any
from unittest import mock

from recommender.cli import main


@dataclass(frozen=True)
class Ran:
    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out, parse_constant=_not_json)


def _not_json(word: str) -> None:
    raise AssertionError(f"{word} is not JSON")


def run(*arguments: str, fault: bool = False) -> Ran:
    """Run a command; a fault of the program fails the test, unless it is what is tested."""
    out, err = io.StringIO(), io.StringIO()
    with (
        mock.patch.object(sys, "argv", ["recommender", *arguments]),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        try:
            main()
        except SystemExit as end:
            ran = Ran(int(end.code or 0), out.getvalue(), err.getvalue())
            assert fault or "a fault of the program" not in ran.err, ran.err
            return ran
    raise AssertionError("main did not end the process")
