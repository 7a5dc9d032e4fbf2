"""The guide: every answer in it is what its command prints."""

import importlib.util
import re
import shlex
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def guide():
    spec = importlib.util.spec_from_file_location("guide", ROOT / "scripts/guide.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_guide_is_what_its_questions_are_answered_with(guide):
    # after answers have moved: scripts/guide.py writes it anew; read the difference
    assert guide.text() == guide.FILE.read_text(encoding="utf-8")


def test_the_guide_asks_ten_questions_and_shows_python(guide):
    text = guide.FILE.read_text(encoding="utf-8")
    assert re.findall(r"^## (\d+)\. ", text, re.MULTILINE) == [str(n) for n in range(1, 11)]
    assert ">>> answer\n<3 suggestions: " in text


def test_the_demo_shows_commands_that_can_be_pasted(tmp_path):
    script = (ROOT / "scripts/demo").read_text(encoding="utf-8")
    shown = script[script.index("run() {") : script.index("title()")].replace(
        '.venv/bin/recommender "$@" 2>&1', ":"
    )
    words = ["replace", "80-54-6", "--facet", "lily of the valley", "--because", "it's"]
    call = shown + "\nrun " + shlex.join(words)
    out = subprocess.run(["bash", "-c", call], capture_output=True, text=True, check=True).stdout
    line = out.replace("\x1b[1m", "").replace("\x1b[0m", "").strip().removeprefix("$ ")
    assert shlex.split(line) == [".venv/bin/recommender", *words]
