#!/usr/bin/python3
"""Answers with Debian's python3-iapws, an implementation of IF97 and R8-97
that is not ours.

Reads lines "kind a b" from standard input and writes one number per line:

  tp T/K p/MPa    density of the stable phase, kg/m3
  l  p/MPa        density of the boiling liquid
  g  p/MPa        density of dry saturated steam
  ps T/K          saturation pressure, MPa
  ts p/MPa        saturation temperature, K
  e  rho T        relative permittivity

A state the peer refuses is answered with "nan".
"""
import sys

try:
    from iapws import IAPWS97
    from iapws.iapws97 import _PSat_T, _TSat_P
    from iapws._iapws import _Dielectric
except ImportError:
    sys.exit("python3-iapws is missing: apt-get install python3-iapws")

ANSWERS = {
    "tp": lambda t, p: IAPWS97(T=t, P=p).rho,
    "l": lambda p, _: IAPWS97(P=p, x=0).rho,
    "g": lambda p, _: IAPWS97(P=p, x=1).rho,
    "ps": lambda t, _: _PSat_T(t),
    "ts": lambda p, _: _TSat_P(p),
    "e": lambda rho, t: _Dielectric(rho, t),
}

for line in sys.stdin:
    kind, a, b = line.split()
    try:
        print(repr(float(ANSWERS[kind](float(a), float(b)))))
    except Exception:  # the peer has no answer; the caller counts these
        print("nan")
