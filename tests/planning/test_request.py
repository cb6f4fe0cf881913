"""Reading what is typed, and refusing what cannot be planned."""

from __future__ import annotations

import pytest

from blender.errors import InputError, NoFillError
from blender.planning import METHODS, parse_gas_at, parse_supply
from tui.commands.plan import CAUTION, answer, lines

PLAIN = {"cylinder": "12L", "have": "60bar@20C:EAN28", "want": "230bar:EAN32"}


@pytest.mark.parametrize(
    ("text", "bar", "celsius", "o2"),
    [
        ("60bar:EAN28", 60.0, None, 0.28),
        ("60bar@33C:EAN28", 60.0, 33.0, 0.28),
        ("700psi@75F:air", 48.2633, 23.8889, 0.20946),
        ("23MPa:0.32/0", 230.0, None, 0.32),
        ("100bar:heliox 20/80", 100.0, None, 0.2),
    ],
)
def test_gas_at_a_pressure(text, bar, celsius, o2):
    found = parse_gas_at(text, "have")
    assert found.gauge_bar == pytest.approx(bar, abs=1e-4)
    assert found.temperature_c == (None if celsius is None else pytest.approx(celsius, abs=1e-4))
    assert found.mix.o2 == pytest.approx(o2)


@pytest.mark.parametrize(
    ("text", "gas_o2", "bar", "litres"),
    [
        ("o1=oxygen@180barx50L", 1.0, 180.0, 50.0),
        ("o1=oxygen99.5@2000psix50L", 0.995, 137.895, 50.0),
        ("quad=air@300barx12x50L", 0.20946, 300.0, 600.0),
        ("s=EAN50@200barx80cuft@3000psi", 0.5, 200.0, 11.046),
    ],
)
def test_bottles(text, gas_o2, bar, litres):
    supply = parse_supply(text)
    assert supply.gas.o2 == pytest.approx(gas_o2)
    assert supply.gauge_bar == pytest.approx(bar, abs=1e-3)
    assert supply.volume_m3 == pytest.approx(litres / 1000.0, abs=1e-6)


def test_unlimited_supply():
    supply = parse_supply("o1=oxygen99.5")
    assert (supply.gauge_bar, supply.volume_m3) == (None, None)


@pytest.mark.parametrize(
    ("option", "value", "named"),
    [
        ("cylinder", "12", "cylinder"),
        ("have", "60:EAN28", "have"),
        ("have", "60bar", "have"),
        ("have", "60bar:argon", "have"),
        ("want", "230bar:EAN132", "want"),
        ("want", "230bar@20C:EAN32", "want"),
        ("want", "230bar:argon", "want"),
        ("want", "230bar:helium", "want"),
        ("want", "600bar:EAN32", "want"),
        ("method", "by-guess", "method"),
        ("method", "", "method"),
        ("oxygen_line", "40%", "oxygen-line"),
        ("scale", "5g", "scale"),
        ("supply", ["o1"], "supply"),
        ("supply", ["o1=oxygen@180bar"], "supply"),
        ("supply", ["top=oxygen"], "supply"),
        ("supply", ["a=oxygen", "a=helium"], "supply"),
        ("supply", ["a=argon"], "supply"),
        ("top", "argon", "top"),
        ("temperature", "20", "temperature"),
        ("temperature", "20C,30C,40C", "temperature"),
        ("settle_at", "99C", "settle-at"),
        ("ambient", "2bar", "ambient"),
        ("limit", "-1bar", "limit"),
        ("rated_intake", "140%", "rated-intake"),
        ("intake_air", "25C", "intake-air"),
        ("delivery", "fast", "delivery"),
        ("oxygen_minimum", "x", "oxygen-minimum"),
        ("purge_to", "200bar", "purge-to"),
        ("order", "oxygen,air", "order"),
    ],
)
def test_bad_input_names_its_option(option, value, named):
    with pytest.raises(InputError) as caught:
        answer(**{**PLAIN, option: value})
    assert caught.value.field == f"--{named}"
    assert caught.value.exit_code == 2


def test_an_unknown_method_is_told_which_there_are():
    with pytest.raises(InputError) as caught:
        answer(**PLAIN, method="by-guess")
    assert all(name in caught.value.allowed for name in METHODS)


def test_temperature_list_counts_gases_not_bottles():
    bank = ["b1=oxygen@70barx50L", "b2=oxygen@200barx50L"]
    found = answer(**PLAIN, supply=bank, temperature="25C,35C")
    assert [s["temperature_c"] for s in found["steps"] if s["action"] == "add"] == [
        25.0,
        25.0,
        35.0,
    ]
    with pytest.raises(InputError, match="lets in 2 gases; give 2"):
        answer(**PLAIN, supply=bank, temperature="25C,25C,35C")


def test_a_decimal_comma_does_not_part_a_list():
    found = answer(**PLAIN, temperature="25,5C,35C")
    assert found["request"]["temperatures_c"] == [25.5, 35.0]


def test_first_temperature_serves_the_residual_unless_it_has_its_own():
    own = answer("12L", "60bar@33C:EAN28", "230bar:EAN32", temperature="20C")
    first = answer("12L", "60bar:EAN28", "230bar:EAN32", temperature="33C")
    assert own["request"]["have"]["temperature_c"] == 33.0
    assert first["request"]["have"]["temperature_c"] == 33.0
    assert own["steps"][0]["from_bar"] == pytest.approx(57.054, abs=0.05)
    assert first["steps"][0]["from_bar"] == pytest.approx(60.0, abs=1e-9)


def test_above_the_limit():
    with pytest.raises(NoFillError) as caught:
        answer(**PLAIN, limit="200bar")
    assert caught.value.code == "limit"
    (nearest,) = caught.value.alternatives
    assert nearest["result"]["pressure_bar"] == pytest.approx(200.0)
    assert nearest["result"]["o2"] == pytest.approx(0.32)
    assert answer(**PLAIN, limit="230bar")["warnings"][0]["code"] != "hot-stop"


@pytest.mark.parametrize(
    ("have", "want"), [("200bar:EAN32", "150bar:EAN32"), ("200bar:air", "90bar:air")]
)
def test_only_a_drain(have, want):
    found = answer("12L", have, want)
    assert [s["action"] for s in found["steps"]] == ["drain", "rest", "rest", "analyse"]
    assert found["steps"][0]["to_bar"] == pytest.approx(float(want.split("bar")[0]), abs=1e-6)


def test_nothing_to_do():
    found = answer("12L", "200bar:EAN32", "200bar:EAN32")
    assert [s["action"] for s in found["steps"]] == ["rest", "analyse"]


def test_helium_is_never_let_in_where_none_is_wanted():
    """From EAN80 to air: helium would thin the oxygen, but nobody asked for it."""
    found = answer("12L", "100bar:EAN80", "230bar:air")
    assert all(step["holds"]["he"] == 0.0 for step in found["steps"])
    assert found["warnings"][0]["code"] == "off-target"


def test_a_small_miss_is_planned_and_a_large_one_is_not():
    small = answer("12L", "20bar:21/35", "230bar:EAN32")
    assert small["steps"][0]["to_bar"] == pytest.approx(0.0, abs=1e-9)
    assert "off-target" in [w["code"] for w in small["warnings"]]
    with pytest.raises(NoFillError) as caught:
        answer("12L", "20bar:21/35", "30bar:EAN32")
    assert caught.value.code == "unreachable"
    assert caught.value.alternatives[0]["kind"] == "nearest"


def test_oxygen_is_drained_only_as_far_as_the_minimum_asks():
    found = answer("7L", "30bar:air", "150bar:oxygen")
    assert found["steps"][0]["action"] == "drain"
    assert 0.5 < found["steps"][0]["to_bar"] < 2.0
    assert found["result"]["o2"] == pytest.approx(0.99, abs=1e-6)
    assert found["result"]["o2"] >= 0.99


def test_oxygen_supply_not_pure_enough():
    with pytest.raises(NoFillError) as caught:
        answer("7L", "0bar:air", "150bar:oxygen", supply=["o1=oxygen98"])
    assert caught.value.code == "unreachable"


def test_lesser_bank_in_another_order():
    """Helium first lifts the cylinder above the oxygen bottle; oxygen first would do."""
    with pytest.raises(NoFillError) as caught:
        answer("12L", "30bar:air", "200bar:18/45", supply=["o1=oxygen@90barx50L", "he=helium"])
    assert "order" in [other["kind"] for other in caught.value.alternatives]


def test_two_purities_share_what_neither_has_alone():
    found = answer(
        "12L",
        "20bar:air",
        "200bar:EAN40",
        supply=["o1=oxygen@60barx10L", "o2=oxygen99.5@160barx5L"],
    )
    used = {step.get("supply") for step in found["steps"]}
    assert {"o1", "o2"} <= used
    assert found["result"]["o2"] == pytest.approx(0.4, abs=1e-9)


def test_dry_intake_is_said():
    found = answer("12L", "45bar:air", "220bar:EAN32", method="continuous-flow", rated_intake="40%")
    assert "intake-air" in [w["code"] for w in found["warnings"]]
    flow = found["steps"][0]
    assert flow["intake_reading"] == pytest.approx(flow["intake_o2"])
    assert "minutes" not in flow


@pytest.mark.parametrize(
    ("asked", "codes"),
    [
        ({"have": "60bar:EAN28", "want": "230bar:EAN32"}, ["oxygen-service"]),
        ({"have": "180bar:EAN40", "want": "200bar:EAN32"}, ["mixed-bleed"]),
        ({"have": "0bar:air", "want": "200bar:10/70"}, ["hypoxic-step", "helium-pairs"]),
        (
            {
                "have": "45bar:air",
                "want": "220bar:EAN32",
                "method": "continuous-flow",
                "rated_intake": "40%",
                "intake_air": "25C/60%",
            },
            ["oxygen-service", "hold-up"],
        ),
        ({"have": "50bar:EAN32", "want": "200bar:EAN32", "supply": ["b=EAN32"]}, []),
    ],
)
def test_cautions(asked, codes):
    found = [warning["code"] for warning in answer("12L", **asked)["warnings"]]
    assert set(codes) <= set(found)
    assert codes or not found


@pytest.mark.parametrize(("rich", "said"), [("EAN40", False), ("0.4001/0", True)])
def test_forty_percent_is_the_line_itself(rich, said):
    # Common practice, no source: above 40 % oxygen a gas is handled as oxygen, at 40 % it is not.
    found = answer("12L", have="0bar:air", want=f"200bar:{rich}", supply=[f"b={rich}"])
    assert ("oxygen-service" in [warning["code"] for warning in found["warnings"]]) is said


def test_steps_leave_out_what_does_not_apply():
    found = answer(**PLAIN)
    assert set(found["steps"][-1]) == {"action", "holds"}
    assert "supply_to_bar" not in found["steps"][0]
    assert set(found["result"]) == {
        "o2",
        "he",
        "pressure_bar",
        "settled_temperature_c",
        "o2_uncertainty",
        "he_uncertainty",
    }


def test_lines_for_the_panel():
    written = "\n".join(lines(answer(**PLAIN)))
    assert "84.4 bar" in written
    assert "psi" not in written
    assert "DO NOT" in written or "Do not breathe" in written
    assert written.endswith(CAUTION)


def test_lines_in_psi_and_a_drain_rounded_down():
    found = answer("80cuft@3000psi", "2000psi@70F:EAN50", "3000psi:EAN32", settle_at="70F")
    written = lines(found)
    drain = found["steps"][0]
    assert drain["action"] == "drain"
    shown = float(written[1].split(" bar")[0].rsplit(" ", 1)[1])
    assert shown <= drain["to_bar"] < shown + 0.1
    assert "psi" in written[1]
    assert "degF" in written[1]


@pytest.mark.parametrize("want", ["150bar:oxygen", "150bar:EAN32"])
@pytest.mark.parametrize("method", ["partial-pressure", "continuous-flow"])
def test_nothing_but_helium_mixes_to_fill_with(want, method):
    with pytest.raises(NoFillError) as caught:
        answer(
            "12L",
            "5bar:air",
            want,
            supply=["he=helium"],
            top="18/45",
            method=method,
            rated_intake="40%",
        )
    assert caught.value.code == "unreachable"
