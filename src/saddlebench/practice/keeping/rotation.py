"""A backup a day, and how long each is kept."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from saddlebench.practice.keeping.backup import BEFORE_UPGRADE, DAILY, Backup, back_up, backups_in

_DUE_AFTER = timedelta(hours=20)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rotation:
    """How many are kept: of the last days, weeks and months the newest each, and those before upgrades."""

    days: int = 7
    weeks: int = 5
    months: int = 12
    before_upgrades: int = 3


def age_of_newest(home: Path, now: datetime) -> timedelta | None:
    """Return how old the newest backup is; None where there is none."""
    backups = backups_in(home)
    return now - backups[0].made_at if backups else None


def daily_backup(home: Path, now: datetime, rotation: Rotation | None = None) -> Backup | None:
    """Make the day's backup if it is due, and take out what has served; None where none was due."""
    newest = next((one for one in backups_in(home) if one.kind == DAILY), None)
    if newest is not None and now - newest.made_at < _DUE_AFTER:
        return None
    made = back_up(home, now=now, kind=DAILY)
    for served in served_backups(backups_in(home), rotation or Rotation()):
        served.path.unlink()
    return made


def served_backups(newest_first: list[Backup], rotation: Rotation) -> list[Backup]:
    """Return the backups that rotation takes out. Those that a person asked for stay."""
    daily = [one for one in newest_first if one.kind == DAILY]
    upgrades = [one for one in newest_first if one.kind == BEFORE_UPGRADE]
    kept: set[Path] = {one.path for one in upgrades[: rotation.before_upgrades]}
    for count, period in (
        (rotation.days, "%Y-%j"),
        (rotation.weeks, "%G-%V"),
        (rotation.months, "%Y-%m"),
    ):
        newest_of: dict[str, Backup] = {}
        for one in daily:
            newest_of.setdefault(one.made_at.strftime(period), one)
        kept |= {one.path for one in list(newest_of.values())[:count]}
    return [one for one in (*daily, *upgrades) if one.path not in kept]
