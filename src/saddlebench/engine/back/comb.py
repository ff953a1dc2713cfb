"""A pin comb's section: pin tips in the station's plane."""

from collections.abc import Iterator

import numpy as np

from saddlebench.engine.back.instruments import PinComb
from saddlebench.engine.back.readings import Reading, StationReadings
from saddlebench.engine.back.sections import ElementaryError, LocalSection, side_of
from saddlebench.engine.frames import FloatArray


def pins_of(comb: PinComb, station: StationReadings) -> dict[int, float]:
    """Return the readings that are there by pin, counted from 1 at the left."""
    return {pin: reading for pin, reading in _numbered(comb, station) if reading is not None}


def left_pins(comb: PinComb) -> tuple[int, ...]:
    """Return the pins left of the midline, outward."""
    return tuple(pin for pin in range(comb.n_pins, 0, -1) if pin < comb.midline_pin - 1e-9)


def right_pins(comb: PinComb) -> tuple[int, ...]:
    """Return the pins right of the midline, outward."""
    return tuple(pin for pin in range(1, comb.n_pins + 1) if pin > comb.midline_pin + 1e-9)


def middle_pin(comb: PinComb) -> int | None:
    """Return the pin over the midline, where there is one."""
    pin = round(comb.midline_pin)
    return pin if abs(pin - comb.midline_pin) < 1e-9 else None


def _numbered(comb: PinComb, station: StationReadings) -> Iterator[tuple[int, Reading]]:
    yield from zip(left_pins(comb), station.left, strict=False)
    yield from zip(right_pins(comb), station.right, strict=False)
    middle = middle_pin(comb)
    if middle is not None:
        yield middle, station.middle


def reference_weights(comb: PinComb) -> dict[int, float]:
    """Return what each pin counts for the depth at the midline: nothing when the comb stands on a foot.

    Between two pins it is the cubic through the four nearest at its middle, (−1, 9, 9, −1)/16, so that a
    rounded crown is not cut off; the plain mean where the comb ends too soon.
    """
    if comb.offset_mm is not None:
        return {}
    middle = middle_pin(comb)
    if middle is not None:
        return {middle: 1.0}
    first = int(np.floor(comb.midline_pin))
    if first < 2 or first + 2 > comb.n_pins:
        return {first: 0.5, first + 1: 0.5}
    return {first - 1: -1 / 16, first: 9 / 16, first + 1: 9 / 16, first + 2: -1 / 16}


def comb_section(comb: PinComb, station: StationReadings) -> LocalSection:
    """Return the section that a comb's readings describe; a pin that was not read gives no point.

    A pin that gives the comb its height gives no point of its own, unless it stands beside the midline.

    Notes
    -----
    `z_i = offset − d_i`; without an offset, `z_i = d(midline) − d_i`, so that an error of the midline's pin
    moves all the others. If that pin was not read, the section is empty (quality says so).
    """
    depths = {pin: reading * comb.scale.per_division for pin, reading in pins_of(comb, station).items()}
    reference = reference_weights(comb)
    if any(pin not in depths for pin in reference):
        depths = {}
    pins = [pin for pin in sorted(depths) if pin not in reference or len(reference) > 1]
    bar = comb.offset_mm or sum(weight * depths[pin] for pin, weight in reference.items() if depths)
    across = np.array([comb.across_mm(pin) for pin in pins], dtype=float)
    up = np.array([bar - depths[pin] for pin in pins], dtype=float)
    errors = list(_pin_errors(comb, station, pins, reference if depths else {}))
    if comb.offset_mm is not None:
        errors.append(_up(f"{station.words}, the comb's foot", comb.offset_sd_mm, np.ones(len(pins))))
    return LocalSection(
        points=np.stack([across, up], axis=1),
        side=side_of(across),
        errors=tuple(errors),
        noise_mm=np.full(len(pins), comb.placing.contact_mm),
    )


def _pin_errors(
    comb: PinComb, station: StationReadings, pins: list[int], reference: dict[int, float]
) -> Iterator[ElementaryError]:
    sd = float(np.hypot(comb.pin_sd_mm, comb.scale.rounding_sd))
    for pin in sorted({*pins, *reference}):
        own = np.array([-1.0 if other == pin else 0.0 for other in pins])
        shared = reference.get(pin, 0.0)
        yield _up(f"{station.words}, pin {pin}", sd, own + shared)
        yield _up(f"zero of pin {pin}", comb.zero_sd_mm, own + shared)


def _up(source: str, sd: float, moves_up: FloatArray) -> ElementaryError:
    return ElementaryError(source=source, sd=sd, moves=np.stack([np.zeros_like(moves_up), moves_up], axis=1))
