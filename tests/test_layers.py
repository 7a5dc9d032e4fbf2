import pkgutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import recommender

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = Path(recommender.__file__).parent


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
    rooms = {f"recommender.{module.name}" for module in pkgutil.iter_modules([str(PACKAGE)])}
    for name in sorted(rooms - placed):  # a room in parts: each of its modules has a layer
        inner = pkgutil.iter_modules([str(PACKAGE / name.removeprefix("recommender."))])
        modules = {f"{name}.{module.name}" for module in inner}
        assert modules, f"{name} has no layer"
        assert modules - placed == set()
