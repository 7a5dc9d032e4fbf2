"""One long question, as a value that a worker process can be given, and the answer to it there."""

import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from recommender.evaporation import DEFAULT_CONDITIONS, Conditions
from recommender.evidence.catalogue import Catalogue
from recommender.evidence.overlay import Overlay
from recommender.evidence.sheets import Row
from recommender.formulas import formula as formulas
from recommender.formulas.redundancy import Contribution
from recommender.model import Findings, Formula, Material, Reading
from recommender.notebook import importers
from recommender.palette import Palette, Recent, palette_with, shipped
from recommender.suggest import Request
from recommender.web.server.job_progress import reporter
from recommender.workspace import Workspace

if TYPE_CHECKING:
    from recommender.reformulation import Reformulation, ReformulationRequest
    from recommender.suggest.revise import Revision

PaletteKey = tuple[Overlay, Conditions]
"""What a notebook changes in the shipped palette."""
FormulaSheet = tuple[list[Row], list[str]]
"""The lines of a formula's sheet, and notes on its columns."""
BottleSheet = tuple[importers.Columns, list[importers.ImportedRow]]
"""How the columns of a sheet of bottles were read, and its rows."""
LONGEST_FILE_NAME = 100
"""Characters of the name of a file that was uploaded; the last ones count."""


@dataclass(frozen=True, slots=True)
class Job:
    """A verb about a formula, or about a material `within` one, with what the notebook changes.

    `readings` are those of the trials of the formula, for `next`; a `reformulation` is asked for by its own
    request, and `progress` is the file through which it says how far it is.
    """

    verb: str
    subject: Formula | Material
    request: Request | None = None
    within: Formula | None = None
    overlay: PaletteKey = (Overlay(), DEFAULT_CONDITIONS)
    readings: tuple[Reading, ...] = ()
    reformulation: "ReformulationRequest | None" = None
    progress: Path | None = None


@dataclass(frozen=True, slots=True)
class SheetJob:
    """A sheet of unknown origin to be read: a formula, bottles, own materials, limits, trials or strips.

    For bottles `columns` names the header of a field, and `sheet` that of a workbook. Trials are of saved
    versions of a `notebook`, those of lines that name none of `formula`.
    """

    kind: Literal["formula", "bottles", "materials", "limits", "trials", "strips"]
    name: str
    content: bytes
    overlay: PaletteKey = (Overlay(), DEFAULT_CONDITIONS)
    columns: Mapping[str, str] | None = None
    sheet: str = ""
    notebook: Path | None = None
    formula: str = ""


class Worker:
    """What a worker process has from one job to the next: a workspace, and the overlay under it."""

    def __init__(self) -> None:
        self.overlay: PaletteKey = (Overlay(), DEFAULT_CONDITIONS)
        self.workspace: Workspace | None = None

    def get_ready(self) -> None:
        """Load the shipped palette, and the verbs that a page asks most."""
        from recommender.formulas import redundancy  # noqa: F401
        from recommender.suggest import in_formula, substitute  # noqa: F401

        self.workspace = _workspace(shipped())

    def under(self, overlay: PaletteKey) -> Workspace:
        """Return the workspace under an overlay: that of the last job where it has the same."""
        workspace = self.workspace
        if workspace is None or overlay != self.overlay:
            changed = overlay != (Overlay(), DEFAULT_CONDITIONS)
            workspace = _workspace(palette_with(*overlay) if changed else shipped())
            self.overlay, self.workspace = overlay, workspace
        return workspace

    def read(self, job: SheetJob) -> Any:
        """Return what is in a sheet, in the form of its kind; raises `BadTable`, `WrongCas`."""
        workspace = self.under(job.overlay)
        catalogue = workspace.palette.catalogue
        if job.kind == "formula":
            return formula_sheet(job.name, job.content, catalogue)
        with _file_of(job.name, job.content) as file:
            match job.kind:
                case "materials":
                    return workspace.own_materials.read_sheet(file)
                case "limits":
                    return workspace.limits.read_sheet(file)
                case "trials":
                    return Workspace(job.notebook, workspace.palette).trials.read_sheet(file, job.formula)
                case "strips":
                    return workspace.own_strips.read_sheet(file)
            return importers.read(file, catalogue, job.columns, job.sheet)

    def answer(self, job: Job) -> "Findings | list[Contribution] | Revision | Reformulation":
        """Return findings, for `trim` what would be missed, for `next` the changes, or a reformulation.

        Raises
        ------
        RecommenderError
        """
        workspace = self.under(job.overlay)
        match job.verb, job.subject:
            case "trim", Formula() as formula:
                return workspace.trim(formula)[1]
            case "next", Formula() as formula:
                from recommender.suggest.revise import revise

                drydown = workspace.drydown(formula)
                return revise(drydown, job.readings, job.request or Request())
            case "reformulate", Formula() as formula:
                report = reporter(job.progress) if job.progress else None
                return workspace.reformulate(formula, job.reformulation, progress=report)
            case "replace", Material() as material:
                return workspace.replace(material, job.request, within=job.within)
            case "vary", subject:
                return workspace.vary(subject, job.request or Request())
            case "pair", subject:
                return workspace.pair(subject, job.request)
            case _, subject:
                return workspace.extend(subject, job.request, within=job.within)


def _workspace(palette: Palette) -> Workspace:
    """Return a workspace that simulates a formula once, however often it is asked about."""
    return Workspace(palette=replace(palette, recent=Recent()))


WORKER = Worker()
"""That of this process."""


def answer(job: Job | SheetJob) -> Any:
    """Return the answer of this process to a job; raises `RecommenderError`."""
    return WORKER.read(job) if isinstance(job, SheetJob) else WORKER.answer(job)


def formula_sheet(name: str, content: bytes, catalogue: Catalogue) -> FormulaSheet:
    """Return the lines of a formula's sheet, and notes on its columns; raises `BadTable`."""
    notes: list[str] = []
    with _file_of(name, content) as file:
        return formulas.sheet_rows(file, catalogue, notes), notes


@contextmanager
def _file_of(name: str, content: bytes) -> Iterator[Path]:
    """Give a file that was uploaded a path, for as long as it is read."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / (Path(name).name.replace("\0", "")[-LONGEST_FILE_NAME:] or "file")
        file.write_bytes(content)
        yield file
