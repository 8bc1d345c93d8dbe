"""Lesson 3's last questions: whether the saw may be set to a speed that a law of life gives."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bandtrial_lessons.question import Question, Slip

if TYPE_CHECKING:
    from bandtrial_lessons.cut_cost import CutCost


def checks(lesson: CutCost) -> list[Question]:
    """Before a speed past the tables is set: what the motor says."""
    V, F = lesson.nice(lesson.speeds[0], "speed", 3), lesson.cutting_force
    efficiency, P, motor = float(lesson.shop.machine.drive_efficiency), lesson.power(V), lesson.motor
    told = (f"A half worn band needs {lesson.show(F, 'force')} of cutting force here, at any speed; the drive passes "
            f"on {100 * efficiency:.0f} % of the motor's power, and the motor has "
            f"{lesson.show(motor, 'power')}.")  # fmt: skip
    stalls = motor < P
    yes, no = "No: the motor stalls before it gets there", "Not straight away: try it, and look at the cut first"
    return [
        lesson.ask_for(
            "3i", f"Would the saw carry the greatest output? {told} What power of the motor does "
                  f"{lesson.show(V, 'speed')} take?", "power", P, given="", source="power = force x speed",
            nudge="Power is force times speed, and some of it is lost on the way.",
            how="F V / 60 with V in m/min (V = ft/min x 0.3048) is the power in W at the band; divide by the "
                "drive's share.",
            because=f"The motor has {lesson.show(motor, 'power')}. No law of life knows that.",
            slips=(
                Slip(P * efficiency, "That is the power at the band; the motor gives more, as the drive "
                                     "loses some."),
                Slip(P * efficiency**2, "You multiplied by the drive's share; the motor gives more than the band "
                                        "gets: divide."),
                Slip(60 * P, "The minute went in as a second: V in m/min has to be divided by 60."),
                Slip(P / 60, "Divided by 60 twice."),
            ),
        ),
        lesson.choose(
            "3j", f"May you set that speed on this machine? {told}", right=yes if stalls else no,
            wrong={
                no if stalls else yes: f"It takes {lesson.show(P, 'power')} of {lesson.show(motor, 'power')}.",
                "Yes: the law of life says that it saws the most": "The law knows nothing of motor, gullets or "
                    "squareness.",
                "Yes, if the feed is kept as it was in the table": "At the same feed the chip gets thinner, and "
                    "rubs; and the output is not what 3a counted.",
            },
            how="compare 3i with the motor; then ask what else a speed past the tables may spoil.",
            because="Beyond the published range nothing is known of chatter, squareness and full gullets either: "
                    "one step, one cut, look, then the next.",
            source="common practice, no source",
        ),
    ]  # fmt: skip
