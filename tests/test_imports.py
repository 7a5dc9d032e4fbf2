import ast
import importlib.metadata
import inspect
import os
import pkgutil
import subprocess
import sys
from pathlib import Path

import pytest

import recommender
from recommender import api, errors, process
from recommender.cli import SUMMARIES

HEAVY = ["pandas", "sklearn", "scipy", "networkx", "rdkit", "matplotlib", "numpy"]
FORMULA = str(Path(__file__).parents[1] / "data/demo/morello.csv")


def loaded_after(code: str, *names: str) -> list[str]:
    """Return which of some packages a fresh process has loaded after some code."""
    show = f"print(*sorted(set({list(names)!r}) & set(sys.modules)), sep=',', file=sys.stderr)"
    ask = f"{code}\nimport sys\n{show}"
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, timeout=60, check=True)
    return [name for name in done.stderr.splitlines()[-1].split(",") if name]


def test_the_command_line_loads_nothing_heavy():
    assert loaded_after("import recommender.cli", *HEAVY) == []


def test_the_package_loads_nothing_heavy():
    assert loaded_after("import recommender", *HEAVY) == []


ARCHIVE = ["recommender.archive", "pyarrow", "dask", "distributed"]


@pytest.mark.parametrize(
    "code", ["import recommender", "import recommender.cli", "import recommender as r; r.drydown"]
)
def test_nothing_but_its_command_loads_the_archive(code):
    assert loaded_after(code, *ARCHIVE) == []


@pytest.mark.parametrize("line", [("--help",), ("archive", "--help"), ("archive", "check", "--help"),
                                  ("check", FORMULA, "--dosage", "15")])  # fmt: skip
def test_help_and_other_commands_load_nothing_of_the_archive(line):
    assert loaded_after(run_line(*line), *ARCHIVE) == []


def test_the_page_loads_nothing_of_the_archive():
    pytest.importorskip("nicegui")
    assert loaded_after("import recommender.web.serve", *ARCHIVE) == []


def test_help_loads_nothing_heavy():
    assert loaded_after(run_line("extend", "--help"), *HEAVY) == []


def run_line(*arguments):
    """Return code that runs a command line."""
    return (
        f"import sys; sys.argv = ['recommender', *{arguments!r}]\n"
        "from recommender.cli import main\n"
        "try: main()\nexcept SystemExit: pass"
    )


def test_the_help_imports_no_command_and_no_class_of_answers():
    others = [f"recommender.cli.{name}" for name in (*SUMMARIES, "options", "fault")]
    others += ["recommender.model", "recommender.reasons", "recommender.evidence", "tempfile", "platformdirs"]
    assert loaded_after(run_line("--help"), *HEAVY, *others) == []


def test_a_command_imports_no_other():
    others = [f"recommender.cli.{name}" for name in SUMMARIES if name != "extend"]
    assert loaded_after(run_line("extend", "--help"), *HEAVY, *others) == []


@pytest.mark.parametrize("line", [("extend", "benzaldehyde"), ("replace", "coumarin"), ("drydown", FORMULA),
                                  ("check", FORMULA, "--dosage", "15"), ("extend", FORMULA)])  # fmt: skip
def test_an_answer_needs_no_graph_library_and_no_other_verb(line):
    others = ["networkx", "pandas", "scipy", "matplotlib", "recommender.weighing.plan"]
    others += ["recommender.suggest.companions", "recommender.output.charts"]
    assert loaded_after(run_line(*line, "--format", "json"), *others) == []


# how many threads linear algebra uses

THREADS = "import os; print(os.environ.get('OPENBLAS_NUM_THREADS'))"


def threads_after(code, **variables):
    """Return the limit of threads in a fresh process after some code."""
    limits = (*process.LIMITS, *process.OTHERS)
    bare = {name: value for name, value in os.environ.items() if name not in limits}
    call = [sys.executable, "-c", f"{code}\n{THREADS}"]
    done = subprocess.run(call, env=bare | variables, capture_output=True, text=True, timeout=60, check=True)
    return done.stdout.splitlines()[-1]


def test_the_command_line_uses_one_thread():
    assert threads_after(run_line("facets", "--format", "csv")) == "1"


@pytest.mark.parametrize("variables", [{"OPENBLAS_NUM_THREADS": "3"}, {"OMP_NUM_THREADS": "3"}])
def test_a_limit_of_the_person_wins(variables):
    expected = variables.get("OPENBLAS_NUM_THREADS", "None")
    assert threads_after(run_line("facets", "--format", "csv"), **variables) == expected


def test_the_package_leaves_the_threads_of_its_host_alone():
    assert threads_after("import recommender as r; r.extend('benzaldehyde')") == "None"


def test_a_worker_sets_its_threads_before_numpy_is_loaded():
    start = "from recommender.web.server import worker_start"
    assert loaded_after(start, *HEAVY) == []
    assert threads_after(f"{start}\nworker_start.start()") == "1"


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
