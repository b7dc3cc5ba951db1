#!/usr/bin/python3
"""Writes water.tsv: what water does, by an implementation of the IAPWS
standards that shares nothing with package model (Debian package
python3-iapws). Run it here: ./water.py >water.tsv"""

from iapws import IAPWS95
from iapws._iapws import _Henry

print("# IAPWS-95 saturation pressure and density at 1 atm; IAPWS G7-04 Henry constants. By water.py")
print("t_c\tvapour_bar\tdensity_g_per_l\thenry_co2_bar\thenry_n2_bar\thenry_o2_bar")
for t in (2, 5, 10, 15, 20, 25, 30, 35, 40, 50, 60):
    k = t + 273.15
    row = [IAPWS95(T=k, x=0).P * 10, IAPWS95(T=k, P=0.101325).rho]
    row += [_Henry(k, gas) * 10 for gas in ("CO2", "N2", "O2")]
    print(t, *(f"{x:.7g}" for x in row), sep="\t")
