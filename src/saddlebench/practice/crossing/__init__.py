"""What crosses the practice's edge: tables, cards, calendars, and everything at once when leaving."""

from saddlebench.practice.crossing.calendar import diary_calendar
from saddlebench.practice.crossing.cards import export_cards, import_cards
from saddlebench.practice.crossing.leaving import leave
from saddlebench.practice.crossing.lists import (
    Imported,
    export_horses,
    export_people,
    import_horses,
    import_people,
)

__all__ = [
    "Imported",
    "diary_calendar",
    "export_cards",
    "export_horses",
    "export_people",
    "import_cards",
    "import_horses",
    "import_people",
    "leave",
]
