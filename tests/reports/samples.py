"""Invented people, cylinders and a station, as views for the papers."""

from __future__ import annotations

from dataclasses import replace

from blender.gas import Mix, mix
from blender.station.views import (
    CylinderFacts,
    LabelView,
    LogLine,
    LogView,
    Proof,
    ReadingFacts,
    Stamp,
    StopLine,
    TagView,
)

NOON_US = 1_795_608_000_000_000  # 2026-11-25 12:00 UTC
MINUTE_US = 60_000_000
HEAD_HEX = "3f2a91bc77d04e1c5a0b8899c0ffee11223344556677889900aabbccddeeff10"
HEAD_32 = "H4VJDPDX2BHBYWQLRCM4B77OCERDGRCVMZ3YRGIAVK54ZXPO74IA"

NASTY = (
    "[/]",
    "<b>bold</b>",
    "</para>",
    '<img src="/etc/hostname">',
    "=1+1",
    "{0} %s $x",
    "Ελένη Παπαδάκη",
    "Łucja Źdźbło-Wąsowska",
    "山田 太郎",
    "김민수",
    "🐙🤿 Kai",
    "דנה לוי",
    "line one\nline two\ttab",
    "abc\u202edcba\u202c",
    "zero\u200bwidth",
    "A" * 120,
    "long name " * 12,
    "नमस्ते",
    "",
    "   ",
    "\x00\x07",
    "\ud800",
    "𠮷野",
)


def at(minute: int) -> Stamp:
    return Stamp(NOON_US + minute * MINUTE_US, 60)


def proof(seq: int = 1042) -> Proof:
    return Proof("HARBOUR-2", 1, seq, HEAD_HEX, f"FILLWRIGHT1 HARBOUR-2 1 {seq} {HEAD_32}")


SET = CylinderFacts("KX204417+KX204422", "2x12L", 232.0, "2025-03", "2026-02", True)
SINGLE = CylinderFacts("VT0093158", "15L", 232.0, "2024-09", "2026-04", True)

SIGNATURE = (
    ((0.0, 9.0), (3.0, 1.0), (5.0, 0.0), (6.0, 3.0), (4.0, 8.0), (7.0, 5.0), (9.0, 4.0)),
    ((9.0, 4.0), (10.0, 7.0), (12.0, 4.5), (13.0, 7.0), (16.0, 3.5), (17.0, 6.5), (24.0, 5.0)),
    ((2.0, 10.5), (12.0, 9.6), (25.0, 9.8)),
)


def nitrox_label() -> LabelView:
    reading = ReadingFacts(32.4, None, "Oxy One", "Jorunn Askelid", at(63))
    return LabelView(
        station_name="Harbour Shed Fill Station",
        fill=1042,
        cylinder=SINGLE,
        analysed=mix(0.324),
        o2_percent=32.4,
        he_percent=None,
        pressure_bar=229.6,
        pressure_temperature_c=20.4,
        agreed_ppo2_bar=1.4,
        mod_agreed_m=33.2,
        mod_agreed_ft=109.6,
        high_ppo2_bar=1.6,
        mod_high_m=39.3,
        mod_high_ft=129.9,
        floor_m=0.0,
        floor_ft=0.0,
        hypoxic=False,
        staff=reading,
        diver=replace(reading, o2_percent=32.3, by="Pieter Vandalen", at=at(70)),
        accepted_by="Pieter Vandalen",
        accepted_at=at(72),
        sealed_by="Jorunn Askelid",
        filled_by="Marek Holubec",
        filled_at=at(20),
        strokes=SIGNATURE,
        extra_lines=(),
        imperial=False,
        copy_number=1,
        proof=proof(),
    )


def trimix_label() -> LabelView:
    """Hypoxic, signed by typing, with a line for a lake in the hills, second copy."""
    staff = ReadingFacts(12.1, 64.8, "Twin Cell 2", "Marek Holubec", at(130))
    return replace(
        nitrox_label(),
        fill=1043,
        cylinder=SET,
        analysed=mix(0.121, 0.648),
        o2_percent=12.1,
        he_percent=64.8,
        pressure_bar=231.2,
        agreed_ppo2_bar=1.3,
        mod_agreed_m=97.4,
        mod_agreed_ft=321.5,
        mod_high_m=122.2,
        mod_high_ft=403.3,
        floor_m=4.8760,
        floor_ft=16.09,
        hypoxic=True,
        staff=staff,
        diver=replace(staff, o2_percent=12.2, he_percent=64.6, by="Irena Carvalhosa", at=at(138)),
        accepted_by="Irena Carvalhosa",
        accepted_at=at(141),
        sealed_by="Marek Holubec",
        filled_by="Marek Holubec",
        filled_at=at(20),
        strokes=(),
        extra_lines=("Mirror Tarn, 612 m, fresh water: MOD 99 m / 327 ft, floor 6 m / 20 ft",),
        copy_number=2,
        proof=proof(1088),
    )


def imperial_label() -> LabelView:
    base = nitrox_label()
    return replace(
        base,
        staff=replace(base.staff, o2_percent=36.0, he_percent=0.0),
        diver=replace(base.diver, o2_percent=35.9, he_percent=0.1),
        imperial=True,
        o2_percent=36.0,
        he_percent=0.0,
        analysed=mix(0.36),
        mod_agreed_m=28.888,
        mod_agreed_ft=95.33,
        mod_high_m=34.44,
        mod_high_ft=113.66,
        cylinder=replace(SINGLE, serial="PLA-77120045", size_text="80cuft@3000psi"),
        extra_lines=("Copper Lake, 5280 ft, fresh water: MOD 103 ft / 31 m",),
    )


def argon_label() -> LabelView:
    return replace(nitrox_label(), analysed=Mix(0.0, 0.0, 0.0, 1.0), o2_percent=0.0)


def nasty_labels() -> list[LabelView]:
    """Every nasty text in every field a person can fill, one label for each."""
    base = trimix_label()
    found = []
    for text in NASTY:
        facts = CylinderFacts(text, text, 232.0, text, text, False)
        staff = replace(base.staff, analyser=text, by=text)
        found.append(
            replace(
                base,
                station_name=text,
                cylinder=facts,
                staff=staff,
                diver=staff,
                accepted_by=text,
                sealed_by=text,
                filled_by=text,
                extra_lines=(text, text),
            )
        )
    long_serial = replace(SET, serial="12345678901+ABCDEFGHIJK")
    return [*found, replace(base, cylinder=long_serial), replace(base, extra_lines=("word " * 60,))]


def tag() -> TagView:
    steps = (
        StopLine(1, "drain", "", "", 62.0, 38.0, 18.0, 0.28, 0.0, "slowly; listen for the end"),
        StopLine(2, "add", "helium", "he-3", 38.0, 141.5, 27.0, 0.0741, 0.7712, ""),
        StopLine(3, "rest", "", "", 141.5, 137.9, 20.0, 0.0741, 0.7712, "until the wall is cool"),
        StopLine(4, "add", "oxygen", "o1", 137.9, 158.2, 26.0, 0.1912, 0.6731, "not faster than 5"),
        StopLine(5, "add", "air", "compressor", 158.2, 236.0, 31.0, 0.181, 0.4512, "filtered"),
        StopLine(6, "analyse", "", "", None, 229.0, 20.0, 0.181, 0.4512, ""),
    )
    return TagView(
        station_name="Harbour Shed Fill Station",
        fill=1043,
        cylinder=SET,
        customer="Irena Carvalhosa",
        wanted="18/45",
        wanted_bar=230.0,
        settle_c=20.0,
        method="partial-pressure",
        residual="62 bar at 18 °C of EAN28",
        residual_source="analysed",
        stops=steps,
        state="filling",
        holds_now="",
        blender="Marek Holubec",
        started_at=at(20),
        warnings=("hot-stop: 236 bar at 31 °C is above the limit of the panel gauge, 232 bar",),
        imperial=False,
        proof=proof(1071),
    )


def held_tag() -> TagView:
    return replace(tag(), state="held", holds_now="O2 7.4 % He 77.1 % (calculated)")


def nasty_tags() -> list[TagView]:
    base = held_tag()
    found = [
        replace(
            base,
            station_name=text,
            cylinder=CylinderFacts(text, text, 232.0, text, text, False),
            customer=text,
            wanted=text,
            method=text,
            residual=text,
            residual_source=text,
            stops=tuple(replace(s, gas=text, supply=text, note=text) for s in base.stops),
            holds_now=text,
            blender=text,
            warnings=(text, text),
        )
        for text in NASTY
    ]
    many = tuple(replace(base.stops[1], number=n + 1) for n in range(40))
    warned = tuple(f"warning {n}: " + "mind this and that " * 12 for n in range(12))
    return [
        *found,
        replace(base, stops=many),
        replace(base, stops=()),
        replace(base, warnings=warned),
    ]


def log_line(number: int) -> LogLine:
    state = ("collected", "accepted", "rejected", "filling", "quarantined")[number % 5]
    done = state in ("collected", "accepted")
    read = state != "filling"
    trimix = number % 3 == 0
    return LogLine(
        fill=1000 + number,
        requested_at=at(number * 37),
        accepted_at=at(number * 37 + 90) if done else None,
        collected_at=at(number * 37 + 600) if state == "collected" else None,
        state=state,
        cylinder=SET.serial if trimix else f"VT00{93000 + number}",
        customer=("Irena Carvalhosa", "Pieter Vandalen", "Łucja Wąsowska", "山田 太郎")[number % 4],
        residual="62 bar at 18 °C of EAN28" if trimix else "40 bar at 20 °C of air",
        residual_source=("analysed", "label", "stated")[number % 3],
        wanted="18/45 to 230 bar" if trimix else "EAN32 to 230 bar",
        method="partial-pressure" if trimix else "continuous-flow",
        staff_o2_percent=(18.2 if trimix else 32.3) if read else None,
        staff_he_percent=44.6 if trimix and read else None,
        diver_o2_percent=(18.3 if trimix else 32.4) if done else None,
        diver_he_percent=44.5 if trimix and done else None,
        analyser="Twin Cell 2" if trimix else "Oxy One",
        pressure_bar=229.6 if read else None,
        temperature_c=20.4 if read else None,
        gauge="Panel B",
        supplies="he-3, o1, compressor" if trimix else "o1, compressor",
        oxygen_mol=28.125 + number,
        helium_mol=412.75 if trimix else 0.0,
        top_mol=301.5,
        blender="Marek Holubec",
        accepted_by="Irena Carvalhosa" if done else "",
        exceptions=("readings differ by 0.9 points, released by a manager",)
        if number % 7 == 0
        else (),
        seq=2000 + 11 * number,
    )


def log(count: int = 40) -> LogView:
    return LogView(
        station_name="Harbour Shed Fill Station",
        first_day="2026-11-25",
        last_day="2026-11-30",
        lines=tuple(log_line(number) for number in range(count)),
        printed_at=at(12_000),
        imperial=False,
        proof=proof(3120),
    )


def nasty_log() -> LogView:
    """Every nasty text in every text cell, and one cell taller than a page."""
    base = log_line(0)
    texts = (*NASTY, "an exception that goes on " * 400)
    lines = tuple(
        replace(
            base,
            fill=number,
            cylinder=text,
            customer=text,
            residual=text,
            wanted=text,
            supplies=text,
            blender=text,
            gauge=text,
            exceptions=(text,),
        )
        if number < len(NASTY)
        else replace(base, fill=number, exceptions=(text,))
        for number, text in enumerate(texts)
    )
    return replace(log(), station_name=NASTY[0], lines=lines)
