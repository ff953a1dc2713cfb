"""The units of a scan, in words."""

from django.utils.translation import gettext_lazy as _

from saddlebench.engine.units import Length

UNIT_WORDS = {
    Length.MM: _("millimetres"),
    Length.CM: _("centimetres"),
    Length.M: _("metres"),
    Length.INCH: _("inches"),
}
