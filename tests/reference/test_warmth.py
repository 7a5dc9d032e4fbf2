"""How pressures rise with the room, against a library's correlations valid at room temperature."""

import pytest

from recommender.evaporation.conditions import pressure_factor


@pytest.mark.parametrize(
    ("name", "cas", "per_degree"),
    [
        # Perry's Chemical Engineers' Handbook, 8th edition, table 2-8 (chemicals library).
        ("benzyl alcohol", "100-51-6", None),
        # VDI Heat Atlas, PPDS equations (chemicals library).
        ("benzaldehyde", "100-52-7", None),
        ("acetophenone", "98-86-2", None),
    ],
)
def test_pressure_factor_is_that_of_measured_liquids(name, cas, per_degree):
    table = pytest.importorskip("chemicals.vapor_pressure")
    equations = pytest.importorskip("chemicals.dippr")
    if cas in table.Psat_data_Perrys2_8.index:
        row = table.Psat_data_Perrys2_8.loc[cas]
        given = [float(row[f"C{i}"]) for i in range(1, 6)]
        cold, warm = (equations.EQ101(t, *given) for t in (291.15, 301.15))
    else:
        row = table.Psat_data_VDI_PPDS_3.loc[cas]
        given = [float(row[key]) for key in ("A", "B", "C", "D", "Tc", "Pc")]
        cold, warm = (table.Wagner(t, given[4], given[5], *given[:4]) for t in (291.15, 301.15))
    ours = pressure_factor(28.0) / pressure_factor(18.0)
    assert ours == pytest.approx(warm / cold, rel=0.15)


def test_a_degree_is_seven_to_ten_per_cent():
    # 55-80 kJ/mol (memory)
    assert 1.07 <= pressure_factor(26.0) <= 1.10
    assert pressure_factor(25.0) == 1.0
