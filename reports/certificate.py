"""The certificate of analysis: what is in a cylinder, how that is known, and who signed.

An A4 page for a customer's own papers or an inspector.  It says no more than the record: each
signature with printed name, time and meaning, each analysis with its analyser, and the entry
the whole can be checked against.
"""

from __future__ import annotations

from collections.abc import Iterator

from blender.rounding import deeper, shallower
from blender.station.certificate import CertificateView, MeasuredFacts, SignatureFacts
from reports.column import Column, Fact, listed
from reports.page import About, Page
from reports.serial import draw_serial
from reports.sheet import badge, draw_foot, upright
from reports.wording import (
    DOT,
    FIXED,
    copy_text,
    depth_pair,
    given,
    he_text,
    helium_large,
    oxygen_large,
    percent,
    pressure,
    refuse_undone,
    temperature,
    tenths,
    time_text,
)

_LEFT, _RIGHT = 15.0, 195.0
_QR = 26.0
_FIRST = Column(_LEFT, _RIGHT, 104.0, 246.0, 34.0, size_pt=8.5)
_SIGN_TOP, _SIGN_HEIGHT = 248.0, 18.0
_PARTY = {"staff": "Station", "customer": "Diver"}
_CAUTION = (
    "True of the moment of the analysis. Gas can be lost or let in afterwards: whoever dives it "
    "analyses it again before use. Oxygen feeds fire. The cylinder's own marking and local codes "
    "come first."
)


def certificate_pdf(view: CertificateView, paper: str = "a4") -> bytes:
    """Return the certificate of an accepted fill as a PDF.

    Parameters
    ----------
    view : CertificateView
        What the certificate states.
    paper : str
        What it is printed on, one of `reports.stock.PAPERS`.

    Raises
    ------
    InputError
        If a number is not finite.
    RefusedError
        If what was signed for does not hold any more.
    """
    refuse_undone(view.label)
    page = upright(_about(view), paper)
    sheets = _FIRST.pages(_facts(view))
    for number, lines in enumerate(sheets, start=1):
        if number > 1:
            page.next()
        page.marks = set()
        _head(page, view, f"page {number} of {len(sheets)}")
        _gas(page, view)
        _FIRST.draw(page, lines)
        _acceptance(page, view)
        draw_foot(page, view.label.proof, _LEFT, _RIGHT)
    return page.finish()


def _about(view: CertificateView) -> About:
    return About(
        title=f"Certificate of analysis, fill {view.label.fill}",
        subject="Gas as analysed, with signatures",
        author=view.label.station_name,
        keywords=view.label.proof.anchor,
        dated=view.label.copied_at or view.label.accepted_at,
    )


def _head(page: Page, view: CertificateView, which: str) -> None:
    width = _RIGHT - _LEFT - _QR - 8.0
    page.qr(_RIGHT - _QR, 15.0, _QR, view.label.proof.anchor)
    page.line(_LEFT, 21.0, "CERTIFICATE OF ANALYSIS", 18, bold=True, width=width)
    page.line(_LEFT, 29.0, given(view.label.station_name), 13, width=width, least=6)
    width -= badge(
        page, _LEFT + width, 36.0, copy_text(view.label.copy_number, view.label.copied_at)
    )
    page.line(_LEFT, 36.0, f"Fill {view.label.fill}{DOT}{which}", 10, width=width)
    page.rule(_LEFT, 44.0, _RIGHT, 44.0, 0.5)
    page.line(_LEFT, 50.0, "Cylinder", 8, bold=True)
    serial = given(view.label.cylinder.serial)
    draw_serial(page, _LEFT + 34.0, 51.0, serial, width=146.0, small=11, large=20)


def _gas(page: Page, view: CertificateView) -> None:
    """Draw the gas and its depths large, in a frame."""
    label, top, height = view.label, 56.0, 42.0
    page.box(_LEFT, top, _RIGHT - _LEFT, height, weight=0.6)
    share = oxygen_large(label)
    page.line(_LEFT + 5.0, top + 8.0, "Oxygen as analysed", 9, bold=True)
    used = page.line(_LEFT + 5.0, top + 26.0, share, 46, bold=True, width=52.0)
    page.line(_LEFT + 6.5 + used, top + 26.0, "%", 16, bold=True)
    helium = f"He {helium_large(label)} %" if label.he_percent else he_text(label.he_percent)
    page.line(_LEFT + 5.0, top + 35.0, helium, 13, bold=True, width=75.0)
    left, width = _LEFT + 88.0, _RIGHT - _LEFT - 92.0
    page.rule(left - 4.0, top, left - 4.0, top + height, 0.3)
    for place, (text, bold) in enumerate(_depths(view)):
        page.line(left, top + 8.0 + 7.4 * place, text, 12, bold=bold, width=width, least=7)


def _depths(view: CertificateView) -> Iterator[tuple[str, bool]]:
    label, imperial = view.label, view.label.imperial
    for ppo2, metre, foot in (
        (label.agreed_ppo2_bar, label.mod_agreed_m, label.mod_agreed_ft),
        (label.high_ppo2_bar, label.mod_high_m, label.mod_high_ft),
    ):
        deepest = depth_pair(shallower(metre), shallower(foot), imperial)
        yield f"MOD at ppO₂ {ppo2:.2f} bar: {deepest}", ppo2 == label.agreed_ppo2_bar
    if label.hypoxic or label.floor_m > 0:
        floor = depth_pair(deeper(label.floor_m), deeper(label.floor_ft), imperial)
        yield f"DO NOT BREATHE ABOVE {floor}", True
    yield "sea level, salt water", False
    warmth = temperature(label.pressure_temperature_c, imperial)
    yield f"{pressure(label.pressure_bar, imperial)} at {warmth}", True


def _facts(view: CertificateView) -> Iterator[Fact]:
    label, imperial = view.label, view.label.imperial
    facts = label.cylinder
    clean = "oxygen clean" if facts.oxygen_clean else "NOT oxygen clean"
    working = f"working pressure {pressure(facts.working_pressure_bar, imperial)}"
    tested = f"tested {given(facts.tested)}, inspected {given(facts.inspected)}"
    yield "Its marking", f"{given(facts.size_text)}, {working}, {tested}, {clean}", False
    yield "Asked for", f"{given(view.wanted)} to {pressure(view.wanted_bar, imperial)}", False
    filled = f"{time_text(label.filled_at)} by {given(label.filled_by)}"
    yield "Filled", f"{filled}, {given(view.method)}", False
    yield from listed("Analyses", [_measured(one) for one in view.measured])
    yield from listed("MOD rests on", label.extra_lines) if label.extra_lines else ()
    signed = [_signed(one) for one in view.signatures]
    accepted = f"accepted by {given(label.accepted_by)}, {time_text(label.accepted_at)}"
    how = "drawn by hand, below" if any(label.strokes) else "by typing the name"
    seal = f"sealed by {given(label.sealed_by)} for the station (entry {label.proof.seq})"
    yield from listed("Signatures", [*signed, f"{accepted}, {how}; {seal}"])
    yield from listed("Out of the usual", view.exceptions)


def _measured(one: MeasuredFacts) -> str:
    wide = "" if one.o2_points is None else f" ± {tenths(one.o2_points, 'uncertainty')} (k = 2)"
    gas = f"O₂ {percent(one.o2_percent)} %{wide}, {he_text(one.he_percent)}"
    with_what = f" with {one.analyser}" if one.analyser.strip() else ""
    set_at = "" if one.calibrated is None else f", calibrated {time_text(one.calibrated)}"
    who = f"{_PARTY.get(one.party, one.party)}, {time_text(one.at)}, {given(one.by)}"
    aside = "set aside, " if one.set_aside else ""
    where = f"(cylinder{FIXED}{given(one.serial)}, entry{FIXED}{one.seq})"
    return f"{aside}{who}{with_what}{set_at}: {gas} {where}"


def _signed(one: SignatureFacts) -> str:
    who = f"{given(one.name)}, {one.role}, {time_text(one.at)}"
    return f"{who}: {one.meaning} (entry {one.seq}, key {one.key[:8]}…)"


def _acceptance(page: Page, view: CertificateView) -> None:
    """Draw the diver's signature, or the typed name marked as such."""
    label, width = view.label, _RIGHT - _LEFT
    page.box(_LEFT, _SIGN_TOP, width, _SIGN_HEIGHT)
    page.line(_LEFT + 2.0, _SIGN_TOP + 4.0, "ACCEPTED BY", 6.5, bold=True)
    page.line(
        _LEFT + 2.0, _SIGN_TOP + 15.0, given(label.accepted_by), 11, width=70.0, least=5, bold=True
    )
    if any(label.strokes):
        page.strokes(_LEFT + 80.0, _SIGN_TOP + 1.5, 95.0, _SIGN_HEIGHT - 3.0, label.strokes)
    else:
        page.line(_LEFT + 80.0, _SIGN_TOP + 11.0, "signed by typing the name", 8)
    page.block(_LEFT, _SIGN_TOP + _SIGN_HEIGHT + 1.5, _CAUTION, 7.5, width=width, most=2, bold=True)
