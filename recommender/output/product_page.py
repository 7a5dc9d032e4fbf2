"""The report on a formula in the finished product as text for a narrow terminal."""

import re
import textwrap
from collections.abc import Iterable, Sequence
from datetime import date

from recommender.evidence.markets import AUTHORITIES, decides, names_of, short_names_of
from recommender.model import Limit
from recommender.output import layout, limit_sentences
from recommender.output.limit_sentences import percent_of
from recommender.output.wording import SIGNS_OFF, join
from recommender.regulation import (
    ABOVE,
    ANY,
    DECLARED_ABOVE,
    FINDINGS,
    LOOK_UP,
    NO_LIMIT,
    NOT_FOUND,
    NOT_LOOKED_UP,
    NOTHING,
    PHOTOTOXIC,
    PROHIBITED,
    ROUNDING,
    STATUSES,
    STOP,
    LimitUse,
    Report,
    SubstanceRow,
    condition_of,
)

WIDTH = 78
FIRST = 3
"""Substances of a status that the first line names."""
MOST = 12
"""Substances without an entry that are listed by name."""
NAME = 24
"""Width of the column of names."""
HEADS = f"  {'substance':<{NAME}} {'in product':>11} {'limit':>8} {'used':>7}  by"
QUIET = (NOT_LOOKED_UP, NO_LIMIT, NOT_FOUND)
"""Statuses whose rows are listed by name: no entry gives them a figure."""


def lines(report: Report, name: str, today: date) -> list[str]:
    """Return a report as lines of at most 78 characters: what follows, then the most serious findings.

    On a narrower terminal they are shorter.
    """
    out = _wrapped(f"{report.decision.upper()}: {why(report)}")
    on = f", on {report.on}" if report.on else ""
    market = "any market" if report.market == ANY else f"market {report.market}"
    out += _wrapped(
        f"{name} at {report.dosage_percent:g} % in the finished product, category {report.category.name}: "
        f"{report.category.words} ({report.category.use}); {market}{on}."
    )
    if any(row.applied or row.status in FINDINGS for row in report.rows):
        out += ["", HEADS]
    for status in STATUSES:
        rows = [row for row in report.rows if row.status == status]
        if status in QUIET:
            out += _by_name(status, rows, report)
        elif rows:
            out.append(status.upper())
            seen: list[Limit] = []
            for row in rows:
                least = row.applied[0] if row.applied and status != PROHIBITED else None
                if least is None or least.limit not in seen:
                    out += _row_lines(row, report, rows)
                if least is not None and least.group > 1:
                    seen.append(least.limit)
    out += ["", *_highest(report), "", *_label(report)]
    for line in (*limit_sentences.remarks(report), *_numberless(report), *_ages(report, today), SIGNS_OFF):
        out += _wrapped(line)
    return out


def why(report: Report) -> str:
    """Return from what the decision follows, in a few words: the substances of the worst statuses."""
    if report.decision == NOTHING:
        return f"looked for in {limit_sentences.looked_up(report.market)}."
    found = limit_sentences.by_status(report, (PROHIBITED, ABOVE) if report.decision == STOP else FINDINGS)
    if report.decision == LOOK_UP and (unmeasured := [u for u in report.unknown if u.decides]):
        found["present in an unknown amount"] = [f"{u.substance.name} in {u.natural}" for u in unmeasured]
    return f"{'; '.join(f'{_first(names)}: {status}' for status, names in found.items())}."


def _first(names: Sequence[str]) -> str:
    """Return the first of some names, and how many more there are."""
    more = len(names) - FIRST
    return join(names) if more <= 0 else f"{', '.join(names[:FIRST])} and {more} more"


def _wrapped(text: str, indent: str = "", more: str = "") -> list[str]:
    joined = re.sub(r"(?<=\d) %", "\N{NO-BREAK SPACE}%", text)  # no line break between a figure and its sign
    found = textwrap.wrap(
        joined,
        layout.most(WIDTH),
        initial_indent=indent,
        subsequent_indent=more or indent,
        break_on_hyphens=False,
    )
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in found]


percent_in_product = percent_of


def _row_lines(row: SubstanceRow, report: Report, beside: Sequence[SubstanceRow]) -> list[str]:
    """Return the lines of one substance: its amount, its lowest limit, what else there is to report."""
    name, market = row.substance.name, report.market
    amount = f"{'at least ' if row.substance.least else ''}{percent_of(row.percent)} %"
    if not row.applied or row.status == PROHIBITED:
        found = [f"  {name:<{NAME}} {amount:>11}"]
    else:
        applied = row.applied[0]
        by = short_names_of(applied.limit.market, market) + _doubt(applied.limit)
        share = f"{row.ratio:.3g} x" if (row.ratio or 0) > 1 else f"{100 * (row.ratio or 0):.3g} %"
        figures = f"{amount:>11} {percent_of(applied.percent) + ' %':>8} {share:>7}"
        found = (
            [f"  {name:<{NAME}} {figures}"]
            if len(name) <= NAME
            else [f"  {name}", f"  {'':<{NAME}} {figures}"]
        )
        if len(found[-1]) + len(by) + 2 <= layout.most(WIDTH):
            found[-1] += f"  {by}"
        else:
            found += _wrapped(by, "    ")
    for remark in _remarks(row, report, beside):
        found += _wrapped(remark, "    ")
    return found


def _doubt(limit: Limit) -> str:
    """Return what a short name of an authority is followed by: the entry, or why it settles nothing."""
    if limit.superseded_by:
        return f", superseded{_reference(limit)}"
    return ", memory" if limit.basis == "memory" else _reference(limit)


def _by(limits: Iterable[Limit], market: str) -> str:
    return join(dict.fromkeys(f"{names_of(limit.market, market)}{_place(limit)}" for limit in limits))


def _reference(limit: Limit) -> str:
    return f", {limit.reference.removeprefix('EU ')}" if limit.reference else ""


def _place(limit: Limit) -> str:
    memory = "from memory, unverified" if limit.basis == "memory" else ""
    texts = [limit.reference.removeprefix("EU "), memory]
    return f" ({', '.join(filter(None, texts))})" if any(texts) else ""


def _remarks(row: SubstanceRow, report: Report, beside: Sequence[SubstanceRow]) -> list[str]:
    """Return remarks on a row: who prohibits it, where it comes from, what counts with it, other entries."""
    found, dosage_percent, market = [], report.dosage_percent, report.market
    barred = [limit for limit in row.barred if decides(limit.market, market)]
    if row.status == PROHIBITED:
        found.append(f"by {_by(barred, market)}")
    if row.substance.through:
        brought = join(
            f"{name} ({percent_of(dosage_percent * x)} %)" for name, x in row.substance.through.items()
        )
        memory = ", by shares from memory" if "memory" in row.substance.bases else ""
        lead = "of it from" if row.substance.added and row.substance.key != PHOTOTOXIC else "from"
        found.append(f"{lead} {brought}{memory}")
    if row.applied and row.status != PROHIBITED:
        found += _applied(row, report, beside)
    if barred and row.status != PROHIBITED:
        asks = "" if row.substance.added else "; ask the supplier how much there is"
        found.append(f"prohibited as such by {_by(barred, market)}{asks}")
    for limit in row.open_limits:
        asks = _asked(limit, report.category.name)
        shown = "" if decides(limit.market, market) else "shown beside: "
        found.append(f"{shown}restricted by {_by([limit], market)}: {asks}")
    for limit in row.conditions:
        shown = "" if decides(limit.market, market) else "shown beside: "
        found.append(f"{shown}condition to be shown by {_by([limit], market)}: {condition_of(limit)}")
    found += [
        f"shown by a certificate, as asked by {_by([limit], market)}: {condition_of(limit)}"
        for limit in row.shown
    ]
    if row.beside:
        above = " (exceeded)" if any(a.ratio(dosage_percent) > ROUNDING for a in row.beside) else ""
        found.append(f"shown beside, deciding nothing{above}: {join(_figures(row.beside, market))}")
    if others := [limit for limit in row.barred if not decides(limit.market, market)]:
        found.append(f"prohibited outside the chosen market by {_by(others, ANY)}")
    return found


def _asked(limit: Limit, category: str) -> str:
    """Return what is to be looked up of an entry that has no figure for a category."""
    if not limit.percent:
        return f"look up the figure for category {category}"
    there = f"category {next(iter(limit.percent))}" if len(limit.percent) == 1 else "other categories"
    return f"it has a figure for {there} only; look up whether it allows any in category {category}"


def _applied(row: SubstanceRow, report: Report, beside: Sequence[SubstanceRow]) -> list[str]:
    """Return remarks on the limits that decide: what counts together, the others, what of them is dated."""
    applied, found = row.applied[0], []
    if applied.group > 1 and row.substance.material:
        total = percent_of(report.dosage_percent / 100.0 * applied.concentrate)
        others = [r for r in beside if r is not row and r.applied and r.applied[0].limit is applied.limit]
        names = [f"{r.substance.name} ({percent_of(r.percent)} %)" for r in others]
        more = join(names) or f"{applied.group - 1} more of its kind"
        found.append(f"counted together with {more}: {total} %")
    if len(row.applied) > 1:
        found.append(f"other limits: {join(_figures(row.applied[1:], report.market))}")
    if applied.limit.superseded_by:
        found.append(f"superseded by amendment {applied.limit.superseded_by}: look up the figure")
    if applied.limit.applies_from:
        found.append(f"the limit applies from {applied.limit.applies_from}")
    if applied.limit.applies_until:
        found.append(f"the limit applies until {applied.limit.applies_until}")
    return found


def _figures(uses: Iterable[LimitUse], market: str) -> list[str]:
    found = (f"{names_of(a.limit.market, market)} {percent_of(a.percent)} %{_dated(a.limit)}" for a in uses)
    return list(dict.fromkeys(found))


def _dated(limit: Limit) -> str:
    texts = [
        f"applies from {limit.applies_from}" if limit.applies_from else "",
        f"superseded by amendment {limit.superseded_by}" if limit.superseded_by else "",
        "memory" if limit.basis == "memory" else "",
    ]
    return f" ({', '.join(filter(None, texts))})" if any(texts) else ""


def _by_name(status: str, rows: Sequence[SubstanceRow], report: Report) -> list[str]:
    """Return rows without a figure: first those of which more is to be said, then the rest by name."""
    remarked = [row for row in rows if _remarked(row)]
    rest = [row for row in rows if row not in remarked and not _solvent(row)]
    out = [status.upper()] if remarked or rest else []
    if status == NOT_FOUND and out:
        out += _wrapped(f"looked for in {limit_sentences.looked_up(report.market)}", "  ", "    ")
    if status == NOT_LOOKED_UP and out:
        out += _wrapped("your own materials without a CAS number: add it, or look them up", "  ", "    ")
    for row in remarked:
        amount = f"{row.substance.name} {percent_of(row.percent)} %"
        out += _wrapped(f"{amount}: {'; '.join(_remarks(row, report, ()))}", "  ", "    ")
    if rest:
        more = f" and {len(rest) - MOST} more (--format json)" if len(rest) > MOST else ""
        out += _wrapped(", ".join(row.substance.name for row in rest[:MOST]) + more, "  ")
    return out


def _remarked(row: SubstanceRow) -> bool:
    return bool(row.barred or row.open_limits or row.conditions or row.shown or row.beside)


def _solvent(row: SubstanceRow) -> bool:
    return row.substance.material is not None and row.substance.material.kind == "solvent"


def _dosage(value: float) -> str:
    return "over 100 %" if value > 100 else f"{value:.3g} %"


def _highest(report: Report) -> list[str]:
    if report.highest is None:
        return _wrapped("No limit that decides here has a figure on record, so none sets a highest dosage.")
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
    out = _wrapped(f"On the label in Europe (above {over:g} %; * new with the 2023 list of European law):")
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


def _numberless(report: Report) -> list[str]:
    if not report.numberless:
        return []
    return [f"Without a CAS number here: {join(report.numberless)}."]


def _ages(report: Report, today: date) -> list[str]:
    dates = sorted(limit.date for limit in report.entries if limit.date)
    if not dates:
        return []
    oldest, newest = dates[0][:4], dates[-1][:4]
    span = f"of {oldest}" if oldest == newest else f"from {oldest} to {newest}"
    age = today.year - int(newest)
    years = f", the newest {age} year{'s' if age > 1 else ''} old" if age > 0 else ""
    memory = " Those from memory are unverified." if any(x.basis == "memory" for x in report.entries) else ""
    listed = AUTHORITIES["standards"]
    return [
        f"The entries used are {span}{years}; the {listed.lists} is that of {listed.as_of}.{memory} "
        "`recommender limits --stale` lists what to look up."
    ]
