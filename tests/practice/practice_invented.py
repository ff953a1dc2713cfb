"""An invented yard in a few calls."""

from dataclasses import dataclass
from datetime import date

from saddlebench.practice import services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Holding, Purpose
from saddlebench.practice.models import Client, Horse, Saddle, Visit, Yard
from saddlebench.practice.rules import Actor

BACK = Document(
    text='{"format": "saddlebench back record", "version": 1, "readings": [1.5, 2.25], "label": "Juniper"}'
)
SADDLE = Document(text='{"format": "saddlebench saddle record", "version": 1, "channel_mm": 68}')
STUDY = Document(text='{"format": "saddlebench fit check", "version": 1, "findings": []}')
CHIP = "985000123456789"
UELN = "25000100155928M"


@dataclass(frozen=True)
class Invented:
    client: Client
    yard: Yard
    horse: Horse
    saddle: Saddle
    stock: Saddle
    visit: Visit


def invented_yard(
    actor: Actor, *, name: str = "Wilma Fernlea", horse: str = "Juniper", chip: str = CHIP
) -> Invented:
    client = services.take_on_client(
        actor,
        {"label": name, "email": "wilma@fernlea.example", "phone": "+44 1632 960123", "town": "Dunmoor"},
    )
    yard = services.take_on_yard(actor, {"label": "Hollow Ash Livery", "postcode": "ZZ9 9ZZ"})
    taken = services.take_on_horse(
        actor,
        {
            "label": horse,
            "microchip": chip,
            "born_in": 2014,
            "breed_type": "cob",
            "height_cm": "15.2 hh",
            "client": str(client.uuid),
            "yard": str(yard.uuid),
        },
    )
    saddle = services.take_on_saddle(
        actor,
        {
            "label": "Brown jumping",
            "serial": "QX-7781",
            "family": "panelled",
            "seat_size_in": 17.5,
            "client": str(client.uuid),
        },
    )
    services.use_saddle_on(actor, saddle.uuid, [taken.uuid])
    stock = services.take_on_saddle(
        actor, {"label": "Black general", "family": "panelled"}, holding=Holding.STOCK
    )
    visit = services.start_visit(actor, on=date(2026, 3, 1), purpose=Purpose.FIRST, horse=taken.uuid)
    return Invented(client=client, yard=yard, horse=taken, saddle=saddle, stock=stock, visit=visit)
