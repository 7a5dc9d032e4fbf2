"""Single materials as rows and cards."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from recommender import units
from recommender.chemistry.odour_strength import threshold_ng_per_l
from recommender.chemistry.vapour_pressure import pressure
from recommender.evaporation import as_read
from recommender.evidence.markets import names_of
from recommender.evidence.observations import deviations
from recommender.formulas.drydown import leading_end
from recommender.model import PRACTICE, PRODUCTS, Figure, Label, Material, OwnNote
from recommender.output import wording
from recommender.output.wording import sixth
from recommender.palette import Palette
from recommender.regulation import entries_of, prohibitions
from recommender.similarity.relations import KIND_WEIGHTS

ROW_COLUMNS = (
    "name",
    "cas",
    "cas_all",
    "kind",
    "role",
    "prohibited",
    "position",
    "lasting_hours",
    "lasting_low",
    "lasting_high",
    "vapour_pressure_pa",
    "strength",
    "labels",
    "basis",
)

LANGUAGES = ("", "German", "French")
"""In which order other names are shown; blank are those of the trade and of chemistry."""
OBSERVED = {
    "curve": "a measured curve",
    "threshold": "a threshold",
    "class": "its class",
    "use level": "usual levels",
    "pair": "one comparison",
    "one molecule": "the molecule that most of it is",
}
"""Kinds of observation of strength, in words."""


def row(palette: Palette, material: Material, market: str = "any") -> dict[str, Any]:
    """Return one material as a row of the listing."""
    stay, own = material.lasting, material.strength
    known = pressure(material)
    return {
        "name": material.name,
        "cas": material.cas or None,
        "cas_all": list(material.cas_all),
        "kind": material.kind,
        "role": material.role,
        "prohibited": bool(prohibitions(material, palette.catalogue.entries, market)),
        "position": stay.position if stay else None,
        "lasting_hours": wording.tidy(stay.hours) if stay else None,
        "lasting_low": wording.tidy(stay.low) if stay else None,
        "lasting_high": wording.tidy(stay.high) if stay else None,
        "vapour_pressure_pa": wording.tidy(known.value) if known else None,
        "strength": None if own is None else wording.tidy(own),
        "labels": [f"{label.facet} {label.strength}" for label in material.labels],
        "basis": material.label_basis if material.labels else None,
    }


def _stay_source(material: Material) -> str | None:
    """Return the source of the vapour pressure that the hours follow from, None for strip hours."""
    known = pressure(material)
    return known.source or None if known and material.kind != "natural" else None


def leading_words(leading: Mapping[str, Any]) -> str:
    """Return in words that the leading smell of a natural is gone long before the whole."""
    return f"those hours are of the whole smell: {leading['facet']}, which leads, is gone by " + (
        units.duration(leading["hours"])
    )


def _figure(found: Figure) -> dict[str, Any]:
    return {
        "value": sixth(found.value),
        "unit": found.unit,
        "low": sixth(found.low),
        "high": sixth(found.high),
        "basis": found.basis,
        "source": found.source or None,
        "note": found.note or None,
    }


def card(palette: Palette, material: Material, market: str = "any") -> dict[str, Any]:
    """Return everything on record about a material, each figure with basis and source."""
    catalogue = palette.catalogue
    stay, own, used = material.lasting, material.strength, material.curve
    relations = [r for r in catalogue.relations if material.slug in (r.start, r.end)]
    relations.sort(key=lambda r: (-KIND_WEIGHTS[r.kind] * r.weight, r.start, r.end))
    entries = entries_of(material, catalogue, market)
    keys = {f.source for found in material.figures.values() for f in found} | {r.source for r in relations}
    keys |= {label.source for label in material.labels}
    keys |= {x.source for x in (*entries.prohibitions, *entries.limits)}
    keys |= {fact.source for fact in material.practice}
    if used is not None:
        keys.add(used.source)
    return {
        "name": material.name,
        "slug": material.slug,
        "cas": material.cas or None,
        "cas_all": list(material.cas_all),
        "names": [{"name": n.text, "kind": n.kind} for n in material.names],
        "kind": material.kind,
        "form": material.form,
        "role": material.role,
        "smiles": material.smiles or None,
        "molar_mass": material.molar_mass,
        "labels": [
            {"facet": x.facet, "strength": x.strength, "basis": x.basis, "source": x.source or None}
            for x in material.labels
        ],
        "own": _own(material),
        "lasting": None
        if stay is None
        else {
            "hours": wording.tidy(stay.hours),
            "low": wording.tidy(stay.low),
            "high": wording.tidy(stay.high),
            "position": stay.position,
            "basis": stay.basis,
            "source": _stay_source(material),
            "leading": None
            if (leading := leading_end(material, palette)) is None
            else {"facet": leading.facet, "hours": wording.tidy(leading.hours)},
        },
        "strength": None
        if own is None or used is None
        else {
            "value": wording.tidy(own),
            "rests_on": used.kind,
            "basis": used.basis,
            "source": used.source or None,
            "doubtful": used.doubtful,
            "threshold_ug_m3": wording.tidy(threshold_ng_per_l(used)),
            "i_max": wording.tidy(used.i_max),
            "log10_half": wording.tidy(used.log10_half),
            "width": wording.tidy(used.width),
            "log_error": wording.tidy(used.log_error),
        },
        "vapour_pressure_pa": _answering_pressure(as_read(material, palette.conditions)),
        "fused_from": [
            {
                "figure": x.figure,
                "kind": x.kind,
                "against": catalogue.by_slug(x.other).name if x.other else None,
                "times": wording.tidy(10.0**x.decades),
                "scatters": wording.tidy(x.scatters),
            }
            for x in deviations().get(material.slug, ())
        ],
        "use_level": _figure(material.use) if material.use else None,
        "figures": {name: [_figure(f) for f in found] for name, found in material.figures.items()},
        "constituents": _constituents(palette, material),
        "relations": [
            {
                "from": catalogue.by_slug(r.start).name,
                "relation": r.kind,
                "to": catalogue.by_slug(r.end).name,
                "note": r.note or None,
                "basis": r.basis,
                "source": r.source or None,
            }
            for r in relations
        ],
        "prohibited": [
            {
                "name": x.name,
                "market": x.market,
                "reference": x.reference or None,
                "basis": x.basis,
                "source": x.source or None,
                "note": x.note or None,
            }
            for x in entries.prohibitions
        ],
        "limits": [
            {
                "name": x.name,
                "market": x.market,
                "kind": x.kind,
                "percent": dict(x.percent),
                "reference": x.reference or None,
                "date": x.date or None,
                "applies_from": x.applies_from or None,
                "basis": x.basis,
                "source": x.source or None,
                "note": x.note or None,
                "applies_until": x.applies_until or None,
                "condition": x.condition or None,
                "superseded_by": x.superseded_by or None,
            }
            for x in entries.limits
        ],
        "label_allergens": [
            {"name": name, "up_to_percent": wording.tidy(100 * share)}
            for name, share in entries.label_allergens.items()
        ],
        "cautions": [
            {"kind": c.kind, "text": c.text, "basis": c.basis, "source": c.source or None}
            for c in material.cautions
        ],
        "availability": material.availability or None,
        "practice": [
            {
                "quality": fact.quality,
                "value": fact.value,
                "basis": fact.basis,
                "source": fact.source or None,
                "note": fact.note or None,
            }
            for fact in sorted(material.practice, key=lambda fact: list(PRACTICE).index(fact.quality))
        ],
        "sources": {key: catalogue.sources[key] for key in sorted(keys) if key},
    }


def _answering_pressure(material: Material) -> dict[str, Any] | None:
    """Return the pressures of a molecule that answers use [Pa], with the band of the liquid's."""
    if len(material.parts) != 1:
        return None
    part = material.parts[0]
    band = 10.0**part.log_error
    return {
        "liquid": wording.tidy(part.pressure_pa),
        "crystal": part.crystal_pa and wording.tidy(part.crystal_pa),
        "low": wording.tidy(part.pressure_pa / band),
        "high": wording.tidy(part.pressure_pa * band),
    }


def _own(material: Material) -> dict[str, Any] | None:
    """Return the person's own description, and the labels of the table that it replaces."""
    note = material.own
    if note is None:
        return None
    return {
        "smells": [{"facet": x.facet, "strength": x.strength} for x in note.labels],
        "not": list(note.denied),
        "adds": note.adds,
        "strength": note.strength or None,
        "blind": note.blind,
        "note": note.words or None,
        "table": [{"facet": x.facet, "strength": x.strength, "basis": x.basis} for x in note.instead_of],
    }


def own_words(note: OwnNote) -> str:
    """Return a person's own description in one line: raspberry (leading); not violet."""
    texts = ["cannot be smelled"] if note.blind else []
    if note.labels:
        texts.append(("also " if note.adds else "") + wording.labels(note.labels))
    if note.denied:
        texts.append(f"not {wording.join(note.denied, 'or')}")
    if note.strength:
        texts.append(f"{note.strength} than in the table")
    return "; ".join(texts)


def _constituents(palette: Palette, material: Material) -> list[dict[str, Any]]:
    """Return the constituents of a natural with middle and range of each share, the largest first."""
    if material.kind != "natural":
        return []
    found = []
    for content in material.contents:
        low = content.low or 0.0
        high = low if content.high is None else content.high
        found.append(
            {
                "name": part_name(palette, content.name),
                "percent": wording.tidy((low + high) / 2),
                "percent_low": sixth(low),
                "percent_high": sixth(high),
                "basis": content.basis,
                "source": content.source or None,
            }
        )
    return sorted(found, key=lambda one: -one["percent"])


def part_name(palette: Palette, part: str) -> str:
    """Return the name of a constituent: a material's own name, or its plain name."""
    if part in palette.catalogue.index:
        return palette.catalogue.by_slug(part).name
    return re.sub(r"(?<=[a-z]{3})-(?=[a-z]{3})", " ", part)


def also_called(names: Sequence[Mapping[str, str]]) -> list[str]:
    """Return other names as lines: those of the trade and of chemistry, then German, then French ones.

    Names of usual grades are for look-up alone.
    """
    found: dict[str, list[str]] = {}
    for name in names:
        if name["kind"] != "grade":
            language = name["kind"] if name["kind"] in ("German", "French") else ""
            found.setdefault(language, []).append(name["name"])
    lines = ((f"in {language}" if language else "also called", found.get(language)) for language in LANGUAGES)
    return [f"{lead} {', '.join(called)}" for lead, called in lines if called]


def card_lines(data: Mapping[str, Any]) -> list[str]:
    """Return a card as plain lines."""
    lines = [data["name"], "=" * len(data["name"])]
    numbers = ", ".join(data["cas_all"]) or "unknown"
    mass = f", {data['molar_mass']:.1f} g/mol" if data["molar_mass"] else ""
    lines.append(f"CAS {numbers} · {data['kind']}, {data['form']}{mass}")
    lines += also_called(data["names"])
    if data["role"] == "reference":
        lines.append("reference material: its smell is on record, but it is never suggested")
    for entry in data["prohibited"]:
        market = names_of(entry["market"])
        place = ", ".join(filter(None, [entry["reference"], entry["note"]]))
        verified = "" if entry["basis"] != "memory" else ", from memory, unverified"
        lines.append(f"PROHIBITED by {market}{f' ({place})' if place else ''}{verified}")
    lines.append("")
    for degree, word in ((3, "leads with"), (2, "clearly"), (1, "a trace of")):
        named = [x["facet"] for x in data["labels"] if x["strength"] == degree]
        if named:
            lines.append(f"  {word:<11} {', '.join(named)}")
    if own_note := data["own"]:
        lines += _own_lines(own_note)
    from_memory = sum(x["basis"] == "memory" for x in data["labels"])
    if data["labels"]:
        count = len(data["labels"])
        lines.append(f"              ({count} label{'s' * (count != 1)}, {from_memory} from memory)")
    lines.append("")
    ground = "strip hours" if data["kind"] == "natural" else "a vapour pressure"
    if stay := data["lasting"]:
        band = wording.band(stay["low"], stay["hours"], stay["high"])
        lines.append(f"On a strip, neat: {band}, {stay['position']}; from {ground}, {stay['basis']}")
        if leading := stay["leading"]:
            lines.append(f"  {leading_words(leading)}")
    if own := data["strength"]:
        within = f", within a factor {10.0 ** own['log_error']:.2g}"
        doubt = ", its measured curve is doubtful" if own["doubtful"] else ""
        lines.append(f"Strength: {own['value']} of 100 at 1 % on a strip after one minute{within}{doubt}")
        if from_rows := _fused_words(data["fused_from"], "strength"):
            lines.append(f"  fused from: {from_rows}")
    if used := data["use_level"]:
        low, high = wording.percent(used["low"]), wording.percent(used["high"])
        lines.append(f"Usually {low} to {high} % of a concentrate [{used['basis']}]")
    titles = {
        "vapour_pressure": "Vapour pressure at 25 C",
        "boiling_point": "Boiling point",
        "melting_point": "Melting point",
        "poucher_coefficient": "Poucher's coefficient (published)",
    }
    for name, figures in data["figures"].items():
        for number, f in enumerate(figures):
            band = f" ({f['low']:.2g} to {f['high']:.2g})" if f["low"] is not None else ""
            origin = ", ".join(filter(None, [f["basis"], f["source"], f["note"]]))
            mark = "  also on record: " if number else ""
            unit = "on a scale of 1 to 100" if f["unit"] == "1-100" else f["unit"]
            lines.append(f"{mark or titles[name] + ': '}{f['value']:.3g} {unit}{band} [{origin}]")
    _listed(
        lines,
        "Made of",
        [
            f"{c['name']} {c['percent_low']:g} to {c['percent_high']:g} %"
            if c["percent_low"] != c["percent_high"]
            else f"{c['name']} {c['percent_low']:g} %"
            for c in data["constituents"][:10]
        ],
    )
    _listed(lines, "Relations", [wording.step(r) for r in data["relations"][:10]])
    if len(data["relations"]) > 10:
        lines.append(f"  and {len(data['relations']) - 10} more (--format json)")
    _listed(lines, "Limits in the finished product", [_limit_words(x) for x in data["limits"]])
    allergens = [
        x["name"] if x["up_to_percent"] > 99.9 else f"{x['name']} (up to {x['up_to_percent']:g} %)"
        for x in data["label_allergens"]
    ]
    _listed(lines, "On the label in Europe", [", ".join(allergens)] if allergens else [])
    _listed(lines, "At the bench", [c["text"] for c in data["cautions"]])
    _listed(lines, "In practice", _practice_lines(data))
    _listed(lines, "Sources", [f"{key}: {text}" for key, text in data["sources"].items()])
    return lines


PRICE_WORDS = {
    "low": "under 50 euro per kg in small trade",
    "medium": "50 to 200 euro per kg in small trade",
    "high": "200 to 1000 euro per kg in small trade",
    "very high": "above 1000 euro per kg in small trade",
}
QUALITY_WORDS = {"colour": "colour as sold", "ethanol": "in ethanol"} | {
    product: f"in {words}" for product, words in PRODUCTS.items()
}
"""Qualities of practice in words, where they are not their own."""


def practice_rows(data: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """Return each fact of practice of a card: what it is of, its words, and what it rests on."""
    rows = []
    for fact in data["practice"]:
        more = [PRICE_WORDS[fact["value"]] if fact["quality"] == "price" else None, fact["note"]]
        name = QUALITY_WORDS.get(fact["quality"], fact["quality"])
        origin = ", ".join(filter(None, [fact["basis"], fact["source"]]))
        rows.append((name, ", ".join(filter(None, [fact["value"], *more])), origin))
    return rows


def _practice_lines(data: Mapping[str, Any]) -> list[str]:
    """Return availability, which is from common practice and memory, and each fact of practice."""
    lines = [f"availability: {data['availability']}"] if data["availability"] else []
    return lines + [f"{name}: {text} [{origin}]" for name, text, origin in practice_rows(data)]


FACT_COLUMNS = ("name", "cas", "fact", "value", "unit", "low", "high", "words", "basis", "source", "note")


def fact_rows(data: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return labels, figures, hours, strength, usual share and practice of a card as rows, a fact each."""
    name = {"name": data["name"], "cas": data["cas"]}
    unit = {"unit": "1-3"}
    rows = [x | unit | {"fact": f"label {x['facet']}", "value": x["strength"]} for x in data["labels"]]
    rows += [x | {"fact": name} for name, found in data["figures"].items() for x in found]
    if data["use_level"]:
        rows.append(data["use_level"] | {"fact": "use_level"})
    if data["availability"]:
        rows.append({"fact": "availability", "words": data["availability"]})
    if stay := data["lasting"]:
        hours = {"value": stay["hours"], "unit": "h", "low": stay["low"], "high": stay["high"]}
        rows.append({"fact": "lasting", **hours, "basis": stay["basis"], "source": stay["source"]})
    if own := data["strength"]:
        basis = {"basis": own["basis"], "source": own["source"]}
        rows.append({"fact": "strength", "value": own["value"], "unit": "0-100", **basis})
    rows += [x | {"fact": x["quality"], "words": x["value"], "value": None} for x in data["practice"]]
    return [name | row for row in rows]


def _fused_words(rows: Sequence[Mapping[str, Any]], what: str) -> str:
    """Return each kind of observation and how many times more or less it says than all together."""
    times: dict[str, list[float]] = {}
    for found in rows:
        if found["figure"] == what:
            times.setdefault(found["kind"], []).append(found["times"])
    texts: list[str] = []
    for kind, found_times in times.items():
        low, high = min(found_times), max(found_times)
        reads = f"{low:.2g} times" if len(found_times) == 1 else f"{low:.2g} to {high:.2g} times"
        many = kind == "pair" and len(found_times) > 1
        name = f"{len(found_times)} comparisons" if many else OBSERVED[kind]
        texts.append(f"{name} ({reads}{'' if texts else ' as strong'})")
    return ", ".join(texts)


def _own_lines(own: Mapping[str, Any]) -> list[str]:
    """Return the person's own part of the labels above, and the labels of the table."""
    labels = [Label(x["facet"], x["strength"], "user") for x in own["smells"]]
    note = OwnNote("", tuple(labels), tuple(own["not"]), own["adds"], own["strength"] or "", own["blind"])
    table = wording.labels([Label(x["facet"], x["strength"], x["basis"]) for x in own["table"]])
    lines = [f"  by your nose: {own_words(note)}"]
    if own["note"]:
        lines.append(f"  your words:   {own['note']}")
    return [*lines, f"  by the table: {table or 'no labels'}"]


def _limit_words(limit: Mapping[str, Any]) -> str:
    """Return a limit in a line: its figure for fine fragrance, or only its kind."""
    figure = f"{limit['percent']['4']:g} % in category 4" if "4" in limit["percent"] else limit["kind"]
    unsure = ", from memory, unverified" if limit["basis"] == "memory" else ""
    place = f", {limit['reference']}" if limit["reference"] else ""
    start = f", applies from {limit['applies_from']}" if limit["applies_from"] else ""
    until = f", applies until {limit['applies_until']}" if limit["applies_until"] else ""
    asks = f"; condition to be shown: {limit['condition']}" if limit["condition"] else ""
    newer = f", superseded by amendment {limit['superseded_by']}" if limit["superseded_by"] else ""
    return f"{figure} by {names_of(limit['market'])}{place}{start}{until}{newer}{unsure}{asks}"


def _listed(lines: list[str], title: str, entries: Sequence[str]) -> None:
    if entries:
        lines += ["", f"{title}:", *(f"  {entry}" for entry in entries)]
