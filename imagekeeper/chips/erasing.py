"""Erasing windowed chips with short-wave ultraviolet light: how long, and how soon it harms whoever is in its way.

What a chip needs is in its table, `erase_dose_ws_cm2`. The makers' own figures disagree: a lamp of 12 mW/cm2 gives
15 W s/cm2 in 1250 s, not in the 15 to 20 minutes that stand beside that dose.

Sources: STMicroelectronics, M27C1001, page 9, and Advanced Micro Devices, Am27C010, page 5 (15 W s/cm2 at 253.7 nm, a
lamp of 12 mW/cm2 at 2.5 cm); how light falls with distance is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

#: The dose that data sheets name for most chips. [W s/cm2]
USUAL_DOSE = 15.0

#: What skin and eyes may take of 254 nm in eight hours. [W s/cm2]
#: Source: ACGIH, threshold limit values, 2021: 6 mJ/cm2.
EXPOSURE_LIMIT = 0.006

#: The most that the intensity of any lamp is believed to be: a slip of units lies above. [mW/cm2]
MOST_INTENSITY = 1000.0

CAUTION = (
    "Light of 254 nm burns eyes and skin within a second, and it is felt only hours later: run the lamp only in a "
    "closed box with a switch at the lid, never look into it, and keep others away."
)


@dataclass(frozen=True)
class Exposure:
    """How long a chip lies under a lamp.

    Attributes:
        shortest_s: If the light falls with the distance, as near a long tube. [s]
        longest_s: If it falls with its square, as far from a small lamp: this is safe to erase with. [s]
        harm_s: After how long the unprotected eye or skin at the chip's place has had all that a day allows. [s]
        caution: What to do about it.
    """

    shortest_s: float
    longest_s: float
    harm_s: float
    caution: str


def dose(intensity_mw_cm2: float, seconds: float) -> float:
    """Multiply intensity by time. [W s/cm2]

    Args:
        intensity_mw_cm2: At the chip. [mW/cm2]
        seconds: [s]

    Raises:
        ValueError: When one of them is negative, or no number.

    Example:
        >>> dose(12, 1250), dose(12, 900)
        (15.0, 10.8)
    """
    if not (intensity_mw_cm2 >= 0 and seconds >= 0):
        raise ValueError("intensity and time cannot be negative")
    return intensity_mw_cm2 * seconds / 1000


def exposure(
    intensity_mw_cm2: float, *, measured_cm: float = 2.5, distance_cm: float = 2.5, dose_ws_cm2: float = USUAL_DOSE
) -> Exposure:
    """Work out how long a chip must lie under a lamp.

    Nearer than where the lamp was measured, no shorter time is promised.

    Args:
        intensity_mw_cm2: Of the lamp, at the place where it was measured. [mW/cm2]
        measured_cm: How far from the lamp that was. [cm]
        distance_cm: How far from the lamp the chip lies. [cm]
        dose_ws_cm2: What the chip needs. [W s/cm2]

    Raises:
        ValueError: When a figure is not above 0, or absurdly large.

    Example:
        >>> exposure(12).longest_s, exposure(12).harm_s
        (1250.0, 0.5)
        >>> exposure(12, distance_cm=5).shortest_s, exposure(12, distance_cm=5).longest_s
        (2500.0, 5000.0)
    """
    if not 0 < intensity_mw_cm2 <= MOST_INTENSITY:
        raise ValueError(f"a lamp gives more than 0 and at most {MOST_INTENSITY:g} mW/cm2")
    if not all(0 < one <= 1000 for one in (measured_cm, distance_cm, dose_ws_cm2)):
        raise ValueError("distances and dose are above 0 and at most 1000")
    there = dose_ws_cm2 / intensity_mw_cm2 * 1000
    farther = max(1.0, distance_cm / measured_cm)
    # what harms is judged by the brightest that it can be at the chip
    nearer = min(1.0, distance_cm / measured_cm)
    brightest = intensity_mw_cm2 / (nearer**2 if nearer < 1 else farther)
    return Exposure(there * farther, there * farther**2, EXPOSURE_LIMIT / brightest * 1000, CAUTION)
