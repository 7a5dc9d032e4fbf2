"""What is shipped: a type checker sees the verbs (PEP 561), and wheel and sdist hold what they need."""

import shutil
import subprocess
import sys
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest

import recommender

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = Path(recommender.__file__).parent

SCRIPT = """
from typing import Any, assert_type

import recommender as r
from recommender.model import Findings, Material

answer = r.extend("benzaldehyde", facet="almond", until_hours=24, top=3)
assert_type(answer, r.Answer[Findings])
assert_type(answer.to_dict(), dict[str, Any])
assert_type(len(answer), int)
assert_type([row["name"] for row in answer], list[Any])
name: str = r.material("coumarin").name
assert_type(r.material("coumarin").value.name, str)
assert_type(r.materials("hay").value[0], Material)
for formula in ("accord.csv", {"coumarin": 2}, [("coumarin", 2.0)], r.drydown("accord.csv").value.formula):
    r.drydown(formula)
r.open("notebook.sqlite").weigh({"coumarin": 2.0}, batch_g=20, flat=True)
version: str = r.__version__
try:
    r.check("accord.csv", dosage_percent=15)
except r.BadTable as error:
    assert_type(error.line, int | None)
except r.RecommenderError as error:
    print(error)
r.extend("benzaldehyde", untill_hours=24)  # type: ignore[call-arg]
r.extend(24)  # type: ignore[arg-type]
r.drydown(24)  # type: ignore[arg-type]
r.check("accord.csv", dosage=15)  # type: ignore[call-arg]
r.weigh("accord.csv", batch=20)  # type: ignore[call-arg]
"""


def test_the_verbs_are_typed_for_whoever_installs_the_package(tmp_path):
    """As installed: beside other packages, where a checker only reads what is marked as typed."""
    pytest.importorskip("mypy")
    venv.create(tmp_path / "venv", with_pip=False)
    (site,) = (tmp_path / "venv").rglob("site-packages")
    shutil.copytree(PACKAGE, site / "recommender", ignore=shutil.ignore_patterns("__pycache__"))
    (python,) = (p for p in (tmp_path / "venv").glob("*/python*") if p.stem == "python")
    script = tmp_path / "script.py"
    script.write_text(SCRIPT, encoding="utf-8")
    options = ["--strict", "--config-file", "", "--cache-dir", str(tmp_path / "cache")]
    done = subprocess.run(
        [sys.executable, "-m", "mypy", *options, "--python-executable", str(python), str(script)],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """Return the names in wheel and sdist, without the folder that an sdist puts around them."""
    pytest.importorskip("hatchling")
    from hatchling.builders.sdist import SdistBuilder
    from hatchling.builders.wheel import WheelBuilder

    if not (ROOT / "data").is_dir():
        pytest.skip("the evidence is not shipped here")
    folder = str(tmp_path_factory.mktemp("dist"))
    (wheel,) = WheelBuilder(str(ROOT)).build(directory=folder)
    (sdist,) = SdistBuilder(str(ROOT)).build(directory=folder)
    with zipfile.ZipFile(wheel) as opened:
        names = {"wheel": set(opened.namelist())}
    with tarfile.open(sdist) as unpacked:
        names["sdist"] = {name.split("/", 1)[1] for name in unpacked.getnames()}
    return names


@pytest.mark.parametrize("kind", ["wheel", "sdist"])
def test_what_is_built_holds_the_mark_of_a_typed_package_and_its_tables(built, kind):
    evidence = "recommender/data" if kind == "wheel" else "data"
    wanted = {
        *("recommender/py.typed", "recommender/__init__.py", "recommender/LICENSE"),
        *("recommender/tables/components.csv", f"{evidence}/materials.csv", f"{evidence}/demo/morello.csv"),
        *(
            f"{evidence}/annexes.csv",
            f"{evidence}/standards.csv",
            "recommender/notebook/schema/005_trials.sql",
        ),
    }
    assert wanted <= built[kind]


def test_a_source_distribution_is_whole(built):
    wanted = {
        "README.md",
        "DEVELOPERS.md",
        ".ci/run",
        ".pictures/page.png",
        "scripts/test",
        "tests/conftest.py",
        "tests/sheets/plain.csv",
    }
    assert wanted <= built["sdist"]
