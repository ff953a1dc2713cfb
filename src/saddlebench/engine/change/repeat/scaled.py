"""An instrument whose stated errors are multiplied: what somebody's own repeats make of it."""

from dataclasses import replace

from saddlebench.engine.back.instruments import (
    ChainArm,
    Instrument,
    JointedChain,
    PinComb,
    Placing,
    Scan,
    TapeAndHand,
    TracedCurve,
)

MOST_DEG, MOST_MM, MOST_ALONG_MM = 45.0, 100.0, 200.0
"""What an instrument's description may state at most."""


def with_errors_times(instrument: Instrument, factor: float) -> Instrument:
    """Return the instrument with every error of reading, placing and pressing multiplied.

    Zeros and scale are the instrument's, not the hand's; rounding is the dial's. They stay.

    Parameters
    ----------
    instrument : Instrument
    factor : float, not below 0
    """
    placing = _placing(instrument.placing, factor)
    match instrument:
        case JointedChain(topline=topline):
            laid = None if topline is None else replace(topline, arm=_arm(topline.arm, factor))
            left, right = _arm(instrument.left, factor), _arm(instrument.right, factor)
            return replace(instrument, left=left, right=right, topline=laid, placing=placing)
        case PinComb():
            return replace(
                instrument,
                pin_sd_mm=min(instrument.pin_sd_mm * factor, MOST_MM),
                offset_sd_mm=min(instrument.offset_sd_mm * factor, MOST_MM),
                placing=placing,
            )
        case TracedCurve():
            return replace(
                instrument,
                spring_back_sd_mm=min(instrument.spring_back_sd_mm * factor, MOST_MM),
                point_sd_mm=min(instrument.point_sd_mm * factor, MOST_MM),
                placing=placing,
            )
        case Scan():
            return replace(
                instrument,
                point_sd_mm=min(instrument.point_sd_mm * factor, MOST_MM),
                registration_sd_mm=min(instrument.registration_sd_mm * factor, MOST_MM),
                registration_sd_deg=min(instrument.registration_sd_deg * factor, MOST_DEG),
                placing=placing,
            )
        case TapeAndHand():
            return replace(
                instrument,
                width_sd_mm=min(instrument.width_sd_mm * factor, MOST_MM),
                depth_sd_mm=min(instrument.depth_sd_mm * factor, MOST_MM),
                angle_sd_deg=min(instrument.angle_sd_deg * factor, MOST_DEG),
                placing=placing,
            )


def _arm(arm: ChainArm, factor: float) -> ChainArm:
    return replace(arm, joint_sd_deg=tuple(min(sd * factor, MOST_DEG) for sd in arm.joint_sd_deg))


def _placing(placing: Placing, factor: float) -> Placing:
    return Placing(
        along_mm=min(placing.along_mm * factor, MOST_ALONG_MM),
        midline_mm=min(placing.midline_mm * factor, MOST_MM),
        tilt_deg=min(placing.tilt_deg * factor, MOST_DEG),
        lean_deg=min(placing.lean_deg * factor, MOST_DEG),
        contact_mm=min(placing.contact_mm * factor, MOST_MM),
        height_mm=min(placing.height_mm * factor, MOST_MM),
    )
