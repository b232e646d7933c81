"""What a draw does to the candidates: coils are wound wider, and hang where their bend is now.

Two studies in, the one as stated and the one drawn; candidates out.
"""

from __future__ import annotations

from pipeline.chokes.kind import Choke
from pipeline.study.assembly import feed_height
from pipeline.study.checks.route import follow_route
from pipeline.study.records import Study


def wound(stated: Study, drawn: Study, pitch: float) -> tuple[Choke, ...]:
    """Candidates of a study as a draw has them.

    A coil keeps its distance below the bend that it hangs from, however long the way to there
    is; one of the main cable has the jacket of the drawn one.

    Parameters
    ----------
    stated, drawn : Study
        As stated, and with another cable, route and height.
    pitch : float
        Factor on the pitch of coils. [-]
    """
    return tuple(
        choke.redrawn(
            pitch,
            _moved(stated, drawn, choke.position),
            stated.cable.type,
            drawn.cable.type,
        )
        if choke.hangs
        else choke
        for choke in stated.chokes
    )


def _moved(stated: Study, drawn: Study, position: float) -> float:
    """How much further down the cable the step begins that holds a place of the study. [m]"""
    step = sum(begin <= position for begin in _begins(stated)) - 1
    return _begins(drawn)[step] - _begins(stated)[step]


def _begins(study: Study) -> list[float]:
    """Where along the cable each step begins. [m]

    Zero after a step that cannot be gone: such a draw is refused when it is drawn.
    """
    tap, ground = feed_height(study.site, study.antenna), study.site.ground is not None
    route = study.cable.route
    walks = [follow_route(route[:k], tap, ground) for k in range(1, len(route))]
    return [0.0, *(walk.length for walk in walks)]
