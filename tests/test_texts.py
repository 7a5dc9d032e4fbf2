import ast
import re
import shlex
from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest
from click.testing import CliRunner
from command_line import run

import recommender
from recommender import reasons
from recommender.cli import cli
from recommender.evidence.catalogue import load
from recommender.output import sentences
from recommender.output import wording as words
from recommender.regulation import STATUSES

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = Path(recommender.__file__).parent
PROMISES = re.compile(r"\b(safe|safely|compliant|compliance|complies|pass|passes|passed)\b", re.IGNORECASE)
MARKS = ["\N{REGISTERED SIGN}", "\N{TRADE MARK SIGN}", "\N{SERVICE MARK}", "\N{SOUND RECORDING COPYRIGHT}"]

LIMIT = reasons.LimitContribution(
    substance="coumarin",
    through="tonka",
    limit_percent=1.5,
    category="4",
    market="standards",
    verified=False,
    dosage=15.0,
    most_parts=111.1,
    before=0.1,
    after=0.3,
)
REASONS: list[reasons.Reason] = [
    reasons.SharedFacets({"hay": reasons.FacetStrengths(3, 2)}),
    reasons.NearFacets({"vanilla": 0.3}),
    reasons.LessOfFacets({"sweet": reasons.FacetStrengths(0, 3), "powdery": reasons.FacetStrengths(1, 2)}),
    reasons.LastingReason(600.0, 300.0, 900.0, "base", 1.0, None),
    reasons.StrengthReason(5.0, 10.0, "curve", firm=True),
    reasons.StrengthReason(5.0, 10.0, "class", firm=False),
    reasons.RelationPath(
        (reasons.RelationStep("coumarin", "constituent-of", "tonka bean absolute", "much of it"),)
    ),
    *(reasons.RelationWarning(kind, "a note") for kind in words.RELATION_WORDS),
    reasons.LabelsFromMemory(7, 3),
    reasons.UseLevel(0.0005, 15.0),
    reasons.BeyondUsualUse("coumarin", 120.0, 2.0, 3.0, 60.0, 4.0),
    reasons.ReplacementDose(True, 1.2, 2.1, False),
    reasons.ReplacementDose(False, 6.0, 2.1, True),
    reasons.ReplacementDose(True, None, None, False),
    reasons.SharedDrawbacks(tuple(words.TROUBLE_WORDS)),
    reasons.MilderAcetal(),
    reasons.PracticeDrawback("tonka", "soap", "fair", "the lactone opens"),
    *(reasons.PracticeDrawback("tonka", quality, None, "") for quality in sentences.UNKNOWN),
    reasons.PriceClasses("tonka", "high", "low"),
    reasons.PriceClasses("tonka", "low", "medium"),
    reasons.PriceClasses("tonka", "low", "low"),
    reasons.PracticeDrawback("tonka", "soap", "poor", ""),
    reasons.PracticeDrawback("Tonka", "colour", "coloured", ""),
    reasons.PracticeDrawback("Tonka", "colour in time", "browns", "in light."),
    reasons.ClassicPair("tonka", "", basis="memory"),
    reasons.PairedLike("tonka", "hay", "lavender", "fern", basis="common practice"),
    reasons.PairedLike("tonka", "tonka", "coumarin", "", basis="memory"),
    reasons.Bridge({"hay": reasons.FacetStrengths(2, 1)}),
    reasons.FacetAffinity("hay", "lavender", 1.2),
    reasons.StripCheck("tonka", 10.0, 1.0, (5 / 60, 1.0)),
    reasons.DoubtfulCurve(0.1),
    reasons.StrengthDispute("ethyl vanillin", "vanillin", ""),
    reasons.StrengthClass(0.8),
    reasons.FormulaEffect(("rose",), 0.1, 0.5, 0.04, 12.0, 1.0, 24.0),
    reasons.RelayReason("a", 4.0, "b", 9.0, 7.0),
    reasons.BlendProfile({"a": 0.6, "b": 0.4}, 0.9, ("clove",)),
    reasons.BlendProfile({"a": 0.6, "b": 0.4}, 0.9, ()),
    reasons.ThroughNatural("coumarin", "tonka", 5.4, 0.0, 90.0, 0.0, 40.0),
    reasons.ThroughNatural("coumarin", "tonka", 5.4, 0.5, 90.0, 9.0, 20.0),
    reasons.LabelAddition("tonka", {"Coumarin": 90.0}),
    reasons.LabelAddition("tonka", {"Coumarin": 90.0}, in_addition=True),
    reasons.LabelAddition("oil", {f"name {n}": 10.0 - n for n in range(7)}),
    LIMIT,
    replace(LIMIT, through=None, verified=True, market="eu"),
    replace(LIMIT, dosage=None, most_parts=None, before=None, after=None),
    replace(LIMIT, most_parts=1000.0, before=None, after=None),
    reasons.TermDisagreement({"likeness": 0.1, "facet": 0.9}),
    reasons.TermDisagreement({"likeness": 0.9, "facet": 0.1}),
]


def strings(path: Path) -> list[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    ]


def test_the_sentences_below_cover_every_kind_of_reason():
    assert {type(reason) for reason in REASONS} == set(get_args(reasons.Reason))


def test_every_kind_of_reason_has_a_name_of_its_own():
    assert len({kind.kind for kind in get_args(reasons.Reason)}) == len(get_args(reasons.Reason))


@pytest.mark.parametrize("reason", REASONS, ids=[f"{n} {r.kind}" for n, r in enumerate(REASONS)])
def test_no_reason_promises_safety(reason):
    sentence = sentences.reason(reason, "benzaldehyde", "coumarin")
    assert sentence.endswith(".")
    assert sentence[0].isupper() or sentence[0].isdigit()
    assert not PROMISES.search(sentence)


@pytest.mark.parametrize("name", ["", *sorted(cli.commands)])
def test_no_help_text_promises_safety(name):
    shown = CliRunner().invoke(cli, [name, "--help"] if name else ["--help"])
    assert shown.exit_code == 0
    assert not PROMISES.search(shown.output)


@pytest.mark.parametrize(
    "path", sorted(PACKAGE.rglob("*.py")), ids=lambda path: str(path.relative_to(PACKAGE))
)
def test_no_string_in_the_package_promises_safety_or_names_a_mark(path):
    assert [text for text in strings(path) if PROMISES.search(text)] == []
    assert [text for text in strings(path) if any(mark in text for mark in MARKS)] == []


def test_no_note_of_the_tables_promises_safety():
    catalogue = load()
    found = [caution.text for material in catalogue.materials for caution in material.cautions]
    found += [limit.note for limit in catalogue.limits] + [rule.note for rule in catalogue.allergens]
    found += [limit.name for limit in catalogue.limits] + [kind.words for kind in catalogue.categories]
    found += [*catalogue.columns.values()] + [relation.note for relation in catalogue.relations]
    found += [facet.meaning for facet in catalogue.facets]
    assert len(found) > 500
    assert [text for text in found if PROMISES.search(text)] == []


@pytest.mark.parametrize(
    "arguments",
    [
        ("check", "tide_pool.csv", "--dosage", "15"),
        ("check", "morello.csv", "--dosage", "15", "--format", "json"),
        ("check", "green_fig.csv", "--dosage", "1", "--category", "12"),
        ("check", "morello.csv", "--dosage", "2", "--category", "9"),
        ("limits",),
        ("limits", "--stale"),
        ("limits", "bergamot oil"),
        ("extend", "morello.csv", "--dosage", "20", "--top", "20"),
        ("dose", "coumarin", "isoeugenol", "--dosage", "30"),
        ("material", "methyl eugenol"),
    ],
)
def test_no_answer_about_limits_promises_safety(arguments):
    files = [str(ROOT / "data" / "demo" / x) if x.endswith(".csv") else x for x in arguments]
    done = run(*files)
    assert done.status in (0, 1)
    assert not PROMISES.search(done.out + done.err)
    words_of_status = re.findall(r"(?i)(?:above|below) (?:the|an?) [a-z ]*limit(?: held)?", done.out)
    assert {word.lower() for word in words_of_status} <= set(STATUSES)


def test_the_pages_promise_no_more_than_the_tool_and_end_their_advice_as_it_does():
    pages = [page for page in (ROOT / "README.md", ROOT / "data" / "README.md") if page.exists()]
    if not pages:
        pytest.skip("no page is shipped here")
    done = run("check", str(ROOT / "data" / "demo" / "morello.csv"), "--dosage", "15")
    advice = done.out.splitlines()[-1]
    assert "a qualified person signs off" in advice
    texts = [" ".join(page.read_text(encoding="utf-8").split()) for page in pages]
    for clause in advice.rstrip(".").split("; "):
        assert clause in texts[0]
    assert [found for text in (done.out, *texts) if (found := PROMISES.findall(text))] == []


def test_the_readme_opens_with_what_the_tool_answers():
    page = ROOT / "README.md"
    if not page.exists():
        pytest.skip("README.md is not shipped here")
    command, answer = page.read_text(encoding="utf-8").split("```")[1].removeprefix("\n").split("\n", 1)
    prompt, name, *words = shlex.split(command)
    assert (prompt, name) == ("$", "recommender")
    assert run(*words).out.rstrip() == answer.rstrip()


def test_nothing_that_the_catalogue_holds_has_a_registered_or_trade_mark_sign():
    text = repr(load())
    assert "benzaldehyde" in text
    assert [mark for mark in MARKS if mark in text] == []
