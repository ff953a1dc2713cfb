"""The units of a scan, in words."""

from saddlebench.engine.units import Length

UNIT_WORDS = {
    Length.MM: "millimetres",
    Length.CM: "centimetres",
    Length.M: "metres",
    Length.INCH: "inches",
}
