import json
import os
import shutil
import stat
import subprocess
import sys
import zlib
from pathlib import Path

import pytest

from recommender.errors import BadTable, StaleTable
from recommender.evidence import catalogue, compiled
from recommender.evidence.catalogue import CLASSES, CODE, EVIDENCE, TABLES, load_compiled
from recommender.evidence.tables import Folders


@pytest.fixture(scope="module")
def folders(tmp_path_factory):
    """A copy of tables and evidence that no test changes."""
    return copy_in(tmp_path_factory.mktemp("folders"))


@pytest.fixture
def own_folders(tmp_path):
    """A copy to change."""
    return copy_in(tmp_path)


def copy_in(folder):
    shutil.copytree(TABLES, folder / "tables")
    shutil.copytree(EVIDENCE, folder / "data")
    return Folders(folder / "tables", folder / "data")


@pytest.fixture(autouse=True)
def settled(monkeypatch):
    """As if the tables had been there for a while."""
    monkeypatch.setattr(compiled, "SETTLED_S", 0.0)


@pytest.fixture
def file(tmp_path):
    return tmp_path / "cache" / "recommender" / "tables.json"


@pytest.fixture
def written(folders, file, shipped):
    compiled.write(file, shipped, compiled.stamps([*folders.files(), *CODE]))
    return file


def read_from_tables(folders, file, monkeypatch, shipped):
    """Return the catalogue, and whether it had to be read from the tables."""
    found = []
    monkeypatch.setattr(catalogue, "read", lambda _: found.append(1) or shipped)
    return load_compiled(folders, file), bool(found)


def head_and_body(file):
    head, body = file.read_bytes().split(b"\n", 1)
    return json.loads(head), body


def rewrite(file, head, body):
    file.write_bytes(json.dumps(head | {"checksum": zlib.crc32(body)}).encode() + b"\n" + body)


def test_the_compiled_form_gives_the_same_catalogue(written, shipped):
    assert compiled.read(written, CLASSES) == shipped


def test_the_tables_are_read_once(folders, written, shipped, monkeypatch):
    assert read_from_tables(folders, written, monkeypatch, shipped) == (shipped, False)


def test_the_file_is_for_its_owner_alone(written):
    assert stat.S_IMODE(written.stat().st_mode) == 0o600
    assert stat.S_IMODE(written.parent.stat().st_mode) == 0o700
    assert [path.name for path in written.parent.iterdir()] == [written.name]


def test_edited_tables_are_noticed_though_size_and_time_stay(own_folders, file):
    load_compiled(own_folders, file)
    assert file.exists()
    path = own_folders.path("labels")
    before = path.stat()
    path.write_bytes(path.read_bytes().replace(b"memory", b"memorx", 1))
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    with pytest.raises(StaleTable, match=r"labels\.csv"):
        load_compiled(own_folders, file)


def test_a_missing_table_is_noticed(own_folders, file):
    load_compiled(own_folders, file)
    own_folders.path("sources").unlink()
    with pytest.raises(BadTable, match="missing"):
        load_compiled(own_folders, file)


def test_what_reads_the_tables_is_one_of_the_files(written):
    made_from = head_and_body(written)[0]["made_from"]
    assert {"catalogue.py", "tables.py", "model.py", "labels.csv", "manifest.csv"} <= {
        Path(path).name for path in made_from
    }


@pytest.mark.parametrize(
    "changed", [{"format": compiled.FORMAT + 1}, {"made_from": {}}, {"made_from": {"/no/such": [1, 2, 3, 4]}}]
)
def test_another_format_or_unknown_files_are_not_used(folders, written, shipped, monkeypatch, changed):
    head, body = head_and_body(written)
    rewrite(written, head | changed, body)
    assert read_from_tables(folders, written, monkeypatch, shipped) == (shipped, True)
    assert head_and_body(written)[0]["format"] == compiled.FORMAT  # and it is written again


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\n",
        b"[]\n[]",
        b"\x80\x04K\x01.",
        b"{}\n{}",
        b"[" * 100_000 + b"\n",
        None,
    ],
)
def test_a_damaged_file_is_not_used(folders, written, shipped, monkeypatch, content):
    written.write_bytes(written.read_bytes()[:-1000] if content is None else content)
    assert read_from_tables(folders, written, monkeypatch, shipped) == (shipped, True)


@pytest.mark.parametrize(
    "tables",
    [
        [],
        {},
        [["os.system", [["plain", ["true"]]]]],
        [["Name", [["plain", ["rose"]], ["plain", ["trivial"]]]]],
        [["Name", [["plain", ["rose"]]]]],
        [["Catalogue", [["many Material", [[7]]]]]],
        [["Name", [["strange", ["rose"]], ["plain", ["trivial"]]]]],
    ],
)
def test_other_tables_are_not_used(folders, written, shipped, monkeypatch, tables):
    head, _ = head_and_body(written)
    rewrite(written, head, json.dumps(tables).encode())
    assert read_from_tables(folders, written, monkeypatch, shipped) == (shipped, True)


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="rights of POSIX")
def test_a_file_that_others_may_write_is_not_used(folders, written, shipped, monkeypatch):
    written.chmod(0o666)
    assert read_from_tables(folders, written, monkeypatch, shipped) == (shipped, True)
    assert stat.S_IMODE(written.stat().st_mode) == 0o600


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="rights of POSIX")
def test_a_file_of_somebody_else_is_not_used(folders, written, shipped, monkeypatch):
    somebody = os.getuid() + 1
    monkeypatch.setattr(os, "getuid", lambda: somebody)
    assert read_from_tables(folders, written, monkeypatch, shipped) == (shipped, True)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes of POSIX")
def test_a_link_or_a_pipe_is_not_used(folders, written, shipped, monkeypatch):
    moved = written.rename(written.with_name("moved"))
    written.symlink_to(moved)
    assert read_from_tables(folders, written, monkeypatch, shipped) == (shipped, True)
    written.unlink()
    os.mkfifo(written)
    assert compiled.read(written, CLASSES) is None


def test_a_folder_that_cannot_be_made_or_written_to_is_no_matter(folders, tmp_path, shipped):
    (tmp_path / "file").write_text("")
    assert load_compiled(folders, tmp_path / "file" / "tables.json") == shipped
    (tmp_path / "tables.json").mkdir()
    assert load_compiled(folders, tmp_path / "tables.json") == shipped
    assert sorted(path.name for path in tmp_path.iterdir()) == ["file", "tables.json"]


def test_without_a_cache_folder_the_tables_are_read(folders, shipped, monkeypatch):
    monkeypatch.setattr("platformdirs.user_cache_path", lambda *_, **__: Path("~/.cache"))
    assert compiled.place(folders.computed) is None
    assert load_compiled(folders, None) == shipped


def test_tables_that_were_just_changed_are_not_written(folders, file, shipped, monkeypatch):
    monkeypatch.setattr(compiled, "SETTLED_S", 3600.0)
    assert load_compiled(folders, file) == shipped
    assert not file.exists()


def test_two_installations_do_not_share_a_file(tmp_path):
    assert compiled.place(tmp_path / "a") != compiled.place(tmp_path / "b")


def test_an_answer_comes_from_the_compiled_form_and_is_the_same(tmp_path):
    code = "import recommender as r; print(r.extend('benzaldehyde', facet='almond').to_dict())"
    cache = tmp_path / "cache"
    environment = os.environ | {"XDG_CACHE_HOME": str(cache)}
    call = [sys.executable, "-c", code]
    first, second = (
        subprocess.run(call, env=environment, capture_output=True, text=True, check=True) for _ in range(2)
    )
    assert first.stdout == second.stdout
