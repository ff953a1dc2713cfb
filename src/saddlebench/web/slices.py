"""The one list of slices: a new slice is a folder with `urls.py` and a line here."""

from dataclasses import dataclass

from saddlebench.practice.enums import Action


@dataclass(frozen=True, slots=True, kw_only=True)
class NavEntry:
    """One entry of the navigation, shown to those who may."""

    url: str
    """Name of a url that takes no arguments."""
    words: str
    sign: str
    """A typographic sign beside the words, never instead of them."""
    action: Action


@dataclass(frozen=True, slots=True, kw_only=True)
class Slice:
    """One part of the pages."""

    name: str
    """Folder under `web/`; also the prefix of its url names: `records:horse`."""
    under: str = ""
    """Path that its urls lie under."""
    has_interface: bool = False
    """Whether its `api.py` gives a `router` with addresses for other programs."""
    nav: tuple[NavEntry, ...] = ()


SLICES: tuple[Slice, ...] = (
    Slice(name="home", nav=(NavEntry(url="home:today", words="Today", sign="◷", action=Action.SEE_HORSES),)),
    Slice(
        name="visit",
        nav=(NavEntry(url="visit:visits", words="Visits", sign="✎", action=Action.SEE_HORSES),),
    ),
    Slice(name="accounts"),
    Slice(
        name="records",
        nav=(
            NavEntry(url="records:horses", words="Horses", sign="♘", action=Action.SEE_HORSES),
            NavEntry(url="records:saddles", words="Saddles", sign="◠", action=Action.SEE_SADDLES),
            NavEntry(url="records:clients", words="People", sign="☺", action=Action.SEE_PEOPLE),
        ),
    ),
    Slice(
        name="capture",
        nav=(NavEntry(url="capture:home", words="Measure", sign="⌒", action=Action.SEE_HORSES),),
        has_interface=True,
    ),
    Slice(name="tracing", has_interface=True),
    Slice(name="underside", has_interface=True),
    Slice(name="scan", has_interface=True),
    Slice(name="study", has_interface=True),
    Slice(name="change", has_interface=True),
    Slice(name="replica", has_interface=True),
    Slice(name="photos", has_interface=True),
    Slice(name="phone", has_interface=True),
    Slice(name="alter", has_interface=True),
    Slice(name="orders", has_interface=True),
    Slice(name="stock", has_interface=True),
    Slice(name="packs", has_interface=True),
    Slice(name="cards"),
    Slice(name="api"),
)
