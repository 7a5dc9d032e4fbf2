from pathlib import Path

import pytest

from scripts import benchmark


def test_an_exponent_is_the_power_with_which_time_grows():
    sizes = (10, 40, 100, 300)
    assert benchmark.exponents(sizes, [3e-3 * size**1.5 for size in sizes]) == pytest.approx((1.5, 1.5))
    overall, last = benchmark.exponents(sizes, [1.0, 1.0, 1.0, 3.0])
    assert overall < last == pytest.approx(1.0)


def test_a_row_that_misses_its_aim_says_so():
    assert benchmark.judged(0.2, 0.2, ".2f") == "aim 0.20"
    assert benchmark.judged(0.21, 0.2, ".2f") == "aim 0.20, missed"
    assert benchmark.judged(0.21, None, ".2f") == ""


def test_the_rows_are_those_of_the_command_line(tmp_path, monkeypatch):
    monkeypatch.syspath_prepend(Path(benchmark.__file__).parent)  # as for a script
    rows = benchmark.rows(tmp_path)
    assert next(iter(rows)) == "yardstick"
    assert all(row.aim for name, row in rows.items() if name not in ("yardstick", "extend-without-cache"))
    lines = (tmp_path / "forty.csv").read_text(encoding="utf-8").splitlines()
    assert len(lines) == 41
    seconds, processor, peak_mb = benchmark.in_child(benchmark.ran, rows["help"])
    assert seconds > 0
    assert processor > 0
    assert 5 < peak_mb < 1000
