"""Questions to a palette or to the shipped evidence, asked through a workspace as every face asks them."""

from recommender.formulas.drydown import FormulaDrydown
from recommender.palette import Palette
from recommender.suggest import Request
from recommender.workspace import Workspace


def extend(asked, palette: Palette, *, formula=None, **request):
    return Workspace(palette=palette).extend(asked, Request(**request), within=formula)


def replace(asked, palette: Palette, *, formula=None, **request):
    return Workspace(palette=palette).replace(asked, Request(**request), within=formula)


def vary(asked, palette: Palette, **request):
    return Workspace(palette=palette).vary(asked, Request(**request))


def pair(asked, palette: Palette, **request):
    return Workspace(palette=palette).pair(asked, Request(**request))


def drydown(formula, palette: Palette, market: str = "any") -> FormulaDrydown:
    return Workspace(palette=palette).drydown(formula, market)
