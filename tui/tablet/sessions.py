"""Who has the tablet's door open: cookies kept as digests, few at a time, each for a while."""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Callable
from dataclasses import dataclass

from blender.station.handing import STAFF, Handing, digest_of
from blender.station.tablet import LONGEST_MINUTES

MOST = 8  # own choice: a counter has one tablet or two
CUSTOMER_IDLE_S, STAFF_IDLE_S = 300.0, 1800.0  # own choices
WRONG_TOKENS, WRONG_PER_S = 20, 60.0  # tokens nobody knows, before all are asked to wait


@dataclass(slots=True)
class Session:
    """One open door.

    Parameters
    ----------
    digest : str
        Of its cookie.
    handed : Handing
        What the token opened.
    until_s, touched_s : float
        When it is over at the latest, and when somebody last did something [s].
    """

    digest: str
    handed: Handing
    until_s: float
    touched_s: float

    @property
    def is_staff(self) -> bool:
        """Whether it opens the terminal, which asks for name and secret itself."""
        return self.handed.purpose == STAFF

    @property
    def idle_s(self) -> float:
        """How long nobody may do anything [s]."""
        return STAFF_IDLE_S if self.is_staff else CUSTOMER_IDLE_S

    def left_s(self, now_s: float) -> float:
        """Return how long it is open still, if nobody does anything [s]."""
        return min(self.until_s, self.touched_s + self.idle_s) - now_s


class Sessions:
    """The open doors.

    Parameters
    ----------
    now : callable
        Gives the time on a clock nobody sets [s].
    """

    def __init__(self, now: Callable[[], float]) -> None:
        self.now = now
        self._open: dict[str, Session] = {}
        self._wrong: list[float] = []

    @property
    def is_full(self) -> bool:
        """Whether no more can be opened."""
        self._forget_over()
        return len(self._open) >= MOST

    def begin(self, handed: Handing) -> str:
        """Open a door and return its cookie, of which only the digest stays here."""
        cookie, now = secrets.token_urlsafe(32), self.now()
        digest, longest_s = digest_of(cookie), LONGEST_MINUTES[handed.purpose] * 60.0
        self._open[digest] = Session(digest, handed, now + longest_s, now)
        return cookie

    def of(self, cookie: str) -> Session | None:
        """Return the door a cookie opens, None if there is none (any more)."""
        self._forget_over()
        given = digest_of(cookie)
        found = [one for one in self._open.values() if hmac.compare_digest(one.digest, given)]
        return found[0] if found else None

    def touch(self, session: Session) -> None:
        """Remember that somebody did something."""
        session.touched_s = self.now()

    def end(self, session: Session) -> None:
        """Close a door for good."""
        self._open.pop(session.digest, None)

    def _forget_over(self) -> None:
        now = self.now()
        for one in [one for one in self._open.values() if one.left_s(now) <= 0.0]:
            self.end(one)

    # -- tokens nobody knows -------------------------------------------------------------------

    def wrong_token(self) -> None:
        """Count a token that opened nothing."""
        self._wrong.append(self.now())

    @property
    def must_wait(self) -> bool:
        """Whether too many tokens opened nothing lately."""
        since = self.now() - WRONG_PER_S
        self._wrong = [at for at in self._wrong[-WRONG_TOKENS:] if at > since]
        return len(self._wrong) >= WRONG_TOKENS
