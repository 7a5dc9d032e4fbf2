import inspect
import subprocess
import sys

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
    for name in recommender.__all__:
        assert getattr(recommender, name).__name__ == name
    assert dir(recommender) == recommender.__all__


def test_the_public_names_are_all_verbs_and_errors():
    public = {
        name
        for module in (api, errors)
        for name, value in vars(module).items()
        if not name.startswith("_")
        and (inspect.isclass(value) or inspect.isfunction(value))
        and value.__module__ == module.__name__
    }
    assert set(recommender.__all__) == public


def test_a_name_that_is_not_there_is_an_attribute_error():
    with pytest.raises(AttributeError, match="nonsense"):
        _ = recommender.nonsense
