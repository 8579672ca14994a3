"""The shape of a gate."""
import dataclasses


@dataclasses.dataclass
class Gate:
    state: str                    # open, closed, needs, ask
    opens: int | None = None      # only where a clock alone opens a closed gate
    expires: int | None = None    # the last second at which the values under it are fresh
    ends: int | None = None       # the clock that ends an ask: information


def opened(*limits):
    """Open until the first of the given ends; None: without end."""
    ends = [limit for limit in limits if limit is not None]
    return Gate("open", expires=min(ends) if ends else None)


def until(clock, now, *limits):
    """Closed until a clock, then open. At the instant of the clock it is open."""
    return Gate("closed", opens=clock) if now < clock else opened(*limits)
