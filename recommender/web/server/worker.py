"""One long question, as a value that a worker process can be given, and the answer to it there."""

from dataclasses import dataclass
from typing import Any

from recommender.evaporation import DEFAULT_CONDITIONS, Conditions
from recommender.evidence.overlay import Overlay
from recommender.formulas.redundancy import Contribution
from recommender.model import Findings, Formula, Material
from recommender.palette import palette_with, shipped
from recommender.suggest import Request
from recommender.workspace import Workspace

PaletteKey = tuple[Overlay, Conditions]
"""What a notebook changes in the shipped palette."""


@dataclass(frozen=True, slots=True)
class Job:
    """A verb about a formula, or about a material `within` one, with what the notebook changes."""

    verb: str
    subject: Formula | Material
    request: Request | None = None
    within: Formula | None = None
    overlay: PaletteKey = (Overlay(), DEFAULT_CONDITIONS)


class Worker:
    """What a worker process has from one job to the next: a workspace, and the overlay under it."""

    def __init__(self) -> None:
        self.overlay: PaletteKey = (Overlay(), DEFAULT_CONDITIONS)
        self.workspace: Workspace | None = None

    def get_ready(self) -> None:
        """Load the shipped palette, and the verbs that a page asks most."""
        from recommender.formulas import redundancy  # noqa: F401
        from recommender.suggest import in_formula, substitute  # noqa: F401

        self.workspace = Workspace(palette=shipped())

    def answer(self, job: Job) -> Findings | list[Contribution]:
        """Return findings, or for `trim` what would be missed; raises `RecommenderError`."""
        workspace = self.workspace
        if workspace is None or job.overlay != self.overlay:
            changed = job.overlay != (Overlay(), DEFAULT_CONDITIONS)
            workspace = Workspace(palette=palette_with(*job.overlay) if changed else shipped())
            self.overlay, self.workspace = job.overlay, workspace
        match job.verb, job.subject:
            case "trim", Formula() as formula:
                return workspace.trim(formula)[1]
            case "replace", Material() as material:
                return workspace.replace(material, job.request, within=job.within)
            case "vary", subject:
                return workspace.vary(subject, job.request or Request())
            case "pair", subject:
                return workspace.pair(subject, job.request)
            case _, subject:
                return workspace.extend(subject, job.request, within=job.within)


WORKER = Worker()
"""That of this process."""


def answer(job: Job) -> Any:
    """Return the answer of this process to a job; raises `RecommenderError`."""
    return WORKER.answer(job)
