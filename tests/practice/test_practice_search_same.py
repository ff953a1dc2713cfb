"""A search finds the same on the database file and on a server: accents, case, wild cards, several words.

The horses expected stand here and come from neither; `test_practice_postgresql` runs this file as well.
"""

import pytest
from practice_cast import Cast

from saddlebench.practice import queries, services

HORSES = ("Jüniper", "ÅSLAUG", "Straße", "Fifty%", "Under_score", "O'Malley", "İpek", "back\\slash")


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("jun", {"Jüniper"}),
        ("JÜN", {"Jüniper"}),
        ("aslaug", {"ÅSLAUG"}),
        ("strasse", {"Straße"}),
        ("STRASSE", {"Straße"}),
        ("%", {"Fifty%"}),
        ("fifty%", {"Fifty%"}),
        ("_", {"Under_score"}),
        ("o'mal", {"O'Malley"}),
        ("ipek", {"İpek"}),
        ("\\", {"back\\slash"}),
        ("wilma juni", {"Jüniper"}),
        ("juni wilma", {"Jüniper"}),
        ("wilma nobody", set()),
        ("\0jun", {"Jüniper"}),
        ("   ", set(HORSES)),
    ],
)
def test_a_search_finds_the_same_on_every_database(cast: Cast, asked: str, found: set[str]) -> None:
    client = services.take_on_client(cast.owner, {"label": "Wilma Fernlea"})
    for label in HORSES:
        owner = {"client": str(client.uuid)} if label == "Jüniper" else {}
        services.take_on_horse(cast.owner, {"label": label, **owner})
    listed = queries.find_horses(cast.owner, asked)
    assert {row.label for row in listed.rows} == found
