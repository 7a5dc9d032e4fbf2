"""An accord's share of the concentrate and of the finished product: two of three figures give the third."""

from dataclasses import dataclass

from recommender.errors import BadValue


@dataclass(frozen=True, slots=True)
class Shares:
    """The accord in the concentrate, the concentrate in the finished product, and both [% by mass].

    `dosage_percent` and `of_finished_percent` are None where no finished product is meant.
    """

    of_concentrate_percent: float
    dosage_percent: float | None
    of_finished_percent: float | None


def shares(
    of_concentrate_percent: float | None = None,
    dosage_percent: float | None = None,
    of_finished_percent: float | None = None,
) -> Shares:
    """Complete the shares; an accord is the whole concentrate where nothing else is given.

    Parameters
    ----------
    of_concentrate_percent : float, optional
        The accord in the concentrate [% by mass].
    dosage_percent : float, optional
        The concentrate in the finished product [% by mass].
    of_finished_percent : float, optional
        The accord in the finished product [% by mass].

    Raises
    ------
    BadValue
        A share is not above 0 and at most 100; three shares; more accord than finished product or
        concentrate; a share of the finished product alone.

    Examples
    --------
    >>> shares(of_concentrate_percent=5, dosage_percent=50).of_finished_percent
    2.5
    >>> shares(of_finished_percent=2.5, dosage_percent=50).of_concentrate_percent
    5.0
    """
    for field, value in (
        ("share_percent", of_concentrate_percent),
        ("dosage_percent", dosage_percent),
        ("finished_share_percent", of_finished_percent),
    ):
        if value is not None and not 0 < value <= 100:
            raise BadValue(field, f"{value:g} %", "it is above 0 and at most 100 %")
    if of_finished_percent is None:
        share = 100.0 if of_concentrate_percent is None else of_concentrate_percent
        return Shares(share, dosage_percent, None if dosage_percent is None else share * dosage_percent / 100)
    shown = f"{of_finished_percent:g} %"
    if of_concentrate_percent is not None and dosage_percent is not None:
        raise BadValue(
            "finished_share_percent",
            shown,
            "it follows from {share_percent} and {dosage_percent}; leave one of the three out",
        )
    if dosage_percent is not None:
        return Shares(
            _other(of_finished_percent, dosage_percent, "a dosage"), dosage_percent, of_finished_percent
        )
    if of_concentrate_percent is None:
        raise BadValue(
            "finished_share_percent",
            shown,
            "give {dosage_percent} too, or {share_percent}, its share of the concentrate",
        )
    found = _other(of_finished_percent, of_concentrate_percent, "a share")
    return Shares(of_concentrate_percent, found, of_finished_percent)


def _other(of_finished_percent: float, known_percent: float, known: str) -> float:
    """Return the second of two shares whose product is known [%]."""
    if of_finished_percent > known_percent * (1 + 1e-9):
        wanted = f"{known} of {known_percent:g} % is less than that"
        raise BadValue("finished_share_percent", f"{of_finished_percent:g} %", wanted)
    return min(100.0 * of_finished_percent / known_percent, 100.0)
