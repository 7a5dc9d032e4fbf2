import re
import statistics
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import recommender

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = Path(recommender.__file__).parent
LENGTHS = {
    str(path.relative_to(PACKAGE)): len(path.read_text(encoding="utf-8").splitlines())
    for path in PACKAGE.rglob("*.py")
}


def test_imports_go_downwards_only():
    pytest.importorskip("importlinter")
    start = "import sys; from importlinter.cli import lint_imports_command as run; sys.exit(run())"
    done = subprocess.run(
        [sys.executable, "-c", start, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


def test_every_module_has_its_layer():
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    layers = settings["tool"]["importlinter"]["contracts"][0]["layers"]
    placed = {name.strip() for layer in layers for name in layer.split("|")}
    modules = {
        f"recommender.{path.stem}"
        for path in PACKAGE.iterdir()
        if (path.suffix == ".py" and path.stem != "__init__") or (path / "__init__.py").is_file()
    }
    assert modules - placed == set()


def test_modules_are_short():
    assert statistics.median(LENGTHS.values()) <= 125  # "about 120 lines"


@pytest.mark.parametrize("name", sorted(LENGTHS))
def test_no_module_is_longer_than_400_lines(name):
    assert LENGTHS[name] <= 400


def test_every_command_stands_on_the_notebook():
    """A command that takes the shipped bench would not know the person's own labels, nose and formulas."""
    told = {
        path.name: re.findall(r"\bshipped\(\)", path.read_text(encoding="utf-8"))
        for path in (PACKAGE / "cli").glob("*.py")
        if path.name
        not in ("ground.py", "materials.py", "nose.py", "limits.py")  # these compare with the table
    }
    assert {name: found for name, found in told.items() if found} == {}
