"""Fields of people and places."""

from saddlebench.practice.catalogue.field import Field, Kind, by_name

CLIENT_FIELDS = by_name(
    (
        Field(name="label", words="Name", required=True),
        Field(name="organisation", words="Yard or business"),
        Field(name="email", words="E-mail", kind=Kind.EMAIL),
        Field(name="phone", words="Telephone", max_length=40),
        Field(name="phone_2", words="Second telephone", max_length=40),
        Field(name="street", words="Street"),
        Field(name="town", words="Town"),
        Field(name="postcode", words="Postcode", max_length=20),
        Field(name="country", words="Country", max_length=60),
        Field(name="guardian", words="Guardian, for a child"),
        Field(name="terms_agreed_on", words="Terms agreed on", kind=Kind.DATE),
        Field(name="note", words="Note", kind=Kind.LONG_TEXT, max_length=10_000),
    )
)

YARD_FIELDS = by_name(
    (
        Field(name="label", words="Name of the yard", required=True),
        Field(name="street", words="Street"),
        Field(name="town", words="Town"),
        Field(name="postcode", words="Postcode", max_length=20),
        Field(name="country", words="Country", max_length=60),
        Field(name="ground", words="Level ground, and where"),
        Field(name="note", words="Directions and note", kind=Kind.LONG_TEXT, max_length=10_000),
    )
)
