"""Forty questions by two trained people who knew the names of the materials and no answer of the tool.

`questions.jsonl` was stored before the first of them was asked here: all families, each with the answers that
a perfumer would accept and would reject (`memory` or `common practice`, said in each line). Lists are not
complete: an answer that is not listed is unknown, not wrong. When naturals and musks were added to the
palette, what any perfumer would accept of them was added to six lists (clove stem oil for clove bud oil),
after the answers had been seen.
"""

import json
from functools import cache
from pathlib import Path

import recommender

QUESTIONS = [
    json.loads(line)
    for line in Path(__file__).with_name("questions.jsonl").read_text(encoding="utf-8").splitlines()
]


def asked(question):
    """Return the names that answer a question, the best first."""
    verb, words = question["verb"], question["words"]
    options = {"toward" if verb == "vary" else "facet": words} if words else {}
    if verb == "extend" and question["into"]:
        options["into"] = question["into"]
    found = getattr(recommender, verb)(question["query"], top=50, **options)
    return [suggestion["name"] for suggestion in found["suggestions"]]


@cache
def ranks():
    """Return the ranks of the first accepted and the first rejected answer, None where there is none."""
    found = []
    for question in QUESTIONS:
        names = asked(question)
        found.append(
            tuple(
                next((rank for rank, name in enumerate(names, 1) if name in question[key]), None)
                for key in ("accepted", "rejected")
            )
        )
    return found


def test_an_accepted_answer_comes_first_or_nearly(record_property):
    accepted = [rank for rank, _ in ranks()]
    figures = {
        "hit@1": sum(rank == 1 for rank in accepted),
        "hit@5": sum(rank is not None and rank <= 5 for rank in accepted),
    }
    reciprocal = sum(1 / rank for rank in accepted if rank) / len(accepted)
    for name, count in figures.items():
        record_property(name, f"{count} of {len(accepted)}")
    record_property("MRR", round(reciprocal, 3))
    assert len(accepted) == 40
    assert figures["hit@5"] >= 38  # 0.95
    assert figures["hit@1"] >= 34
    assert reciprocal >= 0.9


def test_what_a_perfumer_would_reject_does_not_come_before_what_is_accepted():
    wrong = [
        question["id"]
        for question, (accepted, rejected) in zip(QUESTIONS, ranks(), strict=True)
        if rejected and (accepted is None or rejected < accepted)
    ]
    assert len(wrong) <= 1, wrong
