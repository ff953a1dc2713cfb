"""Fields of horses and saddles."""

from saddlebench.practice.catalogue.field import Field, Kind, by_name
from saddlebench.practice.enums import BreedType, Family, Work

_LONG = 10_000

HORSE_FIELDS = by_name(
    (
        Field(name="label", words="Name", required=True),
        Field(name="registered_name", words="Registered name"),
        Field(name="microchip", words="Microchip number", kind=Kind.MICROCHIP),
        Field(name="ueln", words="Life number (UELN)", kind=Kind.UELN),
        Field(name="born_in", words="Year of birth", kind=Kind.WHOLE, low=1960, high=2100),
        Field(
            name="breed_type", words="Type", kind=Kind.CHOICE, choices=tuple(kind.value for kind in BreedType)
        ),
        Field(name="breed", words="Breed"),
        Field(name="colour", words="Colour and marks"),
        Field(name="height_cm", words="Height", kind=Kind.HEIGHT, unit="cm", low=50, high=220),
        Field(name="work", words="Work", kind=Kind.CHOICE, choices=tuple(work.value for work in Work)),
        Field(name="discipline", words="Discipline"),
        Field(name="rider", words="Usual rider", kind=Kind.TEXT),
        Field(name="rider_mass_kg", words="Rider, dressed", kind=Kind.NUMBER, unit="kg", low=10, high=250),
        Field(name="rider_height_cm", words="Rider's height", kind=Kind.NUMBER, unit="cm", low=80, high=230),
        Field(name="note", words="Note", kind=Kind.LONG_TEXT, max_length=_LONG),
    )
)

SADDLE_FIELDS = by_name(
    (
        Field(name="label", words="Name it is called by", required=True),
        Field(
            name="family", words="Family", kind=Kind.CHOICE, choices=tuple(family.value for family in Family)
        ),
        Field(name="maker", words="Maker"),
        Field(name="serial", words="Serial number"),
        Field(name="seat_size_in", words="Seat size", kind=Kind.NUMBER, unit="in", low=8, high=24),
        Field(name="colour", words="Colour"),
        Field(name="made_in", words="Year made", kind=Kind.WHOLE, low=1850, high=2100),
        Field(name="where_kept", words="Where it is (rack, van)"),
        Field(name="note", words="Note", kind=Kind.LONG_TEXT, max_length=_LONG),
    )
)
