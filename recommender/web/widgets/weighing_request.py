"""What is asked of the balance on the page, read from the fields as typed."""

from collections.abc import Mapping, Sequence

from recommender import units
from recommender.errors import BadValue, RecommenderError
from recommender.model import Bottle
from recommender.web.server.typed_lines import ParsedLines
from recommender.web.widgets.labelled_fields import Problem
from recommender.web.widgets.product_section import percent_typed, product_use, share_of
from recommender.weighing.plan import LARGEST_STEP_PERCENT, WeighingSheet
from recommender.weighing.request import WeighingRequest, weighed
from recommender.workspace import Workspace

BATCH, DIGIT, WITHIN, CARRIER = "10", "0.01", f"{LARGEST_STEP_PERCENT:g}", "ethanol"
Bottles = Mapping[str, Sequence[Bottle]]


def request_of(fields: Mapping[str, str]) -> WeighingRequest:
    """Return the request of the fields; raises `BadValue`.

    Three vials are compared without a finished product: its dosage is left out then. A batch gives way to an
    amount of finished product.
    """
    use, bracket = product_use(fields), fields.get("bracket", "").strip()
    finished = _mass("finished_g", fields.get("finished", ""))
    return WeighingRequest(
        batch_g=None if finished is not None else _mass("batch_g", fields.get("batch", "") or BATCH),
        finished_g=finished,
        resolution_g=_mass("resolution_g", fields.get("digit", "") or DIGIT) or 0.0,
        within_percent=percent_typed(fields, "within", "within_percent") or LARGEST_STEP_PERCENT,
        dosage_percent=None if bracket else use.dosage_percent,
        share_percent=share_of(fields),
        finished_share_percent=None
        if bracket
        else percent_typed(fields, "finished-share", "finished_share_percent"),
        carrier=fields.get("carrier", "").strip() or CARRIER,
        flat=bool(fields.get("flat")),
        as_written=bool(fields.get("as-written")),
        market=use.market,
        bracket=bracket,
        category=use.category,
        on=use.on,
    )


def sheet_of(
    read: ParsedLines, workspace: Workspace, fields: Mapping[str, str], bottles: Bottles | None = None
) -> WeighingSheet | str:
    """Return the weighing sheet of a batch, or the sentence of what is missing for it.

    What is on the shelf only as a dilution (`bottles`, by material) is weighed from that.
    """
    if read.formula is None:
        return "Put a material with its parts into the formula first."
    catalogue = workspace.palette.catalogue
    try:
        request = request_of(fields)
        for name in ("carrier", "bracket"):
            if typed := getattr(request, name):
                try:
                    catalogue.find(typed)
                except RecommenderError as error:
                    return Problem.of(error, name)
        return weighed(read.formula, request, catalogue, bottles)
    except RecommenderError as error:
        return Problem.of(error)


def _mass(field: str, text: str) -> float | None:
    """Return a mass as typed [g], None where it is blank; raises `BadValue` of this field."""
    if not text.strip():
        return None
    try:
        return units.mass_of(text.strip())
    except BadValue as error:
        raise BadValue(field, text, error.wanted) from None
