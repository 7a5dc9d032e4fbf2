#!/usr/bin/env python3
"""Check the evidence in data/ and build the tables that the package ships.

usage: scripts/build_tables.py [--check] [--out FOLDER] [--disagree [N]]

Every row is checked first: known keys and words, CAS check digits, structures that parse, molar mass and
structure against the `chemicals` library wherever it knows the CAS number, a source if one is needed. The
first wrong row ends the run with one line that names it; nothing is written then. `--check` builds into
a scratch folder and compares with what is there. `--disagree` prints the rows that disagree most with all
else, half of them pressures and half strengths, and writes nothing. The same evidence always gives the same
tables.
"""

import argparse
import contextlib
import csv
import itertools
import math
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import activity
import evidence as ev
import fused
import numpy as np
import numpy.typing as npt
import structure
from rdkit.Chem import Crippen, Descriptors
from tqdm import tqdm

from recommender import evaporation
from recommender.chemistry import odour_strength
from recommender.chemistry.fusion import Fused, Observation
from recommender.errors import RecommenderError
from recommender.evaporation.lasting import ONE_MOLECULE
from recommender.evidence import catalogue
from recommender.evidence.sheets import Row, digest
from recommender.evidence.tables import COMPUTED
from recommender.model import LABEL_WEIGHTS, Component, Curve, Lasting, Material
from recommender.similarity import odour_space

ROOT = Path(__file__).resolve().parent.parent
DATA, TABLES = ROOT / "data", ROOT / "recommender" / "tables"
Cells = dict[str, object]
FIRMEST = ("measured", "published", "estimated", "memory")
"""What a fused pressure rests on, the firmest first."""

REDUCED_PRESSURE = 10.0
"""A boiling point that gives so many times the pressure of all else was taken at reduced pressure."""
RESIDUE_SHARE, RESIDUE_MOLAR_MASS = 1 / 3, 220.0
"""The residue of a natural, which carries its leading smells: mass fraction, molar mass [g/mol]."""
READ_BY_HAND = 40
"""Rows of evidence that disagree most with all else and are printed by --disagree."""
WIDE = ("label_vectors", "panel", "activity")
"""Tables whose number of columns depends on the evidence."""
NEIGHBOURS, LEAST_SHARED = 4, 0.55
"""Number of computed shares-facet relations per material, and the least cosine of labels for one."""
NO_KIN = ("classic-pair", "clashes")
"""Curated relations that say nothing of how alike two materials are: what they share is computed beside."""
COMMON_FACET, CLEAR_WEIGHT, LEADING_WEIGHT = 0.119, 0.6, 1.0
"""Facets that a larger share of materials has (sweet, fruity, woody) do not make two of them alike: a rarer
facet has to lead in one and be clear in the other."""


def figure(value: float) -> str:
    """Return a number with six significant digits."""
    return f"{value:.6g}"


class Builder:
    """Builds the tables from the evidence, step by step."""

    def __init__(self, evidence: ev.Evidence) -> None:
        self.evidence = evidence
        self.rows = {row["slug"]: row for row in evidence["materials"]}
        self.molecules = structure.molecules(evidence["materials"])
        self.mass = {slug: Descriptors.MolWt(m) for slug, m in self.molecules.items()}
        self.tables: dict[str, list[Cells]] = {}
        self.report: list[str] = []

    def masses(self) -> None:
        """Compare structures with a library."""
        compared, unknown = structure.check_against_library(self.evidence["materials"], self.molecules)
        self.report.append(
            f"structures compared with the chemicals library: {compared}, not known there: {unknown}"
        )

    def pressures(self) -> None:
        """Fuse all observations into one vapour pressure for each molecule, and store the rows."""
        self.fused_pressures = found = fused.pressures(self.evidence, self.molecules)
        fused.check_series(found, structure.chain_steps(self.molecules), self.evidence["volatility"])
        self.report += sources_in_words("pressure", found.fused)
        bases: dict[str, set[str]] = defaultdict(set)
        for _, row in found.observed:
            bases[row["material"]].add("estimated" if row["quantity"] == "boiling_point" else row["basis"])
        self.chosen, by_material = {}, defaultdict(list)
        for slug, place in found.index.items():
            liquid, band = 10 ** float(found.fused.figures[place]), float(found.fused.bands[place])
            solid = self.rows[slug]["form"] == "solid" and slug in found.melting
            basis = next((b for b in FIRMEST if b in bases[slug]), "estimated")
            crystal = liquid / found.melting[slug] if solid else None
            self.chosen[slug] = Component(slug, 1.0, liquid, self.mass[slug], crystal, band, basis)
        for row in self.evidence["volatility"]:
            by_material[row["material"]].append(row)
        usable = {id(row) for seen, row in found.observed if self._at_normal_pressure(seen, row)}
        self.tables["volatility"] = []
        for slug in self.rows:
            if slug in self.chosen:
                self.tables["volatility"] += self._fused_rows(self.chosen[slug], len(bases[slug]))
            for row in by_material[slug]:
                if row["quantity"] != "enthalpy_of_fusion" and (
                    row["quantity"] != "boiling_point" or id(row) in usable
                ):
                    self.tables["volatility"].append({"low": "", "high": "", **row.cells})
        boiling = sum(seen.source == "boiling point" for seen, _ in found.observed)
        shown = sum(row["quantity"] == "boiling_point" for row in self.tables["volatility"])
        self.report.append(f"boiling points taken at reduced pressure, not shown: {boiling - shown}")

    def figures_of_molecules(self) -> None:
        """Write molar mass, log P and heat of vaporisation of each molecule."""
        heats = {
            slug: structure.vaporisation_j_per_mol(
                self.rows[slug]["cas"], self.rows[slug]["smiles"], self.chosen[slug].pressure_pa
            )
            for slug in self.rows
            if slug in self.molecules
        }
        tabled = sum(heat.tabled for heat in heats.values())
        self.report.append(
            f"heats of vaporisation from a table: {tabled}, from the pressure: {len(heats) - tabled}"
        )
        self.tables["molecules"] = [
            {
                "material": slug,
                "molar_mass": figure(self.mass[slug]),
                "log_p": figure(Crippen.MolLogP(self.molecules[slug])),
                "vaporisation_kj_per_mol": figure(1e-3 * heat.j_per_mol),
                "schiff_base": structure.side_of_schiff_base(self.molecules[slug]),
            }
            for slug, heat in heats.items()
        ]

    def activities(self) -> None:
        """Write ln gamma at infinite dilution of each molecule in each carrier where groups are known."""
        carriers = [
            slug
            for slug, part in self.chosen.items()
            if slug in activity.ALSO_CARRIERS
            or (self.rows[slug]["kind"] == "solvent" and part.pressure_pa <= activity.CARRIER_UP_TO_PA)
        ]
        assigned = activity.groups(self.molecules)
        found = {
            carrier: activity.at_infinite_dilution(assigned, carrier)
            for carrier in carriers
            if carrier in assigned
        }
        self.tables["activity"] = [
            {"material": slug} | {carrier: figure(found[carrier].get(slug, 0.0)) for carrier in found}
            for slug in assigned
        ]
        self.report.append(
            f"molecules with activity coefficients: {len(assigned)} of {len(self.molecules)}, "
            f"in {len(found)} carriers"
        )

    def _at_normal_pressure(self, seen: Observation, row: Row) -> bool:
        """Return whether a boiling point can be a normal one: not if it makes a molecule far too volatile."""
        most = REDUCED_PRESSURE * self.chosen[row["material"]].pressure_pa
        return seen.source == "boiling point" and seen.value <= math.log10(most)

    def observations(self) -> None:
        """Write how far each observation lies from what was fused from all of them."""
        pressure, strength = self.fused_pressures, self.strength
        table = [
            (row["material"], "pressure", seen.source, "", deviation, pressure.fused.sources[seen.source])
            for (seen, row), deviation in zip(pressure.observed, pressure.fused.deviations, strict=True)
        ]
        slugs = list(self.rows)
        for (seen, _), deviation in zip(strength.observed, strength.fused.deviations, strict=True):
            source = strength.fused.sources[seen.source]
            kind = "class" if seen.source in odour_strength.CLASSES else seen.source
            if seen.below is None:
                table.append((slugs[seen.material], "strength", kind, "", deviation, source))
            elif not seen.at_least or deviation > 0:
                pair = slugs[seen.material], slugs[seen.below]
                table.append((pair[0], "strength", kind, pair[1], deviation, source))
                table.append((pair[1], "strength", kind, pair[0], -deviation, source))
        self.tables["observations"] = [
            {
                "material": slug,
                "figure": what,
                "kind": kind,
                "other": other,
                "decades": figure(source.decades(float(deviation))),
                "scatters": figure(float(deviation)),
            }
            for slug, what, kind, other, deviation, source in table
        ]

    @staticmethod
    def _fused_rows(part: Component, count: int) -> list[Cells]:
        """Return the pressures that answers use, those of the bottle first: crystals where it is a solid."""
        phases = [("liquid", part.pressure_pa)]
        if part.crystal_pa is not None:
            phases.insert(0, ("solid", part.crystal_pa))
        band = 10.0**part.log_error
        note = "fused from all rows below" if count else "fused from structure and kin"
        return [
            {
                "material": part.name,
                "quantity": "vapour_pressure",
                "value": figure(value),
                "unit": "Pa",
                "phase": phase,
                "low": figure(value / band),
                "high": figure(value * band),
                "basis": "estimated",
                "source": "fusion",
                "note": note,
            }
            for phase, value in phases
        ]

    def components(self) -> None:
        """Write what evaporates from each material: itself, or the constituents of a natural."""
        parts: dict[str, list[Component]] = {slug: [part] for slug, part in self.chosen.items()}
        by_natural: dict[str, list[Row]] = defaultdict(list)
        for row in self.evidence["constituents"]:
            if row["percent_low"]:  # without a share, only the presence is known
                by_natural[row["natural"]].append(row)
        for natural, rows in by_natural.items():
            shares = np.array([ev.middle_percent(row) for row in rows])
            total = max(shares.sum(), 1e-9)
            parts[natural] = merged(
                self._part(row, float(share / total)) for row, share in zip(rows, shares, strict=True)
            )
        self.parts = {slug: self._with_curves(slug, found) for slug, found in parts.items()}
        self._add_residues()
        self.tables["components"] = [
            {
                "material": slug,
                "component": part.name,
                "mass_fraction": figure(part.mass_fraction),
                "pressure_pa": figure(part.pressure_pa),
                "molar_mass": figure(part.molar_mass),
                "crystal_pa": "" if part.crystal_pa is None else figure(part.crystal_pa),
                "log_error": figure(part.log_error),
                "basis": part.basis,
                **curve_cells(part.curve),
            }
            for slug in self.rows
            for part in self.parts.get(slug, [])
        ]

    def _part(self, row: Row, share: float) -> Component:
        if not row["class"]:
            return replace(self.chosen[row["constituent"]], mass_fraction=share, crystal_pa=None)
        pressure, mass = ev.CLASS_PRESSURES_PA[row["class"]]
        name = row["constituent"] or f"unnamed {row['class']}"
        part = Component(name, 1.0, pressure, mass, None, 0.5, "memory")
        decades = self.strength.classes.get(ev.CLASS_STRENGTHS[row["class"]])
        return replace(self._with_curve(part, decades, "class", "memory"), mass_fraction=share)

    @staticmethod
    def _with_curve(
        part: Component, decades: float | None, kind: str, basis: str, source: str = "", error: float = 0.5
    ) -> Component:
        if decades is None or part.pressure_pa <= 0:
            return part
        met = float(evaporation.first_concentrations([part], 0.01)[0])
        return replace(part, curve=odour_strength.typical_curve(decades, met, kind, basis, source, error))

    def _add_residues(self) -> None:
        """Add to each natural the residue that carries its leading smells as long as a strip does.

        What leads in a natural is mostly traces that no table names; one that is nearly one molecule lasts
        as that molecule does. The pressure of the residue is chosen
        so that its smell on a neat strip is gone at the middle of the hours on record.
        """
        self.hours = {
            row["material"]: (row.number("hours_low") or 0.0, row.number("hours_high") or 0.0, row)
            for row in self.evidence["strip_hours"]
        }
        mixed = [
            slug
            for slug in self.hours
            if slug in self.strength.figures
            and slug not in self.chosen
            and self._largest_share(self.parts.get(slug, ())) < ONE_MOLECULE
        ]
        plain = {slug: self.parts.get(slug, []) for slug in mixed}
        low, high = dict.fromkeys(mixed, -8.0), dict.fromkeys(mixed, 3.5)
        for _ in tqdm(range(20), desc="residues of naturals", unit="step", leave=False):
            for slug in mixed:
                self.parts[slug] = self._with_residue(
                    slug, plain[slug], 10 ** (0.5 * (low[slug] + high[slug]))
                )
            ends = evaporation.last_smelled([self.parts[slug] for slug in mixed], evaporation.UNNAMED)
            for slug, hours in zip(mixed, ends, strict=True):
                edge = low if hours > self._middle(slug) else high
                edge[slug] = 0.5 * (low[slug] + high[slug])
        self.report.append(f"naturals with a residue: {len(mixed)} of {len(self.hours)}")

    def _largest_share(self, parts: Iterable[Component]) -> float:
        """Return the mass fraction of the molecule that most of a natural is, its solvent left out."""
        shares = (
            p.mass_fraction for p in parts if p.name in self.chosen and self.rows[p.name]["kind"] != "solvent"
        )
        return max(shares, default=0.0)

    def _with_residue(self, slug: str, parts: list[Component], pressure: float) -> list[Component]:
        part = Component(evaporation.UNNAMED, 1.0, pressure, RESIDUE_MOLAR_MASS, None, 0.5, "memory")
        part = self._with_curve(part, self.strength.figures[slug], "class", "memory")
        others = [replace(p, mass_fraction=p.mass_fraction * (1.0 - RESIDUE_SHARE)) for p in parts]
        whole = [*others, replace(part, mass_fraction=RESIDUE_SHARE)]
        softest = evaporation.half_points_ending_by(whole, self._middle(slug))
        softest[-1] = -math.inf
        return self._with_curves(slug, whole, softest)

    def _with_curves(
        self, slug: str, parts: list[Component], softest: npt.ArrayLike = -math.inf
    ) -> list[Component]:
        """Return the parts of a natural with curves that give the strength of the whole."""
        decades = self.strength.figures.get(slug)
        if slug in self.chosen:
            return parts
        if decades is None:
            return [replace(part, curve=None) for part in parts]
        row = self.strength.rests_on[slug]
        model = Curve(1.0, 0.0, 1.0, "class", row["basis"], "", log_error=self.strength.bands[slug])
        return evaporation.with_strength(parts, decades, model, softest)

    def strengths(self) -> None:
        """Fuse all observations into one strength for each material, and give each molecule its curve."""
        one_per_cent = {
            slug: math.log10(float(evaporation.first_concentrations([part], 0.01)[0]))
            for slug, part in self.chosen.items()
        }
        self.strength = found = fused.strengths(self.evidence, self.molecules, one_per_cent)
        self.report += sources_in_words("strength", found.fused)
        for slug, part in self.chosen.items():
            if (row := found.rests_on.get(slug)) is None:
                continue
            band, basis, source = found.bands[slug], row["basis"], row["source"]
            part = self._with_curve(part, found.figures[slug], row["kind"], basis, source, band)
            if part.curve is not None and slug in found.doubtful:
                part = replace(part, curve=replace(part.curve, doubtful=True))
            self.chosen[slug] = part

    def label_space(self) -> None:
        """Learn the label vectors from all labels."""
        facets = [row["facet"] for row in self.evidence["facets"]]
        column = {facet: i for i, facet in enumerate(facets)}
        labelled = sorted({row["material"] for row in self.evidence["labels"]})
        line = {slug: i for i, slug in enumerate(labelled)}
        weights = np.zeros((len(labelled), len(facets)))
        for row in self.evidence["labels"]:
            weights[line[row["material"]], column[row["facet"]]] = LABEL_WEIGHTS[int(row["strength"])]
        vectors = odour_space.fit_label_vectors(weights)
        self.labelled, self.weights, self.facets = labelled, weights, facets
        self.level = likeness_level(weights, vectors, facets, self.evidence["panel"])
        self.tables["label_vectors"] = [
            {"facet": facet, **{f"v{i:02d}": f"{x:.6f}" for i, x in enumerate(vector, 1)}}
            for facet, vector in zip(facets, vectors, strict=True)
        ]

    def relations(self) -> None:
        """Write curated relations, constituents, computed kin and shared facets."""
        table: list[Cells] = [{**row.cells, "weight": "1"} for row in self.evidence["relations"]]
        known = {(r["from"], r["relation"], r["to"]) for r in table}

        def add(start: str, kind: str, end: str, weight: float, basis: str, source: str, note: str) -> None:
            if start != end and (start, kind, end) not in known and (end, kind, start) not in known:
                known.add((start, kind, end))
                table.append(
                    {
                        "from": start,
                        "relation": kind,
                        "to": end,
                        "weight": figure(weight),
                        "basis": basis,
                        "source": source,
                        "note": note,
                    }
                )

        for row in self.evidence["constituents"]:
            if not row["class"] and row["percent_low"]:
                middle = ev.middle_percent(row)
                note = f"about {middle:.2g} %"
                weight = min(1.0, middle / 50 + 0.05)
                add(
                    row["constituent"],
                    "constituent-of",
                    row["natural"],
                    weight,
                    row["basis"],
                    row["source"],
                    note,
                )
        for start, kind, end, weight, note in structure.kin(self.molecules):
            add(start, kind, end, weight, "estimated", "chemicals", note or "computed from structure")
        unit = odour_space.unit(self.weights)
        cosine = unit @ unit.T
        np.fill_diagonal(cosine, 0.0)
        joined = {frozenset((str(r["from"]), str(r["to"]))) for r in table if r["relation"] not in NO_KIN}
        telling = (self.weights > 0).mean(axis=0) <= COMMON_FACET
        for i, slug in enumerate(self.labelled):
            for j in np.argsort(-cosine[i], kind="stable")[:NEIGHBOURS]:
                both = np.minimum(self.weights[i], self.weights[j])
                leads = np.maximum(self.weights[i], self.weights[j]) >= LEADING_WEIGHT
                alike = telling & leads & (both >= CLEAR_WEIGHT)
                if frozenset((slug, self.labelled[j])) in joined or not alike.any():
                    continue
                if cosine[i, j] >= LEAST_SHARED:
                    names = [self.facets[k] for k in np.argsort(-both, kind="stable")[:3] if both[k] > 0.25]
                    add(
                        slug,
                        "shares-facet",
                        self.labelled[j],
                        float(cosine[i, j]),
                        "memory",
                        "",
                        ", ".join(names),
                    )
        self.tables["relations"] = sorted(
            table, key=lambda r: (str(r["from"]), str(r["relation"]), str(r["to"]))
        )

    def parameters(self) -> None:
        """Fit the borders of top, heart and base to the materials with an agreed position."""
        agreed = [row for row in self.evidence["positions"] if row["material"] in self.chosen]
        names = [row["material"] for row in agreed]
        stand_ins = [
            Material(n, n, "", (), "molecule", "liquid", "palette", parts=tuple(self.parts[n])) for n in names
        ]
        hours = evaporation.evaporation_hours(stand_ins)
        by_place: dict[str, list[float]] = defaultdict(list)
        for row, found in zip(agreed, hours, strict=True):
            by_place[row["position"]].append(float(found))
        borders = [best_border(by_place[a], by_place[b]) for a, b in (("top", "heart"), ("heart", "base"))]
        on_strip: dict[str, list[float]] = defaultdict(list)
        for row in self.evidence["positions"]:
            if row["material"] in self.hours:
                on_strip[row["position"]].append(self._middle(row["material"]))
        natural = [best_border(on_strip[a], on_strip[b]) for a, b in (("top", "heart"), ("heart", "base"))]
        fits = {"molecules, hours of evaporation": borders, "naturals, hours on a strip": natural}
        for what, found_borders in fits.items():
            for (border, wrong), name in zip(found_borders, ("top/heart", "heart/base"), strict=True):
                self.report.append(
                    f"border {name} of {what}: {border:.3g}, {wrong} agreed materials on the wrong side"
                )
        self.borders, self.natural_borders = (
            [float(figure(border)) for border, _ in fitted] for fitted in (borders, natural)
        )
        gone = "fitted to positions.csv; three quarters of a neat strip have evaporated"
        strip = "fitted to positions.csv; hours on a strip of naturals"
        self.tables["parameters"] = [
            {"name": name, "value": figure(border[0]), "unit": "h", "meaning": meaning}
            for name, border, meaning in (
                ("top_until_hours", borders[0], gone),
                ("heart_until_hours", borders[1], gone),
                ("natural_top_until_hours", natural[0], strip),
                ("natural_heart_until_hours", natural[1], strip),
            )
        ]
        at_class = "decades by which a 1 % strip of this class exceeds the dose that is just clear; fitted"
        self.tables["parameters"] += [
            {"name": f"class {name}", "value": figure(value), "unit": "", "meaning": at_class}
            for name, value in self.strength.classes.items()
        ]
        level = "taken off a likeness so that the middle pair stays as unlike as without the panel"
        self.tables["parameters"].append(
            {"name": "likeness_level", "value": figure(self.level), "unit": "", "meaning": level}
        )

    def _middle(self, slug: str) -> float:
        low, high, _ = self.hours[slug]
        return math.sqrt(low * high)

    def stays(self) -> None:
        """Write lasting and strength of each material, computed by the same stages as an answer.

        A natural lasts as long as its characteristic smell was found on a strip: a trace that is named (the
        nootkatone of grapefruit oil) stays longer, and a drydown shows it as the facet that it is.
        """
        materials = [
            Material(
                slug,
                row["name"],
                "",
                (),
                row["kind"],
                row["form"],
                row["role"],
                parts=tuple(self.parts[slug]),
            )
            for slug, row in self.rows.items()
            if slug in self.parts
        ]
        lastings, strengths = evaporation.lasting(materials, *self.borders), evaporation.strengths(materials)
        self.tables["stays"] = []
        for material, stay, own in zip(materials, lastings, strengths, strict=True):
            cells: Cells = {"material": material.slug, "strength": "" if own is None else figure(own)}
            if material.slug in self.hours and stay is not None:
                low, high, row = self.hours[material.slug]
                place = evaporation.position(self._middle(material.slug), *self.natural_borders)
                stay = Lasting(min(max(stay.hours, low), high), low, high, place, row["basis"])
            if stay is not None:
                cells |= {
                    "hours": figure(stay.hours),
                    "low": figure(stay.low),
                    "high": figure(stay.high),
                    "position": stay.position,
                    "basis": stay.basis,
                }
            self.tables["stays"].append(cells)

    def disagreements(self, count: int) -> list[str]:
        """Return the rows to be read by hand: log10 Pa, then decades of dose."""
        for step in (self.masses, self.pressures, self.strengths):
            step()
        pressures, strengths = self.fused_pressures, self.strength
        return [
            *fused.at_odds(pressures.fused, pressures.observed, count // 2),
            *fused.at_odds(strengths.fused, strengths.observed, count - count // 2),
        ]

    def build(self) -> None:
        """Run all steps."""
        steps = (
            self.masses,
            self.pressures,
            self.figures_of_molecules,
            self.activities,
            self.strengths,
            self.observations,
            self.components,
            self.label_space,
            self.relations,
            self.parameters,
            self.stays,
        )
        for step in tqdm(steps, desc="tables", unit="step", leave=False):
            step()

    def write(self, folder: Path) -> None:
        """Write the tables and the fingerprints of evidence and tables."""
        folder.mkdir(parents=True, exist_ok=True)
        for name in COMPUTED:
            rows, columns = self.tables[name], catalogue.COLUMNS[name]
            header = list(rows[0]) if name in WIDE and rows else list(columns)
            write_csv(folder / f"{name}.csv", header, rows)
        marks: list[Cells] = [
            {"folder": "data", "file": f"{name}.csv", "digest": digest(DATA / f"{name}.csv")}
            for name in ev.EVIDENCE
        ]
        marks += [
            {"folder": "tables", "file": f"{name}.csv", "digest": digest(folder / f"{name}.csv")}
            for name in COMPUTED
        ]
        write_csv(folder / "manifest.csv", ["folder", "file", "digest"], marks)

    def summary(self) -> str:
        """Return counts by kind and role, labels for each material and rows by basis."""
        lines = [f"facets {len(self.facets)}, materials {len(self.rows)}"]
        kinds: dict[tuple[str, str], int] = defaultdict(int)
        for row in self.rows.values():
            kinds[row["role"], row["kind"]] += 1
        lines += [f"  {role} {kind}: {count}" for (role, kind), count in sorted(kinds.items())]
        counts: dict[str, int] = defaultdict(int)
        for row in self.evidence["labels"]:
            counts[row["material"]] += 1
        palette = sorted(counts[s] for s, r in self.rows.items() if r["role"] == "palette" and counts[s])
        lines.append(f"labels of a palette material: min {palette[0]}, median {palette[len(palette) // 2]}")
        lines += self.report
        lines.append("rows by basis, evidence:")
        for table, bases in sorted(ev.counted(self.evidence).items()):
            lines.append(f"  {table}: " + ", ".join(f"{basis} {n}" for basis, n in sorted(bases.items())))
        lines.append("materials with a CAS number of a Standard, by its types:")
        matched = ev.standards_matched(self.evidence)
        lines.append("  " + ", ".join(f"{types} {n}" for types, n in sorted(matched.items())))
        lines.append("preferred vapour pressures by basis:")
        tally: dict[str, int] = defaultdict(int)
        for part in self.chosen.values():
            tally[part.basis] += 1
        lines.append("  " + ", ".join(f"{basis} {n}" for basis, n in sorted(tally.items())))
        kinds_of: dict[str, int] = defaultdict(int)
        for relation in self.tables["relations"]:
            kinds_of[str(relation["relation"])] += 1
        lines.append("relations: " + ", ".join(f"{kind} {n}" for kind, n in sorted(kinds_of.items())))
        return "\n".join(lines)


def likeness_level(
    weights: odour_space.Array, labels: odour_space.Array, facets: list[str], panel: list[Row]
) -> float:
    """Return the level at which the median likeness of pairs is the same with and without the panel."""
    if not panel:
        return 0.0
    effects = {
        row["facet"]: [float(v) for c, v in row.cells.items() if c not in catalogue.COLUMNS["panel"]]
        for row in panel
    }
    noses = odour_space.Panel.of(effects, facets, labels, 0.0)
    upper = np.triu_indices(len(weights), 1)
    bare, raised = (
        float(np.median((v @ v.T)[upper]))
        for v in (odour_space.place(weights, labels), odour_space.place(weights, labels, noses))
    )
    return (raised - bare) / (1.0 - bare)


def sources_in_words(what: str, found: Fused) -> list[str]:
    """Return how each source reads the latent figures, one line each."""
    return [
        f"{what} by {name}: offset {of.offset:+.2f}, slope {of.slope:.2f}, scatter {of.scatter:.2f}"
        for name, of in found.sources.items()
    ]


def curve_cells(curve: Curve | None) -> Cells:
    """Return a curve as cells of the table of components."""
    if curve is None:
        return {}
    return {
        "i_max": figure(curve.i_max),
        "log10_half": figure(curve.log10_half),
        "width": figure(curve.width),
        "curve_kind": curve.kind,
        "curve_basis": curve.basis,
        "curve_source": curve.source,
        "doubtful": "yes" if curve.doubtful else "",
        "curve_log_error": figure(curve.log_error),
    }


def merged(parts: Iterable[Component]) -> list[Component]:
    """Return components with those of the same name added up."""
    found: dict[str, Component] = {}
    for part in parts:
        old = found.get(part.name)
        share = part.mass_fraction + (old.mass_fraction if old else 0.0)
        found[part.name] = replace(part, mass_fraction=share)
    return list(found.values())


def best_border(below: Sequence[float], above: Sequence[float]) -> tuple[float, int]:
    """Return the border with the fewest values on the wrong side, in the middle of its gap on a log scale."""
    edges = sorted([*below, *above])
    middles = [math.sqrt(a * b) for a, b in itertools.pairwise(edges)]
    wrong = [sum(x >= m for x in below) + sum(x < m for x in above) for m in middles]
    gaps = [b / a for a, b in itertools.pairwise(edges)]
    best = min(range(len(middles)), key=lambda i: (wrong[i], -gaps[i]))
    return middles[best], wrong[best]


def write_csv(path: Path, columns: Sequence[str], rows: Iterable[Mapping[str, object]]) -> None:
    """Write one table."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, extrasaction="ignore", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def differences(one: Path, other: Path, tolerance: float = 1e-4) -> list[str]:
    """Return what differs between two folders of tables, numbers compared within a relative tolerance."""
    found = []
    for name in COMPUTED:
        with (
            (one / f"{name}.csv").open(encoding="utf-8") as a,
            (other / f"{name}.csv").open(encoding="utf-8") as b,
        ):
            left, right = list(csv.reader(a)), list(csv.reader(b))
        if len(left) != len(right):
            found.append(f"{name}.csv: {len(left)} rows against {len(right)}")
            continue
        for line, (x, y) in enumerate(zip(left, right, strict=True), 1):
            if not all(same(p, q, tolerance) for p, q in zip(x, y, strict=True)):
                found.append(f"{name}.csv, line {line}: {x} against {y}")
                break
    return found


def same(one: str, other: str, tolerance: float) -> bool:
    """Return whether two cells agree, as numbers if both are numbers."""
    if one == other:
        return True
    with contextlib.suppress(ValueError):
        return math.isclose(float(one), float(other), rel_tol=tolerance, abs_tol=1e-9)
    return False


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "--check", action="store_true", help="compare with the existing tables, write nothing"
    )
    parser.add_argument("--out", type=Path, default=TABLES, help="folder to write to")
    parser.add_argument(
        "--disagree",
        type=int,
        nargs="?",
        const=READ_BY_HAND,
        metavar="N",
        help="print the N rows that disagree most with all else, write nothing",
    )
    args = parser.parse_args()
    try:
        builder = Builder(ev.load(DATA))
        if args.disagree is not None:
            print("\n".join(builder.disagreements(args.disagree)))
            return 0
        builder.build()
    except RecommenderError as error:
        print(f"build_tables: data/{error}", file=sys.stderr)
        return 2
    if args.check:
        with tempfile.TemporaryDirectory() as scratch:
            builder.write(Path(scratch))
            found = differences(args.out, Path(scratch))
        print("\n".join(found) or "the tables fit the evidence")
        return 1 if found else 0
    builder.write(args.out)
    print(builder.summary())
    return 0


if __name__ == "__main__":
    sys.exit(main())
