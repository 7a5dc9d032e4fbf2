"""The report on a formula in the finished product as text for a narrow terminal."""

import re
import textwrap
from collections.abc import Iterable, Sequence
from datetime import date

from recommender.evidence.markets import AUTHORITIES
from recommender.model import Limit
from recommender.output.wording import SIGNS_OFF, join
from recommender.regulation import (
    CONDITION,
    DECLARED_ABOVE,
    KNOWN_UP_TO,
    PHOTOTOXIC,
    RESTRICTED,
    STATUSES,
    Report,
    SubstanceRow,
)

WIDTH = 78
MOST = 12
"""Substances without an entry that are listed by name."""
NAME = 24
"""Width of the column of names."""
HEADS = f"  {'substance':<{NAME}} {'in product':>11} {'limit':>8} {'used':>7}  by"


def lines(report: Report, name: str, today: date) -> list[str]:
    """Return a report as lines of at most 78 characters, the most serious findings first."""
    out = _wrapped(
        f"{name} at {report.dosage_percent:g} % in the finished product, category {report.category.name}: "
        f"{report.category.words} ({report.category.use})."
    )
    limited = [row for row in report.rows if row.status != STATUSES[-1]]
    if limited:
        out += ["", HEADS]
    for status in STATUSES[:-1]:
        rows = [row for row in limited if row.status == status]
        if rows:
            out.append(status.upper())
            seen: list[Limit] = []
            for row in rows:
                least = row.applied[0] if row.applied and status != STATUSES[0] else None
                if status in (RESTRICTED, CONDITION):
                    out += _open_lines(row, report.category.name)
                elif least is None or least.limit not in seen:
                    out += _row_lines(row, report.dosage_percent, rows)
                if least is not None and least.group > 1:
                    seen.append(least.limit)
    out += _unlimited(report)
    out += ["", *_highest(report), "", *_label(report)]
    for line in (*_unknown(report), *_ages(report, today), SIGNS_OFF):
        out += _wrapped(line)
    return out


def _wrapped(text: str, indent: str = "", more: str = "") -> list[str]:
    joined = re.sub(r"(?<=\d) %", "\N{NO-BREAK SPACE}%", text)  # no line break between a figure and its sign
    found = textwrap.wrap(
        joined, WIDTH, initial_indent=indent, subsequent_indent=more or indent, break_on_hyphens=False
    )
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in found]


def percent_in_product(value: float) -> str:
    """Return a percentage with four significant digits and no exponent.

    >>> percent_in_product(0.0000975), percent_in_product(0.01125), percent_in_product(13.77)
    ('0.0000975', '0.01125', '13.77')
    """
    text = f"{value:.4g}"
    return f"{float(text):.10f}".rstrip("0").rstrip(".") if "e" in text else text


def _row_lines(row: SubstanceRow, dosage_percent: float, beside: Sequence[SubstanceRow]) -> list[str]:
    name = row.substance.name
    least = "at least " if row.substance.least else ""
    amount = f"{least}{percent_in_product(row.percent)} %"
    barred = [limit for limit in row.barred if row.status == STATUSES[0]]
    if barred:
        by = join(dict.fromkeys(f"{AUTHORITIES[x.market].words}{_place(x)}" for x in barred))
        return [f"  {name:<{NAME}} {amount:>11}", *_wrapped(f"by {by}", "    ")]
    applied = row.applied[0]
    memory = ", memory" if not applied.verified else _reference(applied.limit)
    by = AUTHORITIES[applied.limit.market].short + memory
    share = f"{row.ratio:.3g} x" if (row.ratio or 0) > 1 else f"{100 * (row.ratio or 0):.3g} %"
    figures = f"{amount:>11} {percent_in_product(applied.percent) + ' %':>8} {share:>7}"
    found = (
        [f"  {name:<{NAME}} {figures}"] if len(name) <= NAME else [f"  {name}", f"  {'':<{NAME}} {figures}"]
    )
    if len(found[-1]) + len(by) + 2 <= WIDTH:
        found[-1] += f"  {by}"
    else:
        found += _wrapped(by, "    ")
    for remark in _remarks(row, dosage_percent, beside):
        found += _wrapped(remark, "    ")
    return found


def _open_lines(row: SubstanceRow, category: str) -> list[str]:
    """Return the lines of a row with entries that have no figure here: which, and what to look up."""
    amount = f"{'at least ' if row.substance.least else ''}{percent_in_product(row.percent)} %"
    found = [f"  {row.substance.name:<{NAME}} {amount:>11}"]
    if row.substance.through:
        found += _wrapped(
            f"{'of it ' if row.substance.added else ''}from {join(row.substance.through)}", "    "
        )
    for limit in row.open_limits:
        by = f"by {AUTHORITIES[limit.market].words}{_place(limit)}"
        asks = f"look up the figure for category {category}"
        text = f"restricted {by}: {asks}" if limit.kind == "restriction" else f"condition {by}: {limit.note}"
        found += _wrapped(text, "    ")
    if row.barred:
        found += _wrapped(f"{_barred(row)} by {_by(row.barred)}", "    ")
    return found


def _by(limits: Iterable[Limit]) -> str:
    return join(dict.fromkeys(AUTHORITIES[limit.market].words for limit in limits))


def _reference(limit: Limit) -> str:
    return f", {limit.reference.removeprefix('EU ')}" if limit.reference else ""


def _place(limit: Limit) -> str:
    memory = "from memory, unverified" if limit.basis == "memory" else ""
    texts = [limit.reference.removeprefix("EU "), memory]
    return f" ({', '.join(filter(None, texts))})" if any(texts) else ""


def _remarks(row: SubstanceRow, dosage_percent: float, beside: Sequence[SubstanceRow]) -> list[str]:
    """Return remarks on a row: where it comes from, what is counted with it, other limits."""
    applied, found = row.applied[0], []
    if row.substance.through:
        brought = join(
            f"{name} ({percent_in_product(dosage_percent * x)} %)"
            for name, x in row.substance.through.items()
        )
        memory = ", by shares from memory" if "memory" in row.substance.bases else ""
        lead = "of it from" if row.substance.added and row.substance.key != PHOTOTOXIC else "from"
        found.append(f"{lead} {brought}{memory}")
    if applied.group > 1 and row.substance.material:
        total = percent_in_product(dosage_percent / 100.0 * applied.concentrate)
        others = [r for r in beside if r is not row and r.applied and r.applied[0].limit is applied.limit]
        names = [f"{r.substance.name} ({percent_in_product(r.percent)} %)" for r in others]
        more = join(names) or f"{applied.group - 1} more of its kind"
        found.append(f"counted together with {more}: {total} %")
    if len(row.applied) > 1:
        figures = [
            f"{AUTHORITIES[a.limit.market].words} {percent_in_product(a.percent)} %{_from(a.limit)}"
            for a in row.applied[1:]
        ]
        found.append(f"other limits: {join(dict.fromkeys(figures))}")
    if applied.limit.applies_from:
        found.append(f"the limit applies from {applied.limit.applies_from}")
    if row.barred:
        found.append(f"{_barred(row)} by {_by(row.barred)}")
    if restrictions := [x for x in row.open_limits if x.kind == "restriction"]:
        found.append(f"also restricted by {_by(restrictions)}; the figure is not on record: look it up")
    found += [
        f"condition by {AUTHORITIES[x.market].words}{_place(x)}: {x.note}"
        for x in row.open_limits
        if x.kind != "restriction"
    ]
    return found


def _from(limit: Limit) -> str:
    return f" (applies from {limit.applies_from})" if limit.applies_from else ""


def _barred(row: SubstanceRow) -> str:
    return "prohibited outside the chosen market" if row.substance.added else "prohibited as such"


def _unlimited(report: Report) -> list[str]:
    """Return the rows without an entry: first what is prohibited as such but in a natural, then the rest."""
    rows = [row for row in report.rows if row.status == STATUSES[-1]]
    barred = [row for row in rows if row.barred]
    rest = [row for row in rows if not row.barred and not _solvent(row)]
    out = [STATUSES[-1].upper()] if barred or rest else []
    for row in barred:
        through = join(row.substance.through)
        amount = f"{row.substance.name} {percent_in_product(row.percent)} %"
        comes = "" if row.substance.added else f" comes with {through};"
        asks = "" if row.substance.added else ": ask the supplier"
        text = f"{amount}:{comes} {_barred(row)} by {_by(row.barred)}{asks}"
        out += _wrapped(text, "  ", "    ")
    if rest:
        more = f" and {len(rest) - MOST} more (--format json)" if len(rest) > MOST else ""
        out += _wrapped(", ".join(row.substance.name for row in rest[:MOST]) + more, "  ")
    return out


def _solvent(row: SubstanceRow) -> bool:
    return row.substance.material is not None and row.substance.material.kind == "solvent"


def _dosage(value: float) -> str:
    return "over 100 %" if value > 100 else f"{value:.3g} %"


def _highest(report: Report) -> list[str]:
    if report.highest is None:
        return ["No limit is on record for any substance in it, so the tables set no highest dosage."]
    if report.highest == 0:
        return _wrapped(f"Highest dosage: none as long as it contains {report.set_by}.")
    text = f"Highest dosage {_dosage(report.highest)}, set by {report.set_by}"
    same = report.highest_verified == report.highest
    text += "." if same else ", an unverified limit."
    if not same and report.highest_verified is not None:
        text += (
            f" By verified limits alone {_dosage(report.highest_verified)}, set by {report.verified_set_by}."
        )
    return _wrapped(text)


def _label(report: Report) -> list[str]:
    named = [found for found in report.labels if found.named]
    if not named:
        return ["No listed allergen is above the threshold for the label."]
    over = DECLARED_ABOVE[report.category.use]
    out = _wrapped(f"On the label in Europe (above {over:g} %; * new with the 2023 list):")
    entries = [
        f"{f.allergen.name}{'*' if f.allergen.added == '2023' else ''} {percent_in_product(f.percent)} %"
        for f in named
    ]
    out += _wrapped(", ".join(entries), "  ")
    if any(found.allergen.added == "2023" for found in named):
        text = "* new products from 31 July 2026; those already on the market may be sold until 31 July 2028"
        out += _wrapped(text, "  ", "    ")
    if report.category.use == "not a cosmetic":
        out += _wrapped("This is not a cosmetic product: other labelling law applies to it.", "  ")
    return out


def _unknown(report: Report) -> list[str]:
    found = []
    if report.unknown:
        pairs = join(f"{u.substance.name} in {u.natural}" for u in report.unknown)
        found.append(
            f"Present in unknown amounts, so not in the sums: {pairs}. Ask for the certificate (--content)."
        )
    if report.unnamed:
        pairs = join(f"{name} {share:.0f} %" for name, share in report.unnamed.items())
        found.append(f"Share of unknown composition: {pairs}.")
    if report.numberless:
        found.append(f"Without a CAS number here, looked up by name only: {join(report.numberless)}.")
    return found


def _ages(report: Report, today: date) -> list[str]:
    dates = sorted(limit.date for limit in report.entries if limit.date)
    if not dates:
        return []
    oldest, newest = dates[0][:4], dates[-1][:4]
    span = f"of {oldest}" if oldest == newest else f"from {oldest} to {newest}"
    age = today.year - int(newest)
    years = f", the newest {age} year{'s' if age > 1 else ''} old" if age > 0 else ""
    memory = " Those from memory are unverified." if any(x.basis == "memory" for x in report.entries) else ""
    return [
        f"The figures used are {span}{years}; the tables cover the Standards up to "
        f"{KNOWN_UP_TO}.{memory} `recommender limits --stale` lists what to look up."
    ]
