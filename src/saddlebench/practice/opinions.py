"""What a fitter is asked about before the program answers, and how the two are counted together."""

from collections.abc import Iterable, Mapping
from enum import StrEnum

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


class Judge(StrEnum):
    """Whose opinion it is."""

    FITTER = "fitter"
    PROGRAM = "program"


class Topic(StrEnum):
    """What an opinion is about; several findings may belong to one topic."""

    WITHERS = "withers"
    CHANNEL = "channel"
    FRONT = "front"
    SHOULDER = "shoulder"
    MIDDLE = "middle"
    ROCKING = "rocking"
    LENGTH = "length"
    SEAT = "seat"
    HAND_NEAR = "hand_near"
    HAND_OFF = "hand_off"


TOPIC_WORDS: Mapping[Topic, Promise] = {
    Topic.WITHERS: _("Room over and beside the withers"),
    Topic.CHANNEL: _("Channel and room over the spine"),
    Topic.FRONT: _("Width and angle of the front"),
    Topic.SHOULDER: _("Freedom of the shoulder"),
    Topic.MIDDLE: _("Middle of the panels: does it bridge?"),
    Topic.ROCKING: _("Rocking"),
    Topic.LENGTH: _("Length: clear of the last rib?"),
    Topic.SEAT: _("Level and lowest point of the seat"),
    Topic.HAND_NEAR: _("Hand under the near (left) panel, girthed"),
    Topic.HAND_OFF: _("Hand under the off (right) panel, girthed"),
}
HANDS = (Topic.HAND_NEAR, Topic.HAND_OFF)
FEELS = ("even", "slack", "tight")
VERDICTS = ("fine", "borderline", "not right")
CANNOT_TELL = "cannot tell"

# By the names that findings have in a fit check's record.
FINDINGS_OF: Mapping[Topic, frozenset[str]] = {
    Topic.WITHERS: frozenset(
        {
            "withers, top, rider up",
            "withers, top, girthed without rider",
            "drop when the rider mounts",
            "withers sides, upper 60 mm",
        }
    ),
    Topic.CHANNEL: frozenset(
        {"channel width", "channel against the spine strip", "height over the spine, rider up"}
    ),
    Topic.FRONT: frozenset({"point or bar angle against the back", "width against the back, with pad"}),
    Topic.SHOULDER: frozenset({"behind the shoulder edge"}),
    Topic.MIDDLE: frozenset({"bridging, rider up", "bridging, girthed only"}),
    Topic.ROCKING: frozenset({"rocking"}),
    Topic.LENGTH: frozenset({"bearing past the last-rib mark"}),
    Topic.SEAT: frozenset({"seat tilt from design", "lowest seat point off design"}),
}


def choices_of(topic: Topic) -> tuple[str, ...]:
    """Return what a fitter may say of a topic."""
    return FEELS if topic in HANDS else VERDICTS


def verdict_of(topic: Topic, findings: Iterable[tuple[str, str]]) -> str:
    """Return one verdict for a topic from its findings (name, verdict): the worst that is known.

    “Cannot tell” stands where something of the topic is not known and nothing that is known is wrong.
    """
    said = {verdict for name, verdict in findings if name in FINDINGS_OF[topic]}
    worst_first = ("not right", "borderline", CANNOT_TELL, "fine")
    return next((verdict for verdict in worst_first if verdict in said), CANNOT_TELL)


def feel_of(stretches: Iterable[tuple[str, float]]) -> str:
    """Return what a hand says of a whole panel from its stretches: the longest that is not even."""
    lengths: dict[str, float] = {}
    for feel, length in stretches:
        lengths[feel] = lengths.get(feel, 0.0) + length
    felt = sorted(((length, feel) for feel, length in lengths.items() if feel != "even"), reverse=True)
    if felt:
        return felt[0][1]
    return "even" if lengths else CANNOT_TELL
