"""Tables of readings, and what is typed about a wall."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blender.errors import InputError
from blender.heat.readings import parse_readings
from blender.heat.wall import parse_conductance, parse_wall

ROWS = ["0,60,20", "60,120,41", "120,180,50", "180,176,48", "600,160,35", "1200,150,31"]


def table(rows=ROWS, header="time_s,gauge_bar,gas_c", mark=","):
    return "\n".join([header, *rows]).replace(",", mark)


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_a_table_is_read(mark):
    found = parse_readings("\ufeff" + table(mark=mark) + "\n\n")
    assert found.shut == 2
    assert not found.of_wall
    assert [row.gauge_bar for row in found.rows] == [60, 120, 180, 176, 160, 150]
    assert found.rows[-1].temperature_c == 31.0


def test_other_units_and_a_decimal_comma():
    rows = [
        "2;870,2;68",
        "3;1740,4;105,8",
        "4;2610,7;122",
        "5;2550;120",
        "10;2300;100",
        "30;2180;90",
    ]
    found = parse_readings("\n".join(["Time_min; gauge_psi; wall_F", *rows]))
    assert found.of_wall
    assert found.rows[0].time_s == 0.0
    assert found.rows[1].time_s == 60.0
    assert found.rows[0].gauge_bar == pytest.approx(60.0, abs=0.01)
    assert found.rows[1].temperature_c == pytest.approx(41.0)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("", "--readings"),
        (table(header="time,gauge,gas"), "--readings"),
        (table(header="time_s,gauge_bar"), "--readings"),
        (table(ROWS[:5]), "--readings"),
        (table(ROWS * 100), "--readings"),
        (table([*ROWS[:3], "180,176", *ROWS[4:]]), "--readings, line 5"),
        (table([*ROWS[:3], "180,hot,4", *ROWS[4:]]), "--readings, line 5"),
        (table([*ROWS[:3], "180,176,480", *ROWS[4:]]), "--readings, line 5"),
        (table([*ROWS[:3], "120,176,48", *ROWS[4:]]), "--readings, line 5"),
        (table([*ROWS[:1], "60,59,41", *ROWS[2:]]), "--readings, line 3"),
        (table([*ROWS[:5], "600000,150,31"]), "--readings, line 7"),
        (table([*ROWS[:5], "1200,250,31"]), "--readings"),
        (table(["0,260,20", *ROWS[1:]]), "--readings"),
    ],
)
def test_a_table_that_cannot_be_used_is_told_with_its_line(text, place):
    with pytest.raises(InputError) as caught:
        parse_readings(text)
    assert caught.value.field.startswith(place)


@given(st.text(max_size=200) | st.lists(st.text(max_size=12), max_size=9).map(table))
def test_any_text_is_a_table_or_a_told_reason(text):
    try:
        parse_readings(text)
    except InputError as error:
        assert error.field.startswith("--readings")


@pytest.mark.parametrize(
    ("typed", "heat"),
    [("14kg:steel", 6650.0), ("13 kg : Aluminium", 11700.0), ("10lb:aluminum", 4082.33133)],
)
def test_a_wall(typed, heat):
    assert parse_wall(typed) == pytest.approx(heat)


@pytest.mark.parametrize("typed", ["", "14", "14kg", "kg:steel", "14kg:wood", "0kg:steel",
                                   "-3kg:steel", "9999kg:steel", "1,234kg:steel"])  # fmt: skip
def test_no_wall(typed):
    with pytest.raises(InputError) as caught:
        parse_wall(typed)
    assert caught.value.field == "--wall"


@pytest.mark.parametrize("typed", ["", "20", "-1W/K", "W/K", "20W", "10001W/K", "nanW/K"])
def test_no_conductance(typed):
    with pytest.raises(InputError) as caught:
        parse_conductance(typed, "--inside")
    assert caught.value.field == "--inside"
