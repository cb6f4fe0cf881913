"""The answer of `fillwright depth` from what was typed."""

from __future__ import annotations

import contextlib
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blender.errors import InputError
from tui.commands.depth import answer, lines

CONTRACT = {
    "mod_m", "mod_ft", "floor_m", "floor_ft", "ead_m", "ead_ft", "end_m", "end_ft", "mnd_m",
    "mnd_ft", "ppo2_at", "density_g_l", "exposure_min", "exposure_24h_min",
}  # fmt: skip
AT_KEYS = {"ead_m", "ead_ft", "end_m", "end_ft", "ppo2_at", "density_g_l", "exposure_min"}


def codes(figures):
    return [w["code"] for w in figures["warnings"]]


def test_ean32_has_every_key_of_the_contract():
    figures = answer("EAN32", at="30m")
    assert set(figures) >= CONTRACT
    assert figures["mod_m"] == pytest.approx(33.75)
    assert figures["mod_ft"] == pytest.approx(111.375)  # by 33 fsw, not 33.75 m in feet (110.7)
    assert figures["floor_m"] == 0.0
    assert figures["ead_m"] == pytest.approx(0.68 / 0.79 * 40 - 10)
    assert figures["end_m"] == pytest.approx(30.0)
    assert figures["mnd_m"] == pytest.approx(30.0)
    assert figures["ppo2_at"] == pytest.approx(1.28)
    assert figures["density_g_l"] == pytest.approx(5.176, abs=0.002)
    assert (figures["exposure_min"], figures["exposure_24h_min"]) == (180, 210)
    json.dumps(figures, allow_nan=False)


def test_without_at_its_keys_are_null():
    figures = answer("EAN32")
    assert all(figures[key] is None for key in AT_KEYS)
    assert figures["exposure_at_mod_min"] == 150


def test_feet_follow_the_imperial_handbook():
    figures = answer("EAN32", at="100ft")
    assert figures["ppo2_unit"] == "ata"
    assert figures["ppo2_at"] == pytest.approx(0.32 * (100 / 33 + 1))
    assert figures["ead_ft"] == pytest.approx(81.5, abs=0.05)
    assert figures["ead_ft_shown"] == 82


def test_water_and_altitude_turn_to_true_pressure():
    salt, lake = answer("EAN32", water="SALT"), answer("EAN32", water="fresh", altitude="2000m")
    assert salt["mod_m"] == pytest.approx(33.282, abs=5e-4)
    assert salt["mod_ft"] == pytest.approx(salt["mod_m"] / 0.3048)
    assert lake["mod_m"] == pytest.approx(36.506, abs=5e-4)
    assert "altitude" in codes(lake)
    assert "water-assumed" in codes(answer("EAN32", altitude="2000m"))


def test_which_oxygen_convention():
    with_oxygen, without = (
        answer("EAN32", at="40m"),
        answer("EAN32", at="40m", oxygen_narcotic="no"),
    )
    assert with_oxygen["end_m"] == pytest.approx(40.0)
    assert without["end_m"] == pytest.approx(without["ead_m"])
    assert without["mnd_m"] == pytest.approx(0.79 / 0.68 * 40 - 10)


@pytest.mark.parametrize(
    ("options", "code"),
    [
        ({"gas": "10/70"}, "hypoxic"),
        ({"gas": "10/70", "at": "3m"}, "above-floor"),
        ({"gas": "EAN32", "at": "34m"}, "beyond-mod"),
        ({"gas": "EAN32", "ppo2": "1.6"}, "high-ppo2"),
        ({"gas": "air", "at": "31m"}, "narcotic"),
        ({"gas": "air", "at": "32m"}, "dense"),
        ({"gas": "air", "at": "40m"}, "too-dense"),
        ({"gas": "18/45"}, "no-ead"),
        ({"gas": "air", "altitude": "2500m"}, "thin-air"),
    ],
)
def test_cautions(options, code):
    assert code in codes(answer(**options))


def test_exact_limits_raise_no_caution():
    assert codes(answer("EAN28", at="40m", ppo2="1,4bar")) == ["narcotic", "too-dense"]
    assert codes(answer("oxygen", at="4m")) == []
    assert "hypoxic" not in codes(answer("18/45"))


@pytest.mark.parametrize(
    ("options", "field"),
    [
        ({"gas": "argon"}, "GAS"),
        ({"gas": "helium"}, "GAS"),
        ({"gas": "EAN132"}, "GAS"),
        ({"gas": "EAN32", "ppo2": "lots"}, "--ppo2"),
        ({"gas": "EAN32", "ppo2": "1.8"}, "--ppo2"),
        ({"gas": "EAN32", "ppo2": "1,400"}, "--ppo2"),
        ({"gas": "oxygen", "ppo2": "0.9"}, "--ppo2"),
        ({"gas": "EAN32", "water": "beer"}, "--water"),
        ({"gas": "EAN32", "altitude": "9000m"}, "--altitude"),
        ({"gas": "EAN32", "at": "-3m"}, "--at"),
        ({"gas": "EAN32", "at": "30"}, "--at"),
        ({"gas": "EAN32", "oxygen_narcotic": "maybe"}, "--oxygen-narcotic"),
    ],
)
def test_bad_input_names_its_option(options, field):
    with pytest.raises(InputError) as caught:
        answer(**options)
    assert caught.value.field == field
    assert str(caught.value).startswith(f"{field}: ")


@given(st.text(max_size=30), st.sampled_from(["gas", "ppo2", "water", "altitude", "at"]))
def test_hostile_text_is_only_ever_bad_input(text, option):
    options = {"gas": "EAN32", option: text}
    with contextlib.suppress(InputError):
        json.dumps(answer(**options), allow_nan=False)


@pytest.mark.parametrize(
    "options",
    [
        {"gas": "EAN32"},
        {"gas": "oxygen99.5", "ppo2": "1.6", "at": "6m"},
        {"gas": "10/70", "at": "150m", "water": "en13319", "altitude": "4500m"},
        {"gas": "16/30", "at": "300m", "altitude": "4500m", "ppo2": "1.6"},
        {"gas": "heliox 20/80", "at": "0m", "oxygen_narcotic": "no"},
    ],
)
def test_lines_fit_one_screen(options):
    text = lines(answer(**options))
    assert len(text) < 24  # one line is the prompt's
    assert max(map(len, text)) <= 80
    assert any("analyse the gas before every dive" in line for line in text)


def test_lines_show_both_unit_systems_on_the_safe_side():
    text = "\n".join(lines(answer("EAN32", at="30m")))
    for shown in ("33 m / 111 ft", "25 m / 81 ft", "1.28 bar", "5.2 g/L", "180 min one dive"):
        assert shown in text
