"""An accord's share of the concentrate and of the finished product: two of three figures give the third."""

from dataclasses import dataclass

from recommender.errors import BadValue


@dataclass(frozen=True, slots=True)
class Shares:
    """Mass fractions: the accord in the concentrate, the concentrate in the finished product, and both.

    `dosage` and `of_finished` are None where no finished product is meant.
    """

    of_concentrate: float
    dosage: float | None
    of_finished: float | None


def shares(
    of_concentrate: float | None = None, dosage: float | None = None, of_finished: float | None = None
) -> Shares:
    """Complete the shares; an accord is the whole concentrate where nothing else is said.

    Parameters
    ----------
    of_concentrate : float, optional
        Mass fraction of the accord in the concentrate.
    dosage : float, optional
        Mass fraction of the concentrate in the finished product.
    of_finished : float, optional
        Mass fraction of the accord in the finished product.

    Raises
    ------
    BadValue
        A share is not above 0 and at most 1; three shares; more accord than the finished product or the
        concentrate can hold; a share of the finished product alone.

    Examples
    --------
    >>> shares(of_concentrate=0.05, dosage=0.5).of_finished
    0.025
    >>> shares(of_finished=0.025, dosage=0.5).of_concentrate
    0.05
    """
    for option, value in (
        ("--share", of_concentrate),
        ("--dosage", dosage),
        ("--finished-share", of_finished),
    ):
        if value is not None and not 0 < value <= 1:
            raise BadValue(option, f"{100 * value:g} %", "it is above 0 and at most 100 %")
    if of_finished is None:
        share = 1.0 if of_concentrate is None else of_concentrate
        return Shares(share, dosage, None if dosage is None else share * dosage)
    told = f"{100 * of_finished:g} %"
    if of_concentrate is not None and dosage is not None:
        raise BadValue(
            "--finished-share", told, "it follows from --share and --dosage; leave one of the three out"
        )
    if of_concentrate is None and dosage is None:
        raise BadValue("--finished-share", told, "say the --dosage too, or the --share of the concentrate")
    known, of = (dosage, "a dosage") if dosage is not None else (of_concentrate, "a share")
    assert known is not None
    if of_finished > known * (1 + 1e-9):
        raise BadValue("--finished-share", told, f"{of} of {100 * known:g} % cannot hold that much")
    found = min(of_finished / known, 1.0)
    return Shares(found, dosage, of_finished) if dosage is not None else Shares(known, found, of_finished)
