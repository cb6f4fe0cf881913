"""When a terminal under test has come to rest.

The toolkit waits until the process has used next to no processor time for a fiftieth of a
second.  That is never less than that, up to a second on a busy machine, and tells nothing for
certain.  The event loop knows: nothing is ready to run, no thread is at work for it, and no timer
is about to fire.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from tests.patience import PATIENCE_S

# Nobody looks at a terminal under test, so that it need not wait for a sixtieth of a second [s].
FRAME = 0.001
# A timer due within this belongs to what was begun; later ones are clocks, such as the cursor's
# blink [s].
SOON = 0.005
_LOOK_AGAIN = 0.0005
# What an app under test in a browser writes when it has come to rest: no terminal shows it.
AT_REST = "\x1b]777;at rest\x07"
_NEVER = PATIENCE_S  # something that goes on as long as this never comes to rest [s]
_held = [False]


@contextmanager
def thread_held() -> Iterator[None]:
    """Wait for no thread, while a test holds one on purpose."""
    _held[0] = True
    try:
        yield
    finally:
        _held[0] = False


async def at_rest(min_sleep: float = 0.0, max_sleep: float = 1.0) -> None:
    """Wait until nothing is under way; takes the place of `textual._wait.wait_for_idle`.

    What the toolkit would wait at least and at most [s] counts for nothing here.
    """
    loop: Any = asyncio.get_running_loop()
    began = loop.time()
    while loop.time() < began + _NEVER:
        await asyncio.sleep(0)
        if loop._ready:
            continue
        now = loop.time()
        timers = [timer.when() for timer in loop._scheduled if not timer.cancelled()]
        wait = max(min(timers, default=now + _NEVER) - now, 0.0)
        if wait <= SOON:
            await asyncio.sleep(wait)
        elif not _held[0] and _is_working(loop._default_executor):
            await asyncio.sleep(_LOOK_AGAIN)
        else:
            return


async def screen_at_rest(_pilot: Any, timeout: float = 0.0) -> bool:
    """Wait until the screen has dealt with what it was sent; for `Pilot._wait_for_screen`.

    The toolkit sends each of its widgets one message more and waits for all of these, for no
    longer than half a minute. At rest nobody has a message left.
    """
    await at_rest()
    return True


def _is_working(executor: Any) -> bool:
    """Tell whether a thread of the loop's pool is at work, or work is waiting for one."""
    if executor is None:
        return False
    idle = executor._idle_semaphore._value
    return bool(executor._work_queue.qsize()) or idle < len(executor._threads)
