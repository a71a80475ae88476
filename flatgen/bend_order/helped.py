"""What would help a part that has no order of bending."""

from __future__ import annotations

from flatgen.bend_order.changes import changes
from flatgen.bend_order.decide import Decision
from flatgen.bend_order.judge import with_changes
from flatgen.core.schedule import Schedule
from flatgen.definition.part import Part


def helped(part: Part, schedule: Schedule, decision: Decision) -> Schedule:
    """A schedule that has no order, with the smallest changes that would help; any other as it is.

    Parameters
    ----------
    part : Part
        Names its legs, [-]
    schedule : Schedule
        Its stages, [mm]
    decision : Decision
        What was searched, [-]

    Returns
    -------
    Schedule
        With ``changes``
    """
    if schedule.state != "refused" or decision.answer is None:
        return schedule
    found = changes(decision.answer.question, names=lambda leg: part.leg_name(leg) or part.leg_text(leg))
    return with_changes(schedule, tuple(c.text for c in found))
