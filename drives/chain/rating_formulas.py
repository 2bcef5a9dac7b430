"""The rating equations of one strand: power at which plates, rollers or joints reach their limit.

`teeth` and `speed_rpm` are those of the small sprocket, on a chain of 100 pitches and for 15,000 hours. The numbers are
taken as checked: `rate` and `lubrication` do that.

Source: Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5.
"""

import math

KW_PER_HP = 0.745699871582
"""1 hp = 550 ft.lbf/s, with the international foot and pound."""

N_PER_LBF = 4.4482216152605


def plate_fatigue_kw(teeth: float, *, speed_rpm: float, pitch_in: float, plate_constant: float) -> float:
    """Eq. 17-32: H1 = 0.004 N**1.08 n**0.9 p**(3 - 0.07 p) hp, with 0.0022 for the light No. 41."""
    power = math.exp((3 - 0.07 * pitch_in) * math.log(pitch_in))
    return float(plate_constant * teeth**1.08 * speed_rpm**0.9 * power * KW_PER_HP)


def roller_bushing_kw(teeth: float, *, speed_rpm: float, pitch_in: float, roller_constant: float) -> float:
    """Eq. 17-33: H2 = 1000 Kr (N/n)**1.5 p**0.8 hp, with Kr 17 for No. 40 to 240, 29 for 25 and 35, 3.4 for 41."""
    return float(1000 * roller_constant * (teeth / speed_rpm) ** 1.5 * pitch_in**0.8 * KW_PER_HP)


def galling_speed_rpm(teeth: float, *, pitch_in: float, tension_n: float) -> float:
    """n = 1000 [82.5 / (7.95**p 1.0278**N 1.323**(F/1000))]**(1 / (1.59 log10 p + 1.873)), F in lbf."""
    pull = tension_n / N_PER_LBF / 1000 * math.log(1.323)
    return 1000 * math.exp((_galling_margin(teeth, pitch_in) - pull) / _galling_exponent(pitch_in))


def galling_tension_n(teeth: float, *, pitch_in: float, speed_rpm: float) -> float:
    """The equation of `galling_speed_rpm` solved for the pull; 0 where the speed alone is beyond the limit."""
    speed = math.log(speed_rpm / 1000) * _galling_exponent(pitch_in)
    kips = (_galling_margin(teeth, pitch_in) - speed) / math.log(1.323)
    return max(0.0, kips * 1000 * N_PER_LBF)


def _galling_margin(teeth: float, pitch_in: float) -> float:
    return math.log(82.5) - pitch_in * math.log(7.95) - teeth * math.log(1.0278)


def _galling_exponent(pitch_in: float) -> float:
    return 1.59 * math.log10(pitch_in) + 1.873
