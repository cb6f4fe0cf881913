"""`fillwright heat` as typed."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blender.errors import InputError, NoFillError
from tests.executor import pressure_bar
from tests.heat.test_fitting import read
from tests.tui.terminal import run
from tui.commands.heat import answer, lines

PLAIN = ["--cylinder", "12L", "--have", "60bar:EAN28", "--want", "230bar", "--minutes", "5",
         "--wall", "14kg:steel"]  # fmt: skip
TYPED = {"cylinder": "12L", "have": "60bar:EAN28", "want": "230bar", "minutes": "5",
         "wall": "14kg:steel"}  # fmt: skip


def test_the_answer():
    said = run("heat", *PLAIN, "--inside", "20W/K", "--outside", "5W/K", "--json")
    assert said.code == 0, said
    found = said.json
    stop, result = found["stop"], found["result"]
    assert found["request"]["conductances"] == "given"
    assert result["pressure_bar"] == pytest.approx(230.0, abs=1e-3)
    assert found["shut_at_want"]["settles_bar"] == pytest.approx(192.0, abs=1.0)
    bounds = found["bounds"]
    assert bounds["wall_as_warm_as_gas_bar"] < stop["pressure_bar"] < bounds["no_heat_to_wall_bar"]
    assert stop["pressure_bar"] > 270.0
    assert found["curve"][0]["pressure_bar"] == pytest.approx(60.0)
    assert found["curve"][-1]["gas_c"] == stop["gas_c"]
    assert 30.0 < found["cooling"]["minutes"] < 300.0
    assert {w["code"] for w in found["warnings"]} == {"hot-stop", "lumped"}


def test_the_mix_and_pressure_are_those_of_the_independent_equation_of_state():
    """28 % and air by amounts, in pyaga8's GERG-2008."""
    found = answer(**TYPED)
    let_in = found["stop"]["amount_mol"]
    total = 30.497 + let_in
    o2 = (30.497 * 0.28 + let_in * 0.20946) / total
    assert found["result"]["o2"] == pytest.approx(o2, abs=1e-5)
    rest = 1.0 - o2
    mix = [o2 * total, 0.0, rest * total * 0.7812 / 0.79054, rest * total * 0.00934 / 0.79054]
    assert pressure_bar(mix, 20.0, 12.0) - 1.01325 == pytest.approx(230.0, abs=0.05)


def test_the_lines_say_that_it_is_an_estimate():
    said = run("heat", *PLAIN)
    assert said.code == 0
    assert said.out.startswith("Shut at 280.6 bar, 5 min after the start")
    for words in ("an estimate", "let the cylinder rest", "read it again", "are assumed"):
        assert words in said.out.lower()


def test_the_panels_maximum_is_exit_3_with_the_stages():
    said = run("heat", *PLAIN, "--panel-max", "250bar", "--json")
    assert said.code == 3
    assert said.json["error"]["code"] == "panel-max"
    assert [row["kind"] for row in said.json["alternatives"]] == ["in-stages", "shut-early"]
    said = run("heat", *PLAIN, "--panel-max", "250bar")
    assert "nearest: fill to 250.0 bar and let it cool" in said.err
    said = run("heat", *PLAIN, "--panel-max", "300bar", "--json")
    assert said.code == 0
    assert said.json["request"]["panel_max_bar"] == 300.0


def test_a_panel_that_no_stage_helps_is_exit_3_too():
    """A little below the maximum after the first stage: another would bring nothing."""
    with pytest.raises(NoFillError) as caught:
        answer("12L", "30bar@-13.4C:air", "256.84bar", "30", "80kg:steel", room="45.8C",
               inside="500W/K", outside="10000W/K", panel_max="111bar")  # fmt: skip
    assert [row["kind"] for row in caught.value.alternatives] == ["shut-early"]


def test_a_bank_too_low_is_exit_3():
    said = run("heat", *PLAIN, "--bank", "240bar", "--json")
    assert said.code == 3
    assert said.json["error"]["code"] == "bank-low"


def test_conductances_from_readings(tmp_path):
    rows = read(30.0, 6.0).rows
    file = tmp_path / "fill.csv"
    told = [f"{r.time_s:.0f},{r.gauge_bar:.1f},{r.temperature_c:.1f}" for r in rows]
    file.write_text("\n".join(["time_s,gauge_bar,gas_c", *told]), encoding="utf-8")
    words = [word if word != "60bar:EAN28" else "60bar:air" for word in PLAIN]
    said = run("heat", *words, "--readings", str(file), "--json")
    assert said.code == 0, said
    fit = said.json["fit"]
    assert fit["inside_w_k"] == pytest.approx(30.0, rel=0.01)
    assert fit["outside_w_k"] == pytest.approx(6.0, rel=0.01)
    assert said.json["request"]["inside_w_k"] == fit["inside_w_k"]
    assert said.json["request"]["conductances"] == "fitted"
    assert 0.0 < said.json["stop"]["pressure_uncertainty_bar"] < 5.0
    face = run("heat", *words, "--readings", str(file)).out
    assert "inside 30." in face
    assert "The stop is sure to +-" in face
    assert run("heat", *words, "--readings", str(file), "--inside", "3W/K").code == 2


@pytest.mark.parametrize("content", [None, b"\xff\xfe\x00", b"", b"x" * 200_000])
def test_a_file_that_is_no_table_is_exit_2(content, tmp_path):
    file = tmp_path / "fill.csv"
    if content is not None:
        file.write_bytes(content)
    said = run("heat", *PLAIN, "--readings", str(file), "--json")
    assert said.code == 2
    assert said.err.startswith("fillwright: --readings: ")


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"fill_gas": "helium"}, "hypoxic"),
        ({"fill_gas": "EAN50"}, "oxygen-service"),
        ({"wall": "2kg:steel", "inside": "200W/K", "outside": "1W/K"}, "hot-wall"),
    ],
)
def test_warnings(more, code):
    found = answer(**{**TYPED, **more})
    assert code in {warning["code"] for warning in found["warnings"]}
    json.dumps(found, allow_nan=False)


def test_without_a_way_out_no_time_is_given():
    found = answer(**TYPED, inside="20W/K", outside="0W/K")
    assert "minutes" not in found["cooling"]
    assert "takes more than two days" in "\n".join(lines(found))


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"cylinder": "12"}, "--cylinder"),
        ({"have": "60bar"}, "--have"),
        ({"want": "fast"}, "--want"),
        ({"want": "60bar"}, "--want"),
        ({"minutes": "0"}, "--minutes"),
        ({"minutes": "soon"}, "--minutes"),
        ({"minutes": "999"}, "--minutes"),
        ({"wall": "14kg"}, "--wall"),
        ({"fill_gas": "argon"}, "--fill-gas"),
        ({"inside": "20"}, "--inside"),
        ({"outside": "x"}, "--outside"),
        ({"room": "99C"}, "--room"),
        ({"settle_at": "99C"}, "--settle-at"),
        ({"ambient": "9bar"}, "--ambient"),
        ({"panel_max": "x"}, "--panel-max"),
        ({"bank": "x"}, "--bank"),
        ({"readings": "x"}, "--readings"),
        ({"have": "478bar@-16C:air", "want": "499bar"}, "--want"),
        ({"have": "200bar:helium", "fill_gas": "oxygen", "want": "470bar"}, "--want"),
        ({"want": "440bar", "settle_at": "-10C", "room": "50C", "minutes": "60"}, "--want"),
        ({"have": "1bar:helium", "fill_gas": "helium", "want": "400bar", "inside": "0W/K"},
         "--want"),
    ],
)  # fmt: skip
def test_bad_input_names_its_option(more, field):
    with pytest.raises(InputError) as caught:
        answer(**{**TYPED, **more})
    assert caught.value.field == field


GASES = ["air", "oxygen", "helium", "EAN32", "18/45", "argon", "0/100"]


@given(
    litres=st.floats(0.2, 100.0), have=st.floats(0.0, 300.0), held=st.sampled_from(GASES),
    gas=st.sampled_from(GASES), want=st.floats(0.0, 400.0), minutes=st.floats(0.1, 60.0),
    kg=st.floats(0.1, 100.0), inside=st.floats(0.0, 10_000.0), outside=st.floats(0.0, 10_000.0),
    room=st.floats(-20.0, 60.0), at=st.floats(-20.0, 60.0), panel=st.none() | st.floats(0.0, 400.0),
    bank=st.none() | st.floats(0.0, 400.0),
)  # fmt: skip
@settings(max_examples=40, deadline=None)
def test_any_numbers_give_an_answer_or_a_told_reason(
    litres, have, held, gas, want, minutes, kg, inside, outside, room, at, panel, bank
):
    more = {} if panel is None else {"panel_max": f"{panel:.3f}bar"}
    more |= {} if bank is None else {"bank": f"{bank:.3f}bar"}
    try:
        found = answer(f"{litres:.3f}L", f"{have:.3f}bar@{at:.2f}C:{held}", f"{want:.3f}bar",
                       f"{minutes:.3f}", f"{kg:.3f}kg:steel", fill_gas=gas,
                       inside=f"{inside:.3f}W/K", outside=f"{outside:.3f}W/K",
                       room=f"{room:.2f}C", **more)  # fmt: skip
    except (InputError, NoFillError) as error:
        assert error.exit_code in (2, 3)
        json.dumps(getattr(error, "alternatives", []), allow_nan=False)
        return
    json.dumps(found, allow_nan=False)
    assert all(isinstance(row, str) for row in lines(found))
    assert found["result"]["pressure_bar"] == pytest.approx(round(want, 3), abs=2e-3)


@given(st.lists(st.text(max_size=10), min_size=6, max_size=6))
@settings(max_examples=60, deadline=None)
def test_anything_typed_is_a_told_reason(words):
    with pytest.raises(InputError):
        answer(*words[:5], fill_gas=words[5])
