"""Days as the program's own sentences hold them, whatever the machine's own language is."""

import datetime as dt

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def plain_day(on: dt.date) -> str:
    """Return a day as sentences hold it before they are told to their reader: “6 May 2026”."""
    return f"{on.day} {MONTHS[on.month - 1]} {on.year}"
