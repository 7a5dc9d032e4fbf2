import ast
import importlib.metadata
import inspect
import pkgutil
import subprocess
import sys
from pathlib import Path

import pytest

import recommender
from recommender import api, errors

HEAVY = ["pandas", "sklearn", "scipy", "networkx", "rdkit", "matplotlib", "numpy", "rich"]


def loaded_after(code: str, *names: str) -> list[str]:
    """Return which of some packages a fresh process has loaded after some code."""
    show = f"print(*sorted(set({list(names)!r}) & set(sys.modules)), sep=',', file=sys.stderr)"
    ask = f"{code}\nimport sys\n{show}"
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, timeout=60, check=True)
    return [name for name in done.stderr.strip().split(",") if name]


def test_the_command_line_loads_nothing_heavy():
    assert loaded_after("import recommender.cli", *HEAVY) == []


def test_the_package_loads_nothing_heavy():
    assert loaded_after("import recommender", *HEAVY) == []


def test_help_loads_nothing_heavy():
    code = (
        "import sys; sys.argv = ['recommender', 'extend', '--help']\n"
        "from recommender.cli import main\n"
        "try: main()\nexcept SystemExit: pass"
    )
    assert loaded_after(code, *HEAVY) == []


@pytest.mark.parametrize("verb", ["extend('benzaldehyde', facet='almond')", "replace('coumarin')"])
def test_an_answer_needs_no_tool_of_the_builders(verb):
    builders = ["pandas", "sklearn", "scipy", "rdkit", "matplotlib", "chemicals", "thermo"]
    assert loaded_after(f"import recommender as r; r.{verb}.to_dict()", *builders) == []


def test_the_public_names_are_sorted_and_each_resolves():
    assert recommender.__all__ == sorted(set(recommender.__all__))
    older = {"drydown_of": "drydown"}
    for name in recommender.__all__:
        assert getattr(recommender, name).__name__ == older.get(name, name)
    assert set(dir(recommender)) == {*recommender.__all__, "__version__"}


def test_the_public_names_are_all_verbs_and_errors():
    public = {
        name
        for module in (api, errors)
        for name, value in vars(module).items()
        if not name.startswith("_")
        and (inspect.isclass(value) or inspect.isroutine(value))
        and value.__module__ == module.__name__
    }
    assert set(recommender.__all__) == public


def test_every_verb_of_a_notebook_is_one_of_the_package():
    verbs = {name for name in vars(api.Notebook) if not name.startswith("_")}
    assert verbs == {name for name in recommender.__all__ if name[0].islower()} - {"open"}


def test_no_public_name_is_that_of_a_module():
    rooms = {module.name for module in pkgutil.iter_modules(recommender.__path__)}
    assert rooms.isdisjoint(recommender.__all__)


def test_a_type_checker_reads_the_same_names():
    tree = ast.parse(Path(recommender.__file__).read_text(encoding="utf-8"))
    block = next(node for node in tree.body if isinstance(node, ast.If))
    imported = {name.name for node in block.body if isinstance(node, ast.ImportFrom) for name in node.names}
    assert imported == set(recommender.__all__)


def test_the_version_is_that_of_the_installed_package():
    assert recommender.__version__ == importlib.metadata.version("recommender")


def test_a_name_that_is_not_there_is_an_attribute_error():
    with pytest.raises(AttributeError, match="nonsense"):
        _ = recommender.nonsense
