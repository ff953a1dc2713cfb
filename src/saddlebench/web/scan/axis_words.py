"""What a person may state as level in a scan, in words."""

from django.utils.translation import gettext_lazy as _

from saddlebench.engine.scan.level import LevelBy

LEVEL_WORDS = {
    LevelBy.AXIS: _("by the scan’s own axis, as the phone felt it"),
    LevelBy.LEVEL_GROUND: _("by the ground: it was level there"),
}


def level_choices() -> tuple[tuple[str, str], ...]:
    """Return values and words to choose from."""
    return tuple((level.value, str(words)) for level, words in LEVEL_WORDS.items())


def level_named(text: str) -> LevelBy | None:
    """Return what a form states as level; None where it leaves it to the scan."""
    return next((level for level in LEVEL_WORDS if level.value == text), None)
