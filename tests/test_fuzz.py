"""Inputs as people and their spreadsheets write them, some damaged: each is answered, or refused in one line.

They are built by their structure (a formula has lines, a line a material of the catalogue) and damaged in
few places, so that most get past the first check. RECOMMENDER_FUZZ=5000 takes so many, counts them by
outcome, and wants half of them answered and none to take 10 s.
"""

import collections
import os
import sys
import time
from dataclasses import dataclass, field

import pytest
from command_line import run
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from recommender.evidence.catalogue import CATEGORIES, load

MANY = int(os.environ.get("RECOMMENDER_FUZZ", "0"))
EXAMPLES = MANY or 40
CATALOGUE = load()
NATURALS = sorted(m.name for m in CATALOGUE.materials if m.kind == "natural" and m.role == "palette")
USED = [m for m in CATALOGUE.materials if m.role == "palette"]
NAMES = sorted({m.name for m in USED if m.kind != "solvent"})
SOLVENTS = sorted({m.name for m in USED if m.kind == "solvent"})
SYNONYMS = sorted({n.text for m in USED for n in m.names})
CONSTITUENTS = sorted({m.cas for m in USED if m.kind == "molecule" and m.cas} | {"coumarin", "linalool"})
NUMBERS = sorted({m.cas for m in USED if m.cas})
FACETS = sorted(f.name for f in CATALOGUE.facets)
UMBRELLAS = sorted(u.word for u in CATALOGUE.umbrellas)
RATINGS = ("gone", "trace", "clear", "strong", "too strong", "faint", "nothing", "too loud")
NASTY = (
    *("", " ", "=1+1", "＝1", "\t", "\x1b[2J", "\u202e", "\ufeff", "'", '"', ",", ";", "\n", "nan", "inf"),
    *(
        "-1",
        "0",
        "1e308",
        "1e999",
        "9" * 400,
        "0.1.2",
        "1'000,5",
        "1.000,5",
        "½",
        "٣",
        "x" * 3_000,
        "(" * 3_000,
    ),
    *(
        "ß",
        "é",
        "香",
        "\U0001f339",
        "a.csv",
        "loop.csv",
        "../x.csv",
        "NULL",
        "-",
        "%",
        "1:0",
        "1:1e9",
        "#REF!",
    ),
    *("91-64-5", "91-64-6", "coumarin (CAS 91-64-5)", "less rose", "not", "0h", "1e9 h", "30min"),
)


def weighted(*choices):
    """Return one of several strategies, each with how often it is taken."""
    return st.sampled_from(
        [number for number, (times, _) in enumerate(choices) for _ in range(times)]
    ).flatmap(lambda number: choices[number][1])


numbers = weighted(
    (30, st.integers(1, 500).map(str)),
    (15, st.floats(0.001, 900).map(lambda x: f"{x:.3f}")),
    (1, st.sampled_from(["0.5 g", "12 mg", "1e2", "+3", "3."])),
)
percents = weighted(
    (6, st.just("")),
    (6, st.sampled_from(["10", "1", "0.1", "50", "100"])),
    (3, st.sampled_from(["10 %", "1:10", "neat", "1 in 100", "5%"])),
)
materials = weighted(
    (16, st.sampled_from(NAMES)), (4, st.sampled_from(SYNONYMS)), (3, st.sampled_from(NUMBERS))
)
hours = weighted(
    (8, st.sampled_from(["0", "fresh", "30min", "1h", "8h", "24 h", "3d", "2w", "0.5", "1,5h"])),
    (2, st.floats(0, 2_000).map(lambda x: f"{x:.2f}h")),
)
phrases = st.lists(
    weighted((8, st.sampled_from(FACETS)), (3, st.sampled_from(UMBRELLAS)), (1, st.text(max_size=8))),
    min_size=1,
    max_size=3,
).flatmap(
    lambda words: st.sampled_from([" ", ", ", "/", " without ", ", less ", " not ", " and "]).map(
        lambda by: by.join(words)
    )
)
readings = weighted((20, st.sampled_from(RATINGS)), (9, st.integers(0, 100).map(str)), (1, numbers))
days = weighted(
    (30, st.sampled_from(["", "2026-03-01", "01.03.2026", "March 2024", "2024"])),
    (1, st.sampled_from(["3/4/2026", "2026-02-30"])),
)
notes = weighted((6, st.just("")), (3, st.text(max_size=12)), (1, st.sampled_from(NASTY)))


@dataclass(frozen=True)
class Case:
    """A command with the files that it reads, name -> bytes; `kind` is what it is counted as."""

    kind: str
    words: tuple[str, ...]
    files: dict[str, bytes] = field(default_factory=dict)

    def __hash__(self):
        return hash((self.words, *self.files.items()))


@st.composite
def sheets(draw, columns, least=1, most=8):
    """Draw a table as some spreadsheet saves it; in a third of them a cell or two is damaged."""
    names = [name for name, (_, needed) in columns.items() if needed or draw(st.booleans())]
    names = draw(st.permutations(names))
    rows = [[draw(columns[name][0]) for name in names] for _ in range(draw(st.integers(least, most)))]
    if draw(st.integers(0, 2)) == 0:
        for _ in range(draw(st.integers(1, 2))):
            row, place = draw(st.sampled_from(rows)), draw(st.integers(0, len(names) - 1))
            row[place] = draw(st.sampled_from(NASTY))
    titles = [
        draw(st.sampled_from([name, name, name, name.upper(), name.replace("_", " ")])) for name in names
    ]
    by = draw(st.sampled_from([",", ",", ";", "\t"]))
    quoted = (
        by.join('"' + cell.replace('"', '""') + '"' if set(cell) & set(',;\t"\n\r') else cell for cell in row)
        for row in [titles, *rows]
    )
    end = draw(st.sampled_from(["\n", "\r\n"]))
    before = draw(st.sampled_from(["", "", "", "sep=" + by + end, end]))
    text = before + end.join(quoted) + draw(st.sampled_from([end, "", end * 3]))
    encoding = draw(st.sampled_from(["utf-8", "utf-8", "utf-8-sig", "utf-16", "cp1252"]))
    data = text.encode(encoding, "replace")
    if draw(st.integers(0, 11)) == 0:  # as a broken transfer leaves it
        at = draw(st.integers(0, len(data)))
        data = data[:at] + draw(st.binary(max_size=6)) + data[at + draw(st.integers(0, 6)) :]
    return data


LINES = {
    "material": (materials, True),
    "parts": (numbers, True),
    "dilution_percent": (percents, False),
    "solvent": (weighted((3, st.just("")), (2, st.sampled_from(SOLVENTS))), False),
    "note": (notes, False),
    "theme": (weighted((5, st.just("")), (1, st.sampled_from(FACETS))), False),
}


@st.composite
def formula_cases(draw):
    """Draw a formula, often with an accord in it, and a question about it."""
    files = {"formula.csv": draw(sheets(LINES))}
    for inner in ("a.csv", "b.csv")[: draw(st.integers(0, 2))]:
        named = LINES | {
            "material": (weighted((6, materials), (2, st.sampled_from(["a.csv", "b.csv"]))), True)
        }
        files = {"formula.csv": draw(sheets(named)), **files, inner: files["formula.csv"]}
    dosage = draw(weighted((8, st.sampled_from(["15", "2", "0.5", "100"])), (1, st.sampled_from(NASTY))))
    category = draw(weighted((8, st.sampled_from(CATEGORIES)), (1, st.sampled_from(NASTY))))
    batch = draw(st.sampled_from(["10g", "5", "1kg", "250 mg", "30 ml"]))
    words = draw(
        st.sampled_from(
            [
                ("drydown", "formula.csv"),
                ("check", "formula.csv", "--dosage", dosage, "--category", category),
                (
                    "weigh",
                    "formula.csv",
                    "--batch",
                    batch,
                ),
                ("formulas", "save", "formula.csv", "--as", draw(st.sampled_from(["posy", "a b", *NASTY]))),
            ]
        )
    )
    return Case("formula", words, files)


@st.composite
def certificate_cases(draw):
    """Draw what a certificate says of a natural in a formula."""
    natural = draw(st.sampled_from(NATURALS))
    share = weighted((9, st.floats(0.01, 20).map(lambda x: f"{x:.2f}")), (1, numbers))
    contents = draw(st.lists(st.tuples(st.sampled_from(CONSTITUENTS), share), min_size=1, max_size=4))
    text = f"{natural}: " + ", ".join(f"{name} {share}" for name, share in contents)
    if draw(st.integers(0, 3)) == 0:
        at = draw(st.integers(0, len(text)))
        text = text[:at] + draw(st.sampled_from(NASTY)) + text[at:]
    formula = f'material,parts\n"{natural}",10\ncoumarin,1\n'.encode()
    words = ("check", "formula.csv", "--dosage", "10", "--content", text)
    return Case("certificate", words, {"formula.csv": formula})


BOTTLES = {
    "label": (
        weighted((4, materials), (1, st.text(max_size=12)), (2, materials.map(lambda x: f"{x} 10%"))),
        True,
    ),
    "cas": (weighted((3, st.just("")), (2, st.sampled_from(NUMBERS))), False),
    "dilution": (percents, False),
    "solvent": (weighted((3, st.just("")), (2, st.sampled_from([*SOLVENTS, "DPG", "TEC"]))), False),
    "amount": (weighted((8, numbers), (1, st.sampled_from(["3 ml", "0.5 kg", "12,5", "500 mg"]))), False),
    "price": (weighted((8, numbers), (1, st.sampled_from(["€ 3.20", "$4", "4,50 EUR"]))), False),
    "opened": (days, False),
    "lot": (notes, False),
    "note": (notes, False),
}
limited = weighted((40, st.floats(0.001, 30).map(lambda x: f"{x:.3g}")), (1, numbers))
LIMITS = {
    "name": (st.sampled_from([f"group {n}" for n in range(9)]), True),
    "cas": (st.sampled_from(NUMBERS), True),
    "cat_4": (limited, True),
    "cat_5A": (weighted((3, st.just("")), (3, limited)), False),
    "kind": (weighted((30, st.sampled_from(["", "restriction"])), (1, st.just("prohibition"))), False),
    "market": (weighted((30, st.sampled_from(["", "eu", "standards"])), (1, st.just("mars"))), False),
    "date": (days, False),
    "counted_with": (weighted((4, st.just("")), (1, st.sampled_from(NUMBERS))), False),
    "note": (notes, False),
}
STRIPS = {
    "material": (st.sampled_from(NAMES), True),
    "hours": (hours, True),
    "strength": (readings, True),
    "day": (days, False),
    "room_c": (weighted((3, st.just("")), (30, st.just("21")), (1, st.sampled_from(["25,5", "300"]))), False),
    "words": (notes, False),
}
TRIALS = {
    "hours": (hours, True),
    "facet": (weighted((2, st.just("")), (6, st.sampled_from(FACETS))), True),
    "strength": (readings, True),
    "day": (days, False),
    "batch_g": (weighted((3, st.just("")), (2, numbers)), False),
    "verdict": (notes, False),
}


def sheet_cases(kind, columns, *words):
    """Return cases of a command that reads one table."""
    return sheets(columns).map(lambda data: Case(kind, words, {"sheet.csv": data}))


@st.composite
def typed_cases(draw):
    """Draw readings, hours and phrases as they are typed."""
    parts = draw(st.lists(st.tuples(st.sampled_from(FACETS), readings), min_size=1, max_size=3))
    text = ", ".join(f"{facet} {rating}" for facet, rating in parts)
    hour = draw(weighted((9, hours), (1, st.sampled_from(NASTY))))
    if draw(st.integers(0, 3)) == 0:
        at = draw(st.integers(0, len(text)))
        text = text[:at] + draw(st.sampled_from(NASTY)) + text[at:]
    phrase = draw(weighted((9, phrases), (1, st.sampled_from(NASTY))))
    material = draw(weighted((9, materials), (1, st.sampled_from(NASTY))))
    rating = draw(weighted((9, readings), (1, st.sampled_from(NASTY))))
    return draw(
        st.sampled_from(
            [
                Case("reading", ("trials", "add", "posy", "--at", hour, text)),
                Case("strip", ("calibrate", "add", "--at", hour, rating, "--", material)),
                Case("phrase", ("materials", "list", "--", phrase)),
                Case("phrase", ("extend", "--top", "2", "--facet", phrase, "--", material)),
                Case("hour", ("extend", "--top", "2", "--until", hour, "--", material)),
                Case("phrase", ("vary", "--top", "2", "--toward", phrase, "--", material)),
                Case("shelf", ("shelf", "add", "--dilution", draw(percents) or "neat", "--", material)),
                Case("phrase", ("nose", "add", "--smells", phrase, "--", material)),
            ]
        )
    )


cases = weighted(
    (4, formula_cases()),
    (2, certificate_cases()),
    (2, sheet_cases("shelf", BOTTLES, "shelf", "import", "sheet.csv")),
    (2, sheet_cases("limits", LIMITS, "limits", "import", "sheet.csv")),
    (2, sheet_cases("strip", STRIPS, "calibrate", "import", "sheet.csv")),
    (2, sheet_cases("reading", TRIALS, "trials", "import", "sheet.csv", "--formula", "posy")),
    (4, typed_cases()),
)
COUNTS: collections.Counter[tuple[str, str]] = collections.Counter()
SEEN: set["Case"] = set()
FAULTS: list[str] = []
SLOW: list[str] = []


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """Return a folder with a notebook in which a formula is saved."""
    folder = tmp_path_factory.mktemp("fuzz")
    (folder / "posy.csv").write_text("material,parts\nlinalool,3\ncoumarin,1\n", encoding="utf-8")
    (folder / "loop.csv").write_text("material,parts\nloop.csv,1\n", encoding="utf-8")
    notebook = str(folder / "notebook.sqlite")
    assert run("formulas", "--notebook", notebook, "save", str(folder / "posy.csv")).status == 0
    return folder, (folder / "notebook.sqlite").read_bytes()


@given(case=cases)
@settings(
    max_examples=4 * EXAMPLES if MANY else EXAMPLES,
    deadline=None,
    database=None,
    phases=[Phase.generate] if MANY else list(settings.default.phases),
    suppress_health_check=list(HealthCheck),
)
def test_every_input_is_answered_or_refused_in_one_line(bench, case):
    if MANY and (case in SEEN or len(SEEN) >= MANY):  # each input counts once
        return
    SEEN.add(case)
    folder, notebook = bench
    for name in ("formula.csv", "sheet.csv", "a.csv", "b.csv", "notebook.sqlite-wal", "notebook.sqlite-shm"):
        (folder / name).unlink(missing_ok=True)
    for name, data in (case.files | {"notebook.sqlite": notebook}).items():
        (folder / name).write_bytes(data)
    words = [str(folder / word) if word in case.files else word for word in case.words]
    words.insert(1, f"--notebook={folder / 'notebook.sqlite'}")
    if case.words[0] in ("drydown", "check", "weigh", "extend", "vary"):
        words.insert(2, "--format=json")
    start = time.monotonic()
    ran = run(*words, fault=True)
    took = time.monotonic() - start
    outcome = "answered" if ran.status in (0, 1) else "refused"
    if "a fault of the program" in ran.err or "Traceback" in ran.err:
        outcome = "fault"
        FAULTS.append(f"{case}: {ran.err}")
    if took > 10:
        SLOW.append(f"{took:.0f} s: {case}")
    COUNTS[case.kind, outcome] += 1
    if not MANY:
        assert outcome != "fault", ran.err
        assert ran.status in (0, 1) or ran.err.count("\n") == 1, ran.err
    elif outcome == "refused" and ran.err.count("\n") != 1:
        FAULTS.append(f"more than a line: {case}: {ran.err}")


def by_outcome():
    """Return the counts as lines, and the first inputs that went wrong."""
    ways = ("answered", "refused", "fault")
    rows = [(kind, [COUNTS[kind, way] for way in ways]) for kind in sorted({kind for kind, _ in COUNTS})]
    rows.append(("in all", [sum(column) for column in zip(*(counts for _, counts in rows), strict=True)]))
    lines = [
        f"{kind:12}" + "".join(f"{n:7} {way}" for n, way in zip(c, ways, strict=True)) for kind, c in rows
    ]
    return "\n".join(["", *lines, *(found[:700] for found in (*FAULTS[:20], *SLOW[:20])), ""])


@pytest.mark.skipif(not MANY, reason="RECOMMENDER_FUZZ gives how many")
def test_most_inputs_get_past_reading_and_none_fails(capsys):
    with capsys.disabled():
        sys.stdout.write(by_outcome())
    answered = sum(n for (_, way), n in COUNTS.items() if way == "answered")
    assert FAULTS == []
    assert SLOW == []
    assert answered >= sum(COUNTS.values()) / 2
