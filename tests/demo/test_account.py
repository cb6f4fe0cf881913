"""The account tells what the record holds: scenes are found by facts, not by phrases."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from blender.record.journal import Record
from blender.station import book, planning
from blender.station.papers import label_view
from demo.account import Account
from demo.walk import Walk, walk


@pytest.fixture(scope="module")
def stories(day: Walk) -> dict[int, dict]:
    with Record.open(day.database, readonly=True) as record:
        return {row["fill"]: book.story(record, row["fill"]) for row in day.fills}


def told_of(day: Walk, fill: int) -> str:
    """The account's section of a fill, as one line."""
    sections, mine = {}, 0
    for line in day.account:
        if found := re.match(r"FILL (\d+):", line):
            mine = int(found[1])
        elif re.match(r"[A-Z]+$", line):
            mine = 0
        sections.setdefault(mine, []).append(line)
    return " ".join(" ".join(sections[fill]).split())


def exceptions(story: dict, kind: str) -> list[str]:
    return [row["text"] for row in story["exceptions"] if row["kind"] == kind]


def refusals(stories: dict[int, dict], gate: str) -> list[int]:
    """Fills at which a gate refused something, as the record has it."""
    return [
        n for n, s in stories.items() if any(f": {gate}: " in t for t in exceptions(s, "refused"))
    ]


def steps_done(story: dict) -> set[str]:
    return {step["action"] for step in story["steps"]}


def test_every_scene_is_in_the_record(stories):
    assert len(stories) >= 8
    assert any("purge" in steps_done(story) for story in stories.values())
    assert any("drain" in steps_done(story) for story in stories.values())
    assert any(
        re.search(r"rose to", text) for s in stories.values() for text in exceptions(s, "rebound")
    )
    assert any(
        re.search(r"beyond the stop", text)
        for s in stories.values()
        for text in exceptions(s, "beyond-stop")
    )
    assert any(exceptions(story, "relabel") for story in stories.values())
    assert any(exceptions(story, "disputed") for story in stories.values())
    assert any(exceptions(story, "held") for story in stories.values())
    for gate in (
        "periodic-test",
        "oxygen-clean",
        "residual",
        "identity",
        "label",
        "isolator",
        "set",
        "recheck",
        "mixed",
    ):
        assert refusals(stories, gate), gate


def test_continuous_flow_was_planned_in_damp_air(day):
    with Record.open(day.database, readonly=True) as record:
        plans = [
            e["body"]["data"] for e in book.journal(record) if e["body"]["kind"] == "fill.planned"
        ]
    (flow,) = [plan for plan in plans if plan["method"] == "continuous-flow"]
    (step,) = [step for step in flow["steps"] if step["action"] == "flow"]
    assert 0 < step["reading_ppm"] < step["intake_ppm"]
    told = told_of(day, flow["fill"])
    assert (
        f"{step['reading_ppm'] / 1e4:.1f} %" in told and f"{step['intake_ppm'] / 1e4:.1f} %" in told
    )


def test_states_at_the_end_of_the_day(stories):
    states = [story["state"] for story in stories.values()]
    assert states.count("quarantined") == 1
    assert states.count("rejected") == 2
    assert states.count("collected") == len(states) - 3


def test_hot_stops_are_read_at_their_own_temperatures(stories):
    warm = {
        (story["fill"], step["temperature_c"])
        for story in stories.values()
        for step in story["steps"]
        if step["action"] == "add"
    }
    by_fill: dict[int, set[float]] = {}
    for fill, temperature in warm:
        by_fill.setdefault(fill, set()).add(temperature)
    assert {30.0, 41.0} in by_fill.values()


def test_the_set_went_helium_first_and_was_analysed_at_both_posts(stories):
    (story,) = [s for s in stories.values() if s["wanted"]["he"] > 0.0]
    gases = [step["supply"] for step in story["steps"] if step["action"] == "add"]
    assert gases[0] == "h1"
    staff = {row["serial"] for row in story["analyses"] if row["party"] == "staff"}
    assert "+".join(sorted(staff)) == story["cylinder"]
    assert all(row["he"] is not None for row in story["analyses"] if row["party"] == "staff")


def test_a_held_fill_is_resumed_only_with_its_own_serial_and_an_hour_later(stories):
    (story,) = [s for s in stories.values() if s["fill"] in refusals(stories, "identity")]
    held, resumed = (
        next(e for e in story["entries"] if e["kind"] == kind)
        for kind in ("fill.held", "fill.resumed")
    )
    assert held["at"][:13] < resumed["at"][:13]


def test_the_recheck_was_decided_by_another_analyser(stories):
    (story,) = [s for s in stories.values() if exceptions(s, "disputed")]
    staff = [row for row in story["analyses"] if row["party"] == "staff"]
    assert len({row["analyser"] for row in staff}) == 2
    assert any(not row["stands"] for row in story["analyses"] if row["party"] == "customer")


def test_signatures_are_drawn_and_typed(day):
    with Record.open(day.database, readonly=True) as record:
        views = [
            label_view(record, row["fill"]) for row in day.fills if row["state"] == "collected"
        ]
    drawn = [view for view in views if view.strokes]
    assert drawn and len(drawn) < len(views)
    assert all(view.accepted_by for view in views)
    assert all(
        0.0 <= x <= 1.0 and 0.0 <= y <= 1.0 for v in drawn for line in v.strokes for x, y in line
    )


def test_each_fill_is_told_with_the_figures_of_the_record(day, stories):
    for number, story in stories.items():
        told = told_of(day, number)
        assert story["cylinder"] in told and story["customer"] in told
        for row in story["readings"]:
            assert f"{row['pressure_bar']:.1f} bar" in told, (number, row)
        for row in story["analyses"]:
            if row["party"] != "customer":
                assert f"{row['o2'] * 100:.1f} % oxygen" in told, (number, row)
        for text in exceptions(story, "refused"):
            assert text.split(": ", 2)[2] in told, (number, text)


def test_it_fits_eighty_columns(day):
    assert max(map(len, day.account)) <= 80
    assert all(line == line.rstrip() and line.isprintable() for line in day.account)


def test_it_names_no_id_and_no_digest(day, stories):
    told = "\n".join(day.account)
    assert not re.search(r"P-[0-9A-F]{10}|[0-9a-f]{32}|[A-Z2-7]{52}", told)


def test_another_chance_tells_another_day(day, tmp_path):
    other = walk(tmp_path / "other", seed=2)
    assert other.account != day.account
    assert other.report.ok


def biased(plan, bar: float):
    """A planner whose oxygen stops are all too high by some bar."""

    def wrong(request):
        made = plan(request)
        steps = tuple(
            replace(step, to_bar=step.to_bar + bar)
            if step.action == "add" and step.gas.o2 > 0.9
            else step
            for step in made.steps
        )
        return replace(made, steps=steps)

    return wrong


def test_a_biased_planner_shows_in_account_and_analysis(day, tmp_path, monkeypatch):
    monkeypatch.setattr(planning, "make_plan", biased(planning.make_plan, 3.0))
    wrong = walk(tmp_path / "biased")
    assert wrong.account != day.account
    assert wrong.report.ok
    first, same = day.fills[0], wrong.fills[0]
    # 3 bar too much oxygen in a 12 L cylinder of EAN32 at 230 bar is about a point too rich.
    assert same["analysed"]["o2"] - first["analysed"]["o2"] == pytest.approx(0.010, abs=0.005)
    assert f"{same['analysed']['o2'] * 100:.1f} % oxygen" in told_of(wrong, 1)


def test_a_useless_planner_does_not_end_the_day(tmp_path, monkeypatch):
    monkeypatch.setattr(planning, "make_plan", biased(planning.make_plan, 40.0))
    wrong = walk(tmp_path / "useless")
    assert wrong.report.ok
    assert {row["state"] for row in wrong.fills} - {"collected", "rejected", "quarantined"}


def test_a_number_stays_with_its_unit():
    account = Account()
    section = account.section("A title")
    section.paragraph("08:00")
    section.say(*[f"It was {n} bar at {n} degC and {n}.5 % oxygen." for n in range(10, 60)])
    lines = account.lines()
    assert max(map(len, lines)) <= 80
    assert not [line for line in lines if re.match(r"\s*(bar|degC|%)", line)]
