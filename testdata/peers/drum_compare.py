#!/usr/bin/python3
"""An independent boiler drum gauge: reads "P_MPa Tc_K hc_m" lines and writes
"float_m dp_Pa radar_m drum_m" for a chamber level hc, worked from first
principles with python3-iapws densities and permittivity, the float's volume by
numerical integration of its outline and its immersion by bisection.

The gauge is the one of drum() in compare/gauge/sheets_test.go with a second
transmitter by radar: keep the numbers below equal to it.
"""
import math
import sys

try:
    from iapws._iapws import _Dielectric
    from iapws.iapws97 import _Region1, _Region2, _TSat_P
except ImportError:
    sys.exit("python3-iapws is missing: apt-get install python3-iapws")

G = 9.80665
SPAN = 0.8
MASS, RADIUS, LENGTH, BUILT_FOR = 0.62, 0.030, 0.420, 830.0
LEG = 992.0
REFERENCE_POINT = 1.1
PANELS = 4000


def half_width(z):
    """Radius of the float at height z above its lowest point."""
    if z < RADIUS:
        return math.sqrt(max(0.0, RADIUS**2 - (RADIUS - z) ** 2))
    if z > LENGTH - RADIUS:
        return math.sqrt(max(0.0, RADIUS**2 - (z - (LENGTH - RADIUS)) ** 2))
    return RADIUS


def cumulated():
    """Volume below each of PANELS + 1 heights, by Simpson's rule."""
    step = LENGTH / PANELS
    volumes, total = [0.0], 0.0
    for i in range(PANELS):
        a, m, b = (math.pi * half_width((i + s) * step) ** 2 for s in (0, 0.5, 1))
        total += step * (a + 4 * m + b) / 6
        volumes.append(total)
    return volumes


VOLUMES = cumulated()


def volume_below(z):
    i = min(int(z / LENGTH * PANELS), PANELS - 1)
    low = i * LENGTH / PANELS
    return VOLUMES[i] + (z - low) * math.pi * half_width((z + low) / 2) ** 2


def immersion(liquid, gas):
    low, high = 0.0, LENGTH
    for _ in range(100):
        mid = (low + high) / 2
        v = volume_below(mid)
        if liquid * v + gas * (VOLUMES[-1] - v) < MASS:
            low = mid
        else:
            high = mid
    return (low + high) / 2


def answer(pressure, chamber, level):
    boiling = _TSat_P(pressure)
    liquid = 1 / _Region1(boiling, pressure)["v"]
    gas = 1 / _Region2(boiling, pressure)["v"]
    cold = 1 / _Region1(chamber, pressure)["v"]
    float_reading = level - immersion(cold, gas) + immersion(BUILT_FOR, 0)
    dp = G * (LEG * SPAN - cold * level - gas * (SPAN - level))  # high side on the leg
    eps = _Dielectric(gas, boiling)
    radar = REFERENCE_POINT - (REFERENCE_POINT - level) * math.sqrt(eps)
    drum = (cold * level + gas * (SPAN - level) - gas * SPAN) / (liquid - gas)
    return float_reading, dp, radar, drum


for line in sys.stdin:
    print(*("%.12g" % v for v in answer(*map(float, line.split()))))
