"""An order of which the first place is in doubt."""

from saddlebench.engine.choose import OrderDoubt
from saddlebench.engine.fit.doubt_sources import SourceKind, WorthRepeating


def doubt_led_by(source: str, kind: SourceKind) -> OrderDoubt:
    """Return a doubt of Rowan before Sallow, of which one source holds most."""
    leading = WorthRepeating(
        source=source, kind=kind, share=0.6, low=-1.2, high=1.6, removes=0.3, settles=0.55
    )
    return OrderDoubt(
        first="a",
        first_label="Rowan",
        other="b",
        other_label="Sallow",
        lead=0.2,
        agreeing=0.58,
        sources=(leading,),
    )
