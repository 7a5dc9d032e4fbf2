"""Damaged formula files, and the questions about them: each works, or ends in one clear line.

A formula is taken, bytes are flipped, cells swapped, headers changed, numbers made absurd, workbooks cut
short, accords put inside themselves. Every question must end with status 0, 1 or 2, one line of error and
no fault of the program.
"""

import contextlib
import io
import random
import sys
import traceback
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

ROWS = [
    ["material", "parts", "dilution_percent", "solvent", "note"],
    ["linalool", "70", "", "", "air"],
    ["coumarin", "12.5", "10", "dipropylene glycol", "hay"],
    ["vanillin", "4", "", "", ""],
    ["bergamot oil", "140", "", "", "peel"],
    ["2-isobutyl-3-methoxypyrazine", "0.02", "1", "ethanol", "green"],
    ["dipropylene glycol", "200", "", "", ""],
]
NUMBERS = """
    nan inf -inf 1e308 1e-308 1e999 -5 0 -0 1,5 1.000,5 1,000.5 1.000.000 1'000 10% ½ ٣ 0x10 1_000 1e9 1e10
    3 0.5 2,5 99.999 100 42 0,75
    ten =1+1 1e-12 1/3 ++1 --1 . , 9999999999999999999999
""".split()  # noqa: SIM905
TEXTS = [
    "=cmd|' /C calc'!A0", "+1+1", "@SUM(A1)", "-2", "\t", "'", '"', '""', "\N{ZERO WIDTH SPACE}", "a" * 5000,
    "no such thing", "50-00-1", "../accord.csv", "accord.csv", "inner.csv", "gone.xlsx", "con.csv", "<b>",
    "лаванда", "ラベンダー", "\x00", "\x1b[31m", "{}", "%s", "water", "\N{GRINNING FACE}",
]  # fmt: skip
HEADERS = ["dilution", "Verdünnung %", "dil. %", "dilluton_percent", "%", "parts (g)", "unit", "mg", "", "x"]
ENCODINGS = (*["utf-8"] * 8, *["utf-8-sig"] * 4, "utf-16", "utf-16-le", "utf-16-be", "cp1252", "cp037")
VERBS = {
    "drydown": ["--format", "json"],
    "weigh": ["--dosage", "15", "--resolution", "1mg"],
    "extend": ["--top", "3"],
    "check": ["--dosage", "15", "--category", "4"],
}


def text(rows: list[list[str]], delimiter: str = ",") -> str:
    """Return rows as CSV, cells with a delimiter or quote in quotes."""

    def cell(value: str) -> str:
        return f'"{value.replace(chr(34), chr(34) * 2)}"' if set(value) & {delimiter, '"', "\n"} else value

    return "".join(delimiter.join(map(cell, row)) + "\n" for row in rows)


def workbook(rows: list[list[str]], dice: random.Random) -> bytes:
    """Return rows as a workbook, some numbers as numbers."""
    import openpyxl
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    book = openpyxl.Workbook()
    for row in rows:
        kept = [ILLEGAL_CHARACTERS_RE.sub("", value) for value in row]
        book.active.append(
            [float(v) if v.replace(".", "", 1).isdecimal() and dice.random() < 0.5 else v for v in kept]
        )
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def flipped(data: bytes, dice: random.Random) -> bytes:
    """Return bytes of which some are others."""
    held = bytearray(data)
    for _ in range(dice.choice((1, 3, 20))):
        held[dice.randrange(len(held))] = dice.randrange(256)
    return bytes(held)


def absurd_number(rows: list[list[str]], dice: random.Random) -> None:
    """Put an absurd number into parts or dilution."""
    dice.choice(rows[1:])[dice.choice((1, 2))] = dice.choice(NUMBERS)


def odd_text(rows: list[list[str]], dice: random.Random) -> None:
    """Put an odd text anywhere, the head included."""
    place = dice.randrange(dice.choice((0, 1, 1, 1)), len(rows))
    rows[place][dice.choice((0, 1, 2, 3, 4, 4, 4, 4))] = dice.choice(TEXTS)


def swapped(rows: list[list[str]], dice: random.Random) -> None:
    """Swap two cells."""
    (a, i), (b, j) = ((dice.choice(rows), dice.randrange(5)) for _ in range(2))
    a[i], b[j] = b[j], a[i]


def shape(rows: list[list[str]], dice: random.Random) -> None:
    """Drop, double or stretch a line, or a column."""
    place = dice.randrange(len(rows))
    match dice.randrange(5):
        case 0:
            del rows[place]
        case 1:
            rows.insert(place, list(rows[place]))
        case 2:
            rows[place].append(dice.choice(("", "more", "7")))
        case 3:
            del rows[place][dice.randrange(5)]
        case _:
            column = dice.randrange(5)
            for row in rows:
                row[column] = ""


def other_header(rows: list[list[str]], dice: random.Random) -> None:
    """Call a column otherwise, or nothing."""
    rows[0][dice.randrange(5)] = dice.choice(HEADERS)


ROW_CHANGES: tuple[Callable[[list[list[str]], random.Random], None], ...] = (
    absurd_number, absurd_number, odd_text, odd_text, swapped, shape, other_header,
)  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """A damaged formula file and what was done to it."""

    path: Path
    kind: str


def mutants(count: int, seed: int, folder: Path) -> Iterator[Mutant]:
    """Write damaged formula files one after the other, each in a folder of its own."""
    for number in range(count):
        dice = random.Random(f"{seed} {number}")
        place = folder / f"{number:04d}"
        place.mkdir()
        yield _mutant(number, dice, place)


def _mutant(number: int, dice: random.Random, place: Path) -> Mutant:
    rows = [list(row) for row in ROWS]
    special = SPECIAL[number] if number < len(SPECIAL) else None
    if special:
        name, kind, data = special
        for extra, content in INNER.items():
            (place / extra).write_text(content, encoding="utf-8")
        (place / name).write_bytes(data)
        return Mutant(place / name, kind)
    (place / "inner.csv").write_text("material,parts\nlinalool,1\nmaybe.csv,1\n", encoding="utf-8")
    (place / "maybe.csv").write_text(
        f"material,parts\n{dice.choice(('accord.csv', 'vanillin'))},1\n", encoding="utf-8"
    )
    changes = dice.choices(ROW_CHANGES, k=dice.choice((0, 1, 1, 2, 5)))
    for change in changes:
        with contextlib.suppress(IndexError):  # an earlier change may have taken the place away
            change(rows, dice)
    kind = ", ".join(dict.fromkeys(change.__name__ for change in changes)) or "as it is"
    if dice.random() < 0.25:
        data, name = workbook(rows, dice), "accord.xlsx"
    else:
        encoding = dice.choice(ENCODINGS)
        line_end = dice.choice([*["\n"] * 6, *["\r\n"] * 4, "\r", "\v"])
        delimiter = dice.choice(",,,,,;;\t\t|")
        data = text(rows, delimiter).replace("\n", line_end).encode(encoding, "replace")
        name, kind = "accord.csv", f"{kind}; {encoding}"
    if dice.random() < 0.15 or not changes:
        data, kind = flipped(data, dice), f"{kind}; bytes flipped"
    if dice.random() < 0.1:
        data, kind = data[: dice.randrange(len(data))], f"{kind}; cut short"
    (place / name).write_bytes(data)
    return Mutant(place / name, kind)


def _deep(levels: int) -> dict[str, str]:
    """Return accords that each hold the next twice: two to the power of levels when opened."""
    files = {f"deep{n}.csv": f"material,parts\ndeep{n + 1}.csv,1\ndeep{n + 1}.csv,2\n" for n in range(levels)}
    return files | {f"deep{levels}.csv": "material,parts\nlinalool,1\n"}


def _long(levels: int) -> dict[str, str]:
    """Return a chain of accords, each in the one before."""
    files = {f"long{n}.csv": f"material,parts\nlong{n + 1}.csv,1\n" for n in range(levels)}
    return files | {f"long{levels}.csv": "material,parts\nlinalool,1\n"}


INNER = {
    "self.csv": "material,parts\nself.csv,1\n",
    "one.csv": "material,parts\ntwo.csv,1\nlinalool,1\n",
    "two.csv": "material,parts\none.csv,1\n",
    **_deep(30),
    "wide.csv": "material,parts\ndeep14.csv,1\n",
    **_long(60),
}
HEAD = "material,parts\n"
SPECIAL: list[tuple[str, str, bytes]] = [
    ("accord.csv", "empty", b""),
    ("accord.csv", "blanks", b" \n\t\n\r\n"),
    ("accord.csv", "only a head", HEAD.encode()),
    ("accord.csv", "only a mark", b"\xef\xbb\xbf"),
    ("accord.csv", "only a wide mark", b"\xff\xfe"),
    ("accord.csv", "half a letter", b"\xff\xfem"),
    ("accord.csv", "zero bytes", b"\x00" * 100),
    ("accord.csv", "a quote that never ends", (HEAD + '"linalool,1\n' * 3).encode()),
    ("accord.csv", "a cell beyond all measure", (HEAD + "a" * 200_000 + ",1\n").encode()),
    (
        "accord.csv",
        "a thousand columns",
        (",".join(["material", "parts", *["x"] * 1000]) + "\nlinalool,1\n").encode(),
    ),
    ("accord.csv", "too many lines", (HEAD + "linalool,1\n" * 9000).encode()),
    ("accord.csv", "contains itself", (HEAD + "accord.csv,1\n").encode()),
    ("accord.csv", "contains one that contains itself", (HEAD + "self.csv,1\n").encode()),
    ("accord.csv", "a circle of two", (HEAD + "one.csv,1\n").encode()),
    ("accord.csv", "two to the power of thirty", (HEAD + "deep0.csv,1\n").encode()),
    ("accord.csv", "two to the power of sixteen", (HEAD + "wide.csv,1\n").encode()),
    ("accord.csv", "a chain of sixty", (HEAD + "long0.csv,1\n").encode()),
    ("accord.csv", "all solvent", (HEAD + "ethanol,1\ndipropylene glycol,3\n").encode()),
    ("accord.csv", "tiny parts", (HEAD + "linalool,1e-300\nvanillin,1e-300\n").encode()),
    ("accord.csv", "tiny beside huge", (HEAD + "linalool,1e-300\nvanillin,1e9\n").encode()),
    ("accord.csv", "one line", (HEAD + "linalool,1\n").encode()),
    ("accord.csv", "a tiny dilution", b"material,parts,dilution_percent\nlinalool,1,1e-300\nvanillin,1,\n"),
    ("accord.csv", "sep and nothing", b"sep=;\n"),
    ("accord.csv", "sep is a letter", b"sep=a\nmaterial,parts\nlinalool,1\n"),
    ("accord.csv", "a pdf", b"%PDF-1.7\n%\xe2\xe3\n"),
    ("accord.xlsx", "text in a workbook's name", (HEAD + "linalool,1\n").encode()),
    ("accord.xlsx", "an empty workbook's name", b""),
    ("accord.xlsx", "an empty archive", b"PK\x05\x06" + b"\x00" * 18),
    ("accord.csv", "a workbook in a text's name", workbook(ROWS, random.Random(1))),
]


def ask(verb: str, path: Path) -> tuple[int, str, str]:
    """Ask one question in this process; returns status, what stands on stderr, and a fault or nothing."""
    from recommender.cli import main

    out, err = io.StringIO(), io.StringIO()
    status, fault = -1, ""
    kind = sum(path.parent.name.encode()) % 3
    sheet = path.parent / ("sheet.pdf", "sheet.xlsx", "sheet.csv")[kind]
    more = ["--out", str(sheet)] if verb == "weigh" else []
    with (
        mock.patch.object(sys, "argv", ["recommender", verb, str(path), *VERBS[verb], *more]),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        warnings.catch_warnings(),
    ):
        warnings.simplefilter("error")
        try:
            main()
        except SystemExit as end:
            status = int(end.code or 0)
        except BaseException:
            fault = traceback.format_exc()
    lines = [line for line in err.getvalue().splitlines() if not line.startswith(("note: ", "sheet: "))]
    if not fault and "a fault of the program" in err.getvalue():
        fault = err.getvalue()
    if not fault and status not in (0, 1, 2):
        fault = f"status {status}"
    if not fault and status == 2 and (len(lines) != 1 or not lines[0].startswith("recommender: ")):
        fault = f"not one line: {lines[:3]}"
    if not fault and more and (sheet.exists() != (status == 0) or any(path.parent.glob(".*"))):
        fault = "half a sheet, or none"
    if not fault and any(not letter.isprintable() for line in err.getvalue().split("\n") for letter in line):
        fault = "letters that move the cursor or ring the bell"
    if not fault and status == 2 and len(lines[0]) > 600:
        fault = f"a line of {len(lines[0])} letters"
    return status, err.getvalue(), fault
