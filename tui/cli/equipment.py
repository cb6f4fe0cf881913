"""`cylinder`, `supply` and `analyser`: what the station works with."""

from __future__ import annotations

from typing import Any

import click

from tui.cli.shared import (
    at_work,
    in_units_of,
    on_paper,
    option,
    paper_of,
    record,
    shared,
    show,
    shown_in,
    signer,
)


@click.group()
@shared
def cylinder() -> None:
    """Cylinders and sets, with their stamps."""


@cylinder.command("add")
@click.argument("serial")
@option("--size", "12L", "Water capacity: 12L, 2x12L, 80cuft@3000psi.", required=True)
@option("--wp", "232bar", "Working pressure stamped on it.", required=True)
@option("--tp", "348bar", "Test pressure stamped on it.", required=True)
@option("--tested", "2025-03", "Last periodic (hydrostatic) test.", required=True)
@option("--inspected", "2026-02", "Last visual inspection.", required=True)
@option("--clean", "yes|no", "Whether it is in oxygen service.", required=True)
@signer
@shared
def cylinder_add(serial: str, who: str | None, secret_file: str | None, **facts: Any) -> None:
    """Add a cylinder; a set's serial is both serials joined by +."""
    from blender.station import equipment

    with at_work(who, secret_file) as (station, actor):
        answer = equipment.add_cylinder(station, actor, serial=serial, **facts)
    show(answer, [f"Added cylinder {answer['serial']}."])


@cylinder.command("change")
@click.argument("serial")
@option("--tested", "2025-03", "New periodic test.")
@option("--inspected", "2026-02", "New visual inspection.")
@option("--clean", "yes|no", "New state of oxygen service.")
@signer
@shared
def cylinder_change(serial: str, who: str | None, secret_file: str | None, **facts: Any) -> None:
    """Enter new stamps of a cylinder; the old ones stay in the record."""
    from blender.station import equipment

    with at_work(who, secret_file) as (station, actor):
        answer = equipment.change_cylinder(station, actor, serial=serial, **facts)
    show(answer, [f"Changed cylinder {answer['serial']}."])


@cylinder.command("history")
@click.argument("serial")
@option("--out", "FILE", "PDF to write; without it the history is only shown.")
@on_paper
@in_units_of
@shared
def cylinder_history(serial: str, out: str | None, paper: str | None, units: str | None) -> None:
    """Show what was entered of a cylinder, and every fill it had."""
    from dataclasses import asdict

    from blender.station.cylinder_history import cylinder_history as told
    from reports.cylinder_page import cylinder_page_pdf, lines
    from tui.wiring import clock, write_file

    with record() as opened:
        view = shown_in(opened, units, told(opened, serial, clock()))
        paper = paper_of(opened, paper)
    path = write_file(out, cylinder_page_pdf(view, paper)) if out else None
    answer = asdict(view) | {"file": path, "anchor": view.proof.anchor}
    written = [f"Page: {path}"] if path else []
    show(answer, [*(f"{caption:12} {text}" for caption, text, _ in lines(view)), *written])


@cylinder.command("list")
@shared
def cylinder_list() -> None:
    """List the cylinders."""
    from blender.station import register

    with record() as opened:
        answer = register.cylinders(opened)
    show(answer, map(register.cylinder_line, answer["cylinders"]))


@click.group()
@shared
def supply() -> None:
    """Gases the station can let in."""


@supply.command("add")
@click.argument("name")
@option("--gas", "GAS", "oxygen99.5, helium, EAN32 ...", required=True)
@option("--size", "50L", "Water capacity of the bottle or bank.")
@option("--at", "180bar", "Its gauge pressure at 20 degC.")
@option("--lot", "TEXT", "Lot of the gas, for a recall.")
@option("--certificate", "TEXT", "Certificate of the gas.")
@signer
@shared
def supply_add(name: str, who: str | None, secret_file: str | None, **facts: Any) -> None:
    """Add a supply; without size and pressure it is taken never to run out."""
    from blender.station import equipment

    with at_work(who, secret_file) as (station, actor):
        answer = equipment.add_supply(station, actor, name=name, **facts)
    show(answer, [f"Added supply {answer['name']} of {answer['gas_typed']}."])


@supply.command("read")
@click.argument("name")
@option("--at", "140bar", "What its gauge shows.", required=True)
@option("--temperature", "20C", "Temperature of its gas.", default="20C", show_default=True)
@signer
@shared
def supply_read(name: str, who: str | None, secret_file: str | None, **facts: Any) -> None:
    """Enter what a bank's gauge shows; from now on that is what it holds."""
    from blender.station import supplies

    with at_work(who, secret_file) as (station, actor):
        answer = supplies.read_supply(station, actor, name, **facts)
    show(answer, [supplies.reading_text(answer)])


@supply.command("analyse")
@click.argument("name")
@option("--analyser", "NAME", "Which analyser.", required=True)
@option("--reading", "99.6", "Oxygen reading, in percent.", required=True)
@signer
@shared
def supply_analyse(name: str, who: str | None, secret_file: str | None, **facts: Any) -> None:
    """Enter what is in a supply, before it is drawn from."""
    from blender.station import measuring

    with at_work(who, secret_file) as (station, actor):
        answer = measuring.analyse_supply(station, actor, name, **facts)
    show(answer, [answer["text"]])


@supply.command("change")
@click.argument("name")
@option("--gas", "GAS", "The gas in the new bottle, if it is another.")
@option("--size", "50L", "Its water capacity, if it is another.")
@option("--at", "200bar", "Its gauge pressure at 20 degC.")
@option("--lot", "TEXT", "Lot of the gas, for a recall.")
@option("--certificate", "TEXT", "Certificate of the gas.")
@option("--delivery", "NUMBER", "The delivery the bottle came with: gas, size, lot.", type=int)
@signer
@shared
def supply_change(name: str, who: str | None, secret_file: str | None, **facts: Any) -> None:
    """Enter that another bottle was connected under a supply's name."""
    from blender.station import supplies

    with at_work(who, secret_file) as (station, actor):
        answer = supplies.change_supply(station, actor, name, **facts)
    show(answer, [f"{answer['name']}: another bottle of {answer['gas_typed']}."])


@supply.command("deliver")
@option("--gas", "GAS", "What the bottles are called: oxygen99.5, helium ...", required=True)
@option("--size", "50L", "Water capacity of each.", required=True)
@option("--bottles", "4", "How many.", type=int, default=1, show_default=True)
@option("--at", "200bar", "Their gauge pressure at 20 degC.")
@option("--lot", "TEXT", "Their lot, for a recall.", default="")
@option("--certificate", "TEXT", "Certificate of the gas.", default="")
@option("--supplier", "TEXT", "From whom.", default="")
@option("--on", "2026-03-01", "The day; today if not said.", default="")
@signer
@shared
def supply_deliver(who: str | None, secret_file: str | None, **facts: Any) -> None:
    """Take in a delivery of bottles; `supply change NAME --delivery N` connects one."""
    from blender.station import deliveries

    with at_work(who, secret_file) as (station, actor):
        answer = deliveries.deliver(station, actor, **facts)
    told = f"Delivery {answer['delivery']}: {answer['bottles']} bottles of {answer['gas_typed']}."
    show(answer, [told])


@supply.command("deliveries")
@shared
def supply_deliveries() -> None:
    """List the deliveries, with the bottles still in the store."""
    from blender.station import deliveries

    with record() as opened, opened.read() as conn:
        answer = deliveries.listing(conn)
    show(answer, map(deliveries.line, answer["deliveries"]))


@supply.command("forecast")
@option("--weeks", "4", "From the use of so many weeks.", type=int, default=4, show_default=True)
@shared
def supply_forecast(weeks: int) -> None:
    """Show what is in hand, when each gas runs out, and whether today's requests fit."""
    from blender.station import in_hand
    from tui.wiring import clock

    with record() as opened:
        answer = in_hand.in_hand(opened, clock(), weeks=weeks)
    show(answer, in_hand.lines(answer))


@supply.command("retire")
@click.argument("name")
@option("--reason", "TEXT", "Why.", required=True)
@signer
@shared
def supply_retire(name: str, who: str | None, secret_file: str | None, reason: str) -> None:
    """Take a supply out of use; it is no longer planned with (manager)."""
    from blender.station import supplies

    with at_work(who, secret_file) as (station, actor):
        answer = supplies.retire_supply(station, actor, name, reason=reason)
    show(answer, [f"{answer['name']} retired: {answer['reason']}"])


@supply.command("list")
@shared
def supply_list() -> None:
    """List the supplies, with what should be left in them."""
    from blender.station import register

    with record() as opened:
        answer = register.supplies(opened)
    show(answer, map(register.supply_line, answer["supplies"]))


@click.group()
@shared
def analyser() -> None:
    """Analysers and their calibrations."""


@analyser.command("add")
@click.argument("name")
@signer
@shared
def analyser_add(name: str, who: str | None, secret_file: str | None) -> None:
    """Add an analyser."""
    from blender.station import equipment

    with at_work(who, secret_file) as (station, actor):
        answer = equipment.add_analyser(station, actor, name=name)
    show(answer, [f"Added analyser {answer['name']}; calibrate it before use."])


@analyser.command("calibrate")
@click.argument("name")
@option("--gas", "air", "The gas it is set on.", required=True)
@option("--reading", "20.9", "What it is set to show, in percent.", required=True)
@option("--ambient", "1.01325bar", "Ambient pressure now.", required=True)
@option("--air", "20C/50%", "State of the room's air, if it is set on air.", default="")
@option("--found", "20.6", "What it showed of that gas before it was set.", default="")
@signer
@shared
def analyser_calibrate(name: str, who: str | None, secret_file: str | None, **facts: Any) -> None:
    """Enter that an analyser was set."""
    from blender.station import equipment

    with at_work(who, secret_file) as (station, actor):
        answer = equipment.calibrate(station, actor, name=name, **facts)
    show(
        answer,
        [f"{answer['analyser']}: set to {answer['reading_typed']} on {answer['gas_typed']}."],
    )


@analyser.command("check")
@click.argument("name")
@option("--gas", "oxygen", "The known gas.", required=True)
@option("--reading", "99.1", "What it shows, in percent.", required=True)
@signer
@shared
def analyser_check(name: str, who: str | None, secret_file: str | None, **facts: Any) -> None:
    """Enter what a set analyser shows of a known gas: how far it has drifted."""
    from blender.station import measuring

    with at_work(who, secret_file) as (station, actor):
        answer = measuring.check_analyser(station, actor, name, **facts)
    show(answer, [answer["text"]])


@analyser.command("straight")
@click.argument("name")
@option("--low", "air@20.9", "The gas it is set on, and what it shows.", required=True)
@option("--high", "oxygen99.5@98.6", "A second known gas, and what it shows.", required=True)
@option("--ambient", "1.01325bar", "Ambient pressure now.", default="1.01325bar")
@option("--air", "20C/50%", "State of the room's air, if the first gas is that.", default="")
@signer
@shared
def analyser_straight(name: str, who: str | None, secret_file: str | None, **facts: Any) -> None:
    """Enter what it shows of two known gases: whether it reads straight."""
    from blender.station import analyser_care

    with at_work(who, secret_file) as (station, actor):
        answer = analyser_care.try_straight(station, actor, name, **facts)
    show(answer, [answer["text"]])


@analyser.command("helium")
@click.argument("name")
@option("--gas", "helium", "A gas whose helium is known.", required=True)
@option("--reading", "99.2", "What it shows of its helium, in percent.", required=True)
@signer
@shared
def analyser_helium(name: str, who: str | None, secret_file: str | None, **facts: Any) -> None:
    """Enter what it shows of a known helium: until then its helium is not checked."""
    from blender.station import analyser_care

    with at_work(who, secret_file) as (station, actor):
        answer = analyser_care.try_helium(station, actor, name, **facts)
    show(answer, [answer["text"]])


@analyser.command("certificate")
@click.argument("name")
@option("--out", "FILE", "PDF to write.")
@on_paper
@in_units_of
@shared
def analyser_certificate(name: str, out: str | None, paper: str | None, units: str | None) -> None:
    """Show what is known of an analyser: setting, checks, linearity, cells, drift; as a paper."""
    from blender.station import analyser_care
    from reports.calibration_page import calibration_pdf
    from tui.wiring import clock, write_file

    with record() as opened:
        answer = analyser_care.care_of(opened, name, clock())
        told = analyser_care.lines(answer)
        if out is not None:
            view = shown_in(opened, units, analyser_care.paper(opened, answer, clock()))
            paper = paper_of(opened, paper)
            answer["file"] = write_file(out, calibration_pdf(view, paper))
            told.append(f"Written: {answer['file']}")
    show(answer, told)


@analyser.command("retire")
@click.argument("name")
@option("--reason", "TEXT", "Why.", required=True)
@signer
@shared
def analyser_retire(name: str, who: str | None, secret_file: str | None, reason: str) -> None:
    """Take an analyser out of use; it analyses nothing any more (manager)."""
    from blender.station import equipment

    with at_work(who, secret_file) as (station, actor):
        answer = equipment.retire_analyser(station, actor, name=name, reason=reason)
    show(answer, [f"{answer['name']} retired: {answer['reason']}"])


@analyser.command("list")
@shared
def analyser_list() -> None:
    """List the analysers and when they were last set, retired ones too."""
    from blender.station import register

    with record() as opened:
        answer = register.analysers(opened, retired=True)
    show(answer, map(register.analyser_line, answer["analysers"]))


@click.group()
@shared
def air() -> None:
    """The compressor's air: what it was read and tested to be."""


@air.command("read")
@option("--co", "1.5ppm", "Its carbon monoxide.", required=True)
@option("--meter", "NAME", "On which instrument.", default="")
@option("--compressor", "NAME", "Whose air, where there are several.", default="")
@signer
@shared
def air_read(
    co: str, meter: str, compressor: str, who: str | None, secret_file: str | None
) -> None:
    """Enter the carbon monoxide of the air as it leaves the compressor."""
    from blender.station import measuring

    with at_work(who, secret_file) as (station, actor):
        answer = measuring.read_co(station, actor, reading=co, meter=meter, compressor=compressor)
    show(answer, [answer["text"]])


@air.command("test")
@option("--sampled", "2026-10-12", "The day of the sample.", required=True)
@option("--co", "1ppm", "Carbon monoxide.", required=True)
@option("--co2", "450ppm", "Carbon dioxide.", required=True)
@option("--oil", "0.05mg/m3", "Oil.", required=True)
@option("--water", "25mg/m3", "Water.", required=True)
@option("--by", "TEXT", "Who tested it, and the number of their report.", required=True)
@option("--compressor", "NAME", "Whose air, where there are several.", default="")
@signer
@shared
def air_test(who: str | None, secret_file: str | None, **facts: Any) -> None:
    """Enter a test of the compressor's air."""
    from blender.station import measuring

    with at_work(who, secret_file) as (station, actor):
        answer = measuring.enter_air_test(station, actor, **facts)
    show(answer, [answer["text"]])
