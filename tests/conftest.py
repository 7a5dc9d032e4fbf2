"""A toy world whose answers can be worked out by hand.

Smells at right angles: lemon, rose, smoke, vanilla. Lime leans on lemon with a cosine of 0.8.
"""

import itertools
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

import pytest
from hypothesis import settings

from recommender.chemistry.odour_strength import CLASSES
from recommender.evidence.catalogue import Catalogue, load, plain
from recommender.model import (
    Caution,
    Component,
    Curve,
    Facet,
    Figure,
    Label,
    Lasting,
    Limit,
    Material,
    Name,
    Relation,
    Umbrella,
)
from recommender.palette import Palette
from recommender.similarity.relations import RelationGraph
from recommender.suggest import scoring

# a submission is judged by the same examples every time; at the bench new ones are looked for
settings.register_profile("submission", derandomize=True, deadline=None)
if os.environ.get("CI"):
    settings.load_profile("submission")


def pytest_configure(config: pytest.Config) -> None:
    """Keep the tests, and modules that read tables as they are imported, out of the user's own folders."""
    home = tempfile.mkdtemp(prefix="recommender-tests-")
    config.add_cleanup(lambda: shutil.rmtree(home, ignore_errors=True))
    os.environ["RECOMMENDER_NOTEBOOK"] = os.path.join(home, "notebook.sqlite")
    os.environ["XDG_STATE_HOME"] = os.path.join(home, "state")
    os.environ["XDG_CACHE_HOME"] = os.path.join(home, "cache")
    os.environ["RECOMMENDER_CONFIG"] = os.path.join(home, "config.toml")
    os.environ.pop("COLUMNS", None)


CURVE = Curve(80.0, 0.0, 0.6, "curve", "published", "toy-2020", log_error=0.35)
FACETS = (
    Facet("lemon", "citrus fruit", "the zest", ("lemon peel",)),
    Facet("lime", "citrus fruit", "greener than lemon"),
    Facet("rose", "flowers", "the petals", ("rose petal",)),
    Facet("smoke", "fire", "a wood fire"),
    Facet("vanilla", "sweet things", "the pod", ("vanilla pod",)),
)
VECTORS = {
    "lemon": (1.0, 0.0, 0.0, 0.0, 0.0),
    "lime": (0.8, 0.6, 0.0, 0.0, 0.0),
    "rose": (0.0, 0.0, 1.0, 0.0, 0.0),
    "smoke": (0.0, 0.0, 0.0, 1.0, 0.0),
    "vanilla": (0.0, 0.0, 0.0, 0.0, 1.0),
}
UMBRELLAS = (Umbrella("sour fruit", ("lemon", "lime"), ("sours",)), Umbrella("posy", ("flowers",)))


def make_material(
    slug: str,
    labels: dict[str, int] | None = None,
    *,
    cas: str = "",
    hours: float | None = None,
    pressure_pa: float = 1.0,
    label_basis: str = "common practice",
    curve: Curve | None = CURVE,
    **more: object,
) -> Material:
    """Return a molecule of the palette; `hours` None leaves open how long it lasts."""
    part = Component(slug, 1.0, pressure_pa, 150.0, curve=curve)
    stay = None
    if hours is not None:
        position = "top" if hours < 2 else "heart" if hours < 48 else "base"
        stay = Lasting(hours, hours / 2.2, hours * 2.2, position, "published")
    held: dict[str, object] = {
        "cas_more": (),
        "kind": "molecule",
        "form": "liquid",
        "role": "palette",
        "labels": tuple(Label(facet, strength, label_basis) for facet, strength in (labels or {}).items()),
        "figures": {"vapour_pressure": (Figure(pressure_pa, "Pa", "published", "toy-2020"),)},
        "parts": (part,),
        "lasting": stay,
        "strength": 40.0,
    }
    return Material(slug=slug, name=slug.replace("-", " "), cas=cas, **(held | more))


def make_catalogue(
    materials: Sequence[Material], relations: Sequence[Relation] = (), limits: Sequence[Limit] = ()
) -> Catalogue:
    """Return a catalogue of some materials in the toy facets."""
    by_name: dict[str, int] = {}
    for row, material in enumerate(materials):
        for text in (material.name, material.slug, *material.cas_all, *(n.text for n in material.names)):
            by_name.setdefault(plain(text), row)
    return Catalogue(
        materials=tuple(materials),
        facets=FACETS,
        umbrellas=UMBRELLAS,
        relations=tuple(relations),
        limits=tuple(limits),
        sources={"toy-2020": "A. Toy, 2020, Toy tables"},
        columns={},
        label_vectors=VECTORS,
        panel={},
        parameters={"top_until_hours": 2.0, "heart_until_hours": 48.0}
        | {f"class {name}": 0.7 * number - 1.0 for number, name in enumerate(CLASSES) if name != "none"},
        index={material.slug: row for row, material in enumerate(materials)},
        by_name=by_name,
    )


def make_relation(start: str, kind: str, end: str, weight: float = 1.0, note: str = "") -> Relation:
    """Return a relation held by the trade."""
    return Relation(start, kind, end, weight, "common practice", "", note)


@pytest.fixture(scope="session")
def material() -> Callable[..., Material]:
    return make_material


@pytest.fixture(scope="session")
def catalogue_of() -> Callable[..., Catalogue]:
    return make_catalogue


@pytest.fixture(scope="session")
def relation() -> Callable[..., Relation]:
    return make_relation


@pytest.fixture(scope="session")
def line() -> Catalogue:
    """Return a - b - c: b shares lemon with a and rose with c, a and c share nothing."""
    return make_catalogue(
        [
            make_material("a", {"lemon": 3}, hours=4.0),
            make_material("b", {"lemon": 3, "rose": 3}, hours=8.0),
            make_material("c", {"rose": 3}, hours=16.0),
        ]
    )


@pytest.fixture(scope="session")
def star() -> RelationGraph:
    """Return a hub joined to four others; `far` hangs on `isomer`, `alone` on nothing."""
    relations = [
        make_relation("hub", "replaces", "substitute"),
        make_relation("hub", "isomer-of", "isomer"),
        make_relation("partner", "classic-pair", "hub", 0.5),
        make_relation("hub", "clashes", "foe", note="they cover each other"),
        make_relation("isomer", "ester-of", "far"),
    ]
    slugs = ("hub", "substitute", "isomer", "partner", "foe", "far", "alone")
    return RelationGraph.build(relations, {slug: row for row, slug in enumerate(slugs)})


@pytest.fixture(scope="session")
def world() -> Catalogue:
    """Return lemons that last 1 minute to 500 hours, some of which may not be offered."""
    numbers = (f"{d}{d}-{d}{d}-0" for d in range(1, 10))
    materials = [
        make_material(
            "zest",
            {"lemon": 3, "rose": 1},
            cas=next(numbers),
            hours=1.0,
            pressure_pa=100.0,
            names=(Name("yellow top", "trivial"),),
            cas_more=("12345-67-4",),
        ),
        make_material("twin", {"lemon": 3, "rose": 1}, cas=next(numbers), hours=100.0, pressure_pa=1.0),
        make_material("lime-wax", {"lime": 3}, cas=next(numbers), hours=60.0, pressure_pa=1.5),
        make_material(
            "smoked-lemon",
            {"lemon": 3, "smoke": 2},
            cas=next(numbers),
            hours=80.0,
            cautions=(Caution("stains", "Colours white soap.", "memory"),),
        ),
        make_material("faint-lemon", {"lemon": 1, "smoke": 1, "vanilla": 3}, cas=next(numbers), hours=200.0),
        make_material("flash", {"lemon": 3}, cas=next(numbers), hours=0.02, pressure_pa=5000.0),
        make_material("banned-lemon", {"lemon": 3, "rose": 1}, cas=next(numbers), hours=100.0),
        make_material(
            "museum-lemon", {"lemon": 3, "rose": 1}, cas=next(numbers), hours=90.0, role="reference"
        ),
        make_material("lemon-solvent", {"lemon": 3}, cas=next(numbers), hours=90.0, kind="solvent"),
        make_material("lemon-oil", {"lemon": 3, "rose": 2}, hours=2.0, pressure_pa=50.0, kind="natural"),
        make_material("mystery-lemon", {"lemon": 3}, hours=None),
        make_material("ember", {"smoke": 3}, hours=500.0, pressure_pa=0.1),
        make_material("vanilla-pod", {"vanilla": 3}, hours=300.0, pressure_pa=0.1),
        make_material("mute", hours=300.0, curve=None, strength=None),
    ]
    prohibition = Limit(
        "lemon of the toy list",
        ("77-77-0",),
        (),
        "prohibition",
        "eu",
        "published",
        "toy-2020",
        reference="entry 7",
        note="at any dose",
    )
    relations = [
        make_relation("twin", "replaces", "zest", note="keeps the zest overnight"),
        make_relation("smoked-lemon", "clashes", "zest", note="ash over fruit"),
    ]
    return make_catalogue(materials, relations, [prohibition])


@pytest.fixture(scope="session")
def palette(world: Catalogue) -> Palette:
    return Palette.of(world)


@pytest.fixture(scope="session")
def palette_of() -> Callable[..., Palette]:
    """Return how a palette is made of names with labels, hours on a strip and vapour pressure [Pa]."""

    def made(world: Mapping[str, tuple[dict[str, int], float, float]]) -> Palette:
        return Palette.of(
            make_catalogue(
                [
                    make_material(name, labels, hours=hours, pressure_pa=pressure_pa)
                    for name, (labels, hours, pressure_pa) in world.items()
                ]
            )
        )

    return made


@pytest.fixture(scope="session")
def zest_over_ember(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Return the file of an accord whose lemon fades while its smoke stays."""
    path = tmp_path_factory.mktemp("formulas") / "accord.csv"
    path.write_text("material,parts\nzest,200\nember,800\n", encoding="utf-8")
    return str(path)


@pytest.fixture(scope="session")
def shuffled(world: Catalogue) -> Palette:
    """Return the same world, its rows in another order."""
    evens, odds = world.materials[::2], world.materials[1::2]
    return Palette.of(make_catalogue((*odds[::-1], *evens), world.relations, world.limits))


@pytest.fixture(scope="session")
def kin(material: Callable[..., Material]) -> Callable[[float], list[Material]]:
    """Return materials whose pressures differ by a factor, their curves moved so that they smell alike."""

    def pair(decades: float) -> list[Material]:
        held = replace(CURVE, log10_half=CURVE.log10_half - decades)
        return [
            material("volatile", {"lemon": 3}, hours=1.0, pressure_pa=10.0),
            material("tenacious", {"lemon": 3}, hours=10.0, pressure_pa=10.0 * 10.0**-decades, curve=held),
        ]

    return pair


@pytest.fixture(scope="module")
def everything_shown() -> Iterator[None]:
    """Have a toy world list all that may be offered: hardly anything in it is kin, so that scores are low."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(scoring, "LEAST_SCORE", 0.0)
        yield


@pytest.fixture(scope="session")
def shipped() -> Catalogue:
    return load()


@pytest.fixture(scope="session")
def sample(shipped: Catalogue) -> list[Material]:
    """Return forty materials spread over the catalogue that lead with a smell."""
    leading = [m for m in shipped.materials if any(label.strength == 3 for label in m.labels)]
    return list(itertools.islice(leading, 0, None, len(leading) // 40))[:40]
