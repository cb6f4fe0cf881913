"""Several fields at once, for what is registered seldom: a cylinder, a diver, a bank."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.widgets import Input, Static

from blender.errors import FillwrightError
from tui.dialogs.dialog import Dialog
from tui.plain import plain
from tui.saying import said

# What was half typed when a form was left, by the form's title: Esc never loses work.
Drafts = dict[str, dict[str, str]]


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a form.

    Parameters
    ----------
    ident : str
        Its name among the answers.
    label : str
        What stands before it.
    hint : str
        An example, shown while it is empty, and explained when it has the keyboard.
    initial : str
        What stands there to begin with.
    check : callable or None
        Reads what was typed; raises `FillwrightError` if it cannot be used.
    is_secret : bool
        Whether what is typed is hidden.
    text : str
        What F1 says of it.
    whole : callable or None
        Returns the whole of what was typed in short, given where the record is; it takes its
        place in the field, to be seen before the form is entered.
    """

    ident: str
    label: str
    hint: str = ""
    initial: str = ""
    check: Callable[[str], object] | None = None
    is_secret: bool = False
    text: str = ""
    whole: Callable[[str, str], str] | None = None


class Form(Dialog[dict[str, str] | None]):
    """A form; its answer is what was typed, or None if it was left.

    Parameters
    ----------
    title : str
        What is being entered.
    fields : sequence of Field
        In the order they are asked.
    drafts : dict
        Where half-typed forms are kept.
    agree : callable or None
        Reads all answers together; raises `FillwrightError` if they do not fit each other.
    """

    DEFAULT_CSS = """
    Form { align: center middle; }
    Form VerticalScroll { width: 72; height: auto; max-height: 22; background: $surface;
        border: solid $primary; padding: 0 1; }
    Form .row { height: 1; }
    Form .label { width: 22; }
    Form Input { width: 1fr; height: 1; border: none; background: $panel; padding: 0 1; }
    Form Input:focus { border: none; background: $primary 30%; }
    Form #flaw { height: auto; min-height: 2; }
    """
    HELP_TEXT = "Each field is read as it is entered; what cannot be used is said below."
    KEYS = (
        ("enter", "Go on; at the last field enter the form"),
        ("up, down", "Another field"),
        ("left, right", "Keep what stands there, to edit it"),
        ("esc", "Leave; what was typed is kept, but for secrets"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "Leave (kept)"),
        Binding("up", "app.focus_previous", show=False),
        Binding("down", "app.focus_next", show=False),
    ]

    def __init__(
        self,
        title: str,
        fields: Sequence[Field],
        drafts: Drafts,
        agree: Callable[[dict[str, str]], object] | None = None,
    ) -> None:
        super().__init__()
        self._heading, self._fields, self._drafts = title, list(fields), drafts
        self._agree = agree

    def compose(self) -> ComposeResult:
        """A row a field, and what is wrong below."""
        draft = self._drafts.get(self._heading, {})
        with VerticalScroll(can_focus=False):
            yield Static(plain(self._heading, "bold"))
            for field in self._fields:
                with Horizontal(classes="row"):
                    yield Static(plain(field.label), classes="label")
                    yield Input(
                        draft.get(field.ident, field.initial), placeholder=field.hint,
                        password=field.is_secret, id=f"form-{field.ident}", compact=True,
                    )  # fmt: skip
            yield Static("", id="flaw")
            yield Static(plain("Enter goes on, and enters it at the end. Esc leaves; it is kept."))

    def explain(self) -> str:
        """Return what F1 says of the field that has the keyboard."""
        ident = str(self.focused.id if self.focused else "").removeprefix("form-")
        here = next((field for field in self._fields if field.ident == ident), None)
        if here is None:
            return self.HELP_TEXT
        about = filter(None, [here.hint and f"Such as: {here.hint}", here.text, self.HELP_TEXT])
        return "\n".join([here.label, *about])

    def on_mount(self) -> None:
        """Begin at the first empty field that may not stay so, else at the first empty one.

        A form that was left and taken up again begins where it was left, so that a secret is
        not typed into a field that shows it.
        """
        inputs = list(self.query(Input))
        empty = [at for at, one in enumerate(inputs) if not one.value]
        wanted = [at for at in empty if _is_needed(self._fields[at])]
        inputs[(wanted or empty or [0])[0]].focus()

    @property
    def answers(self) -> dict[str, str]:
        """What stands in the fields."""
        return {f.ident: self.query_one(f"#form-{f.ident}", Input).value for f in self._fields}

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Go to the next field, or hand the form over."""
        event.stop()
        inputs = list(self.query(Input))
        at = inputs.index(event.input)
        if self._flaw(self._fields[at], event.value):
            event.input.select_all()
            return
        if at + 1 < len(inputs):
            inputs[at + 1].focus()
            return
        self._hand_over()

    def _hand_over(self) -> None:
        for field in self._fields:
            before = self.answers[field.ident]
            if self._flaw(field, before):
                self.query_one(f"#form-{field.ident}", Input).focus()
                return
            if self.answers[field.ident] != before:  # an arrow went past it, unseen so far
                told = f"! {field.label}: {self.answers[field.ident]}? Enter again enters it."
                self.query_one("#flaw", Static).update(plain(told))
                return
        if self._is_disagreed():
            return
        self._keep()
        self.dismiss(self.answers)

    def _is_disagreed(self) -> bool:
        """Say why the answers do not fit each other; secrets are typed again here, unseen."""
        try:
            if self._agree is not None:
                self._agree(self.answers)
        except FillwrightError as error:
            self.query_one("#flaw", Static).update(
                plain(f"! {said(error.text, self.terminal.units)}")
            )
            secrets = [
                self.query_one(f"#form-{f.ident}", Input) for f in self._fields if f.is_secret
            ]
            for field in secrets:
                field.value = ""
            (secrets or list(self.query(Input)))[0].focus()
            return True
        return False

    def _flaw(self, field: Field, value: str) -> bool:
        """Say what is wrong with a field, if anything is."""
        flaw = ""
        try:
            if field.check is not None:
                field.check(value)
            if field.whole is not None:
                whole = field.whole(value, self.terminal.house.location)
                self.query_one(f"#form-{field.ident}", Input).value = whole
        except FillwrightError as error:
            flaw = said(error.text, self.terminal.units)
        self.query_one("#flaw", Static).update(plain(f"! {field.label}: {flaw}" if flaw else ""))
        return bool(flaw)

    def _keep(self) -> None:
        hidden = {field.ident for field in self._fields if field.is_secret}
        kept = {name: text for name, text in self.answers.items() if name not in hidden}
        self._drafts[self._heading] = kept

    def let_go(self) -> None:
        """Leave it because somebody else may come; what was typed is kept."""
        self.action_leave()

    def action_leave(self) -> None:
        """Leave; what was typed is kept for the next time."""
        self._keep()
        self.dismiss(None)


def _is_needed(field: Field) -> bool:
    """Tell whether a field may not be left empty."""
    try:
        if field.check is not None:
            field.check("")
    except FillwrightError:
        return True
    return False


def answered(
    take: Callable[[dict[str, str]], object],
) -> Callable[[dict[str, str] | None], None]:
    """Return what takes a form's answers when it was not left."""

    def taken(answers: dict[str, str] | None) -> None:
        if answers is not None:
            take(answers)

    return taken
