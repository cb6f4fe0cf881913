"""What the Counter shows: a cylinder's card, a plan in words, and what the diver signs for."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.widgets import Digits, Static

from blender.gas import Mix, name_of
from blender.rounding import deeper, shallower
from blender.station.offer import Offer
from blender.units import parse_size
from reports.wording import FIXED, he_text, percent, pressure, temperature
from tui.plain import plain
from tui.saying import said
from tui.shown import Units
from tui.widgets.fitted import Fitted

_SIZED = re.compile(r"(\S+), WP (\d+) bar, ")
_DUE = {"stop": "STOP", "ask": "MANAGER", "pass": "SOON"}


class Card(Fitted):
    """Who and what stands at the counter."""

    DEFAULT_CSS = """
    Card { width: 34; height: 1fr; padding: 0 1; background: $surface; }
    """

    def __init__(self) -> None:
        super().__init__("card")


class Sheet(VerticalScroll, can_focus=False):
    """What is said about it: a list, a plan, or what is signed for, with big digits."""

    DEFAULT_CSS = """
    Sheet { width: 1fr; height: 1fr; padding: 0 1; }
    Sheet Static { height: auto; }
    Sheet #figures { height: 3; }
    Sheet Digits { width: auto; text-style: bold; }
    Sheet .beside { width: auto; padding: 1 2 0 1; }
    Sheet #more { dock: bottom; height: 1; background: $panel; padding: 0 1; display: none; }
    """

    def __init__(self) -> None:
        super().__init__(id="sheet")
        self._body = ""

    def compose(self) -> ComposeResult:
        """Head, digits, body."""
        yield Static("", id="head", markup=False)
        with Horizontal(id="figures"):
            yield Digits("", id="o2")
            yield Static("", classes="beside", id="o2-beside")
            yield Digits("", id="he")
            yield Static("", classes="beside", id="he-beside")
        yield Static("", id="body", markup=False)
        yield Static("PgDn and PgUp: there is more than fits here", id="more", markup=False)

    def watch_show_vertical_scrollbar(self) -> None:
        """Say by which keys the rest is read."""
        self.query_one("#more").display = self.show_vertical_scrollbar

    def show(self, body: Content, head: Content | None = None, offer: Offer | None = None) -> None:
        """Show lines; with an offer, its analysis in big digits between head and body."""
        self.query_one("#head", Static).update(head or Content(""))
        self.query_one("#head").display = head is not None
        self.query_one("#figures").display = offer is not None
        self.query_one("#body", Static).update(body)
        if offer is not None:
            self._figures(offer)
        if body.plain != self._body:  # what is only shown again stays where it was scrolled to
            self._body = body.plain
            self.scroll_home(animate=False)

    def _figures(self, offer: Offer) -> None:
        has_he = offer.he_percent is not None and offer.he_percent >= 0.05
        self.query_one("#o2", Digits).update(percent(offer.o2_percent))
        said = "% O2 as analysed" + ("" if has_he else f", {he_text(offer.he_percent)}")
        self.query_one("#o2-beside", Static).update(plain(said, "bold"))
        self.query_one("#he").display = self.query_one("#he-beside").display = has_he
        if has_he:
            self.query_one("#he", Digits).update(percent(offer.he_percent or 0.0))
            self.query_one("#he-beside", Static).update(plain("% He", "bold"))


def lines(parts: Iterable[Content | str]) -> Content:
    """Return parts as lines, what people typed letter by letter."""
    return Content("\n").join(plain(part) if isinstance(part, str) else part for part in parts)


def cylinder_card(
    known: Mapping[str, Any], customer: Mapping[str, Any] | None, left: str, units: Units
) -> Content:
    """Return what check-in knows of a cylinder.

    Parameters
    ----------
    known : mapping
        As `blender.station.lookup.known` returns it.
    customer : mapping or None
        Whose fill it will be.
    left : str
        What is left in it as understood, empty if not told yet.
    units : Units
        What pressures are shown in.
    """
    service = "oxygen service" if known["clean"] else "NOT oxygen clean"
    wp, tp = units.pressure(known["wp_bar"], 0), units.pressure(known["tp_bar"], 0)
    parts: list[Content | str] = [
        plain(f" {known['serial']} ", "bold reverse"),
        f"{_size(known, units)}  {service}",
        f"WP {wp}  TP {tp}",
        f"tested {known['tested']} inspected {known['inspected']}",
        *(_due(one, units) for one in known["due"]),
        _customer(customer),
    ]
    if (last := known["last_fill"]) is not None:
        parts.append(f"last {last['date']}: {_last(last, units)}, {last['state']}")
    if known["open_fills"]:
        parts.append(f"! open fills: {', '.join(map(str, known['open_fills']))}")
    if known["gas_lost"]:
        told = plain(said(known["gas_lost"], units), "bold")
        parts.append(Content.assemble(("! ", "bold $warning"), told))
    if left:
        parts.append(plain(f"left: {left}", "bold"))
    return lines(parts)


def _size(known: Mapping[str, Any], units: Units) -> str:
    return units.size(known["size"], known["size_l"], known["posts"], known["wp_bar"])


def _due(one: Mapping[str, Any], units: Units) -> Content:
    return Content.assemble(("! ", "bold $warning"), plain(_DUE[one["answer"]], "bold"),
                            plain(f" {said(one['text'], units, one)}"))  # fmt: skip


def _last(last: Mapping[str, Any], units: Units) -> str:
    if last["o2"] is None:
        return units.wanted(str(last["want"]))
    helium = f" He {last['he'] * 100:.1f} %" if last["he"] else ""
    return f"O2 {last['o2'] * 100:.1f} %{helium}"


def _customer(customer: Mapping[str, Any] | None) -> str:
    if customer is None:
        return "for: not known yet"
    level = customer.get("certified")
    return f"for {customer['name']}, {f'certified {level}' if level else 'no card on record'}"


def customer_card(card: Mapping[str, Any]) -> Content:
    """Return what is known of a customer, and their last fills."""
    level = card["certified"]
    head = [plain(f" {card['name']} ", "bold reverse"), plain(level or "no card on record")]
    if agreed := card.get("agreed_at"):
        head.append(plain(f"undertaking signed {agreed[:10]}"))
    return lines([*head, *(f"{f['date']} {f['cylinder']} {f['gas']}" for f in card["fills"][:6])])


def hit_list(hits: Sequence[Mapping[str, Any]], marked: int, units: Units) -> Content:
    """Return what was found, numbered, with one of it marked."""
    return lines(
        plain(f"{'>' if at == marked else ' '}{at + 1:3}  {_hit(hit, units)}",
              "bold reverse" if at == marked else "")
        for at, hit in enumerate(hits)
    )  # fmt: skip


def _hit(hit: Mapping[str, Any], units: Units) -> str:
    """Return a hit in the units shown; the serial or name before it is as it is."""
    name, gap, rest = str(hit["text"]).partition("  ")
    if found := _SIZED.match(rest):
        size = parse_size(found[1])
        wp_bar = hit.get("wp_bar", float(found[2]))
        shown = units.size(size.typed, size.litres, size.count, wp_bar)
        rest = shown + rest[found.end(1) :]
    return f"{name}{gap}{said(rest, units, hit)}"


def plan_words(plan: Mapping[str, Any], units: Units) -> Content:
    """Return a plan's stops in plain words, and what they come to."""
    degrees = {step["temperature_c"] for step in plan["steps"] if step["action"] == "add"}
    settled = plan["result"]["settled_temperature_c"]
    warm = degrees != {settled}  # said at each stop only where it is not that of the result
    parts: list[Content | str] = [
        plain(f"{number}  {_step(step, units, warm=warm)}", "bold")
        for number, step in enumerate(plan["steps"], 1)
    ]
    result = plan["result"]
    helium = f", He {result['he'] * 100:.1f} %" if result["he"] > 0.0005 else ""
    at = units.temperature(settled)
    parts.append(f"comes to O2 {result['o2'] * 100:.1f} %{helium}, "
                 f"{units.pressure(result['pressure_bar'])} at {at}")  # fmt: skip
    minds = [Content.assemble(("! ", "bold $warning"), plain(said(mind["text"], units, plan)))
             for mind in plan["warnings"]]  # fmt: skip
    return lines([*parts, *minds])


def _step(step: Mapping[str, Any], units: Units, *, warm: bool) -> str:
    action, gas = step["action"], _gas(step)
    source = f" from {step['supply']}" if step.get("supply") not in (None, "", "top") else ""
    if action == "drain":
        return f"drain slowly to {units.pressure(step['to_bar'])}"  # as the Panel and the Book say
    if action == "purge":
        to, back = units.pressure(step["to_bar"]), units.pressure(step["from_bar"])
        return f"purge: {gas}{source} in to {to}, mix, vent to {back}"
    if action == "add":
        source += " through the booster" if step.get("boosted") else ""
        if "scale_g" in step:
            gauge = f"(gauge about {units.pressure(step['to_bar'])})"
            return f"{gas}{source} until the scale reads {units.mass(step['scale_g'])} {gauge}"
        at = f" at {units.temperature(step['temperature_c'])}" if warm else ""
        return f"{gas}{source} to {units.pressure(step['to_bar'])}{at}"
    if action == "flow":
        to, intake = units.pressure(step["to_bar"]), step.get("intake_reading", step["intake_o2"])
        gases = "helium and oxygen" if "intake_he" in step else "oxygen"
        return f"air with {gases} at the intake, {intake * 100:.1f} %, to {to}"
    return {"rest": "let it rest", "analyse": "analyse"}.get(action, str(action))


def _gas(step: Mapping[str, Any]) -> str:
    gas = step.get("gas")
    return name_of(Mix(gas["o2"], gas["he"], gas["n2"], gas["ar"]), 1) if gas else ""


def offer_head(offer: Offer, units: Units) -> Content:
    """Return which cylinder is offered."""
    return Content.assemble(
        plain(f" {offer.serial} ", "bold reverse"),
        plain(f"  fill {offer.fill}, wanted {said(offer.wanted, units, offer)}"),
    )


def statement(offer: Offer, units: Units) -> Content:
    """Return what the label will state, in its own roundings and words; depths in both units.

    Where the label has another unit of pressure than is set here, its own stands behind.
    """
    agreed = _pair(units, shallower(offer.mod_agreed_m), shallower(offer.mod_agreed_ft))
    high = _pair(units, shallower(offer.mod_high_m), shallower(offer.mod_high_ft))
    parts: list[Content | str] = [
        plain(f"MAXIMUM DEPTH {agreed} at ppO2 {offer.agreed_ppo2_bar:.2f} bar", "bold"),
        f"{high} at {offer.high_ppo2_bar:.2f} bar; sea level, salt; the higher reading counts",
    ]
    if offer.hypoxic:
        floor = _pair(units, deeper(offer.floor_m), deeper(offer.floor_ft))
        parts.append(plain(f" ! HYPOXIC: DO NOT BREATHE ABOVE {floor} ", "bold reverse $warning"))
    parts.append(_gauge(offer, units))
    read = f"O2 {percent(offer.o2_percent)} %, {he_text(offer.he_percent)}, {offer.analyser}"
    parts.append(f"Station's reading: {read}")
    for post in offer.posts_read:
        told = f"O2 {percent(post.o2_percent)} %, {he_text(post.he_percent)}"
        parts.append(f"   post {post.serial}: {told}")
    if offer.posts_left:
        left = " and ".join(offer.posts_left)
        parts.append(plain(f"! NOT YET: post {left} is to be analysed, at the Panel", "bold"))
    if offer.lost:
        parts.append(plain(f"! {said(offer.lost, units)}", "bold"))
    if offer.unrested:
        parts.append(plain(f"! {offer.unrested}", "bold"))
    if offer.own_o2_percent is None:
        parts.append(plain("Analyse it yourself now: you sign for this cylinder.", "bold"))
        return lines(parts)
    own = f"O2 {percent(offer.own_o2_percent)} %, {he_text(offer.own_he_percent)}"
    whose = "Diver's" if offer.accepted_by else "Your"
    parts.append(plain(f"{whose} reading: {own}", "bold"))
    if offer.accepted_by:
        parts.append(plain(f"ACCEPTED by {offer.accepted_by}", "bold"))
    parts.append("Oxygen feeds fire. Analyse before every dive.")
    return lines(parts)


def _gauge(offer: Offer, units: Units) -> str:
    gauge = pressure(offer.pressure_bar, offer.imperial)
    label = f"{gauge} at {temperature(offer.temperature_c, offer.imperial)}".replace(FIXED, " ")
    if offer.imperial == units.imperial:
        return f"Gauge {label}"
    here = units.pressure(offer.pressure_bar, 0)
    return f"Gauge {here} at {units.temperature(offer.temperature_c)}; the label: {label}"


def _pair(units: Units, metre: int, feet: int) -> str:
    pair = (f"{metre} m", f"{feet} ft")
    return " / ".join(reversed(pair) if units.imperial else pair)
