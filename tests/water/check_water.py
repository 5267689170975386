"""Values of the derivations by libraries of their own, for tests/water.rs.

    python -m venv venv && venv/bin/pip install gsw==3.6.23 seawater==3.3.5 pylake==0.1.13
    venv/bin/python tests/water/check_water.py > tests/water/values.tsv

Density of fresh water by gsw (TEOS-10) and seawater (EOS-80), the thermocline of made and measured profiles by pylake.
"""

import math
import pathlib
from importlib.metadata import version

import gsw
import numpy
import pylake
import seawater

HERE = pathlib.Path(__file__).parent
print("# " + ", ".join(f"{name} {version(name)}" for name in ("gsw", "seawater", "pylake")))
print("# density: temperature C, kg/m3 by TEOS-10, kg/m3 by EOS-80")
for tenth in range(0, 401, 10):
    t = tenth / 10
    print(f"density\t{t}\t{gsw.rho_t_exact(0, t, 0):.4f}\t{seawater.dens0(0, t):.4f}")
print("# thermocline: m by pylake, then depth m, temperature C, pairwise; equal steps of depth, as pylake wants them")
profiles = []
for path in sorted(HERE.glob("mendota-*.tsv")):
    rows = [line.split("\t") for line in path.read_text().splitlines() if not line.startswith("#")]
    profiles.append([(float(row[0]), float(row[1])) for row in rows])
for top in (4, 7, 11):
    for width in (2.0, 4.0):
        column = [(float(z), 6 + 16 / (1 + math.exp((z - top) / width * 2))) for z in range(0, 25)]
        profiles.append([(z, round(t, 3)) for z, t in column])
for profile in profiles:
    depths, temperatures = (numpy.array(column) for column in zip(*profile))
    thermocline = float(pylake.thermocline(temperatures, depth=depths)[0])
    pairs = "\t".join(f"{z}\t{t}" for z, t in profile)
    print(f"thermocline\t{thermocline:.4f}\t{pairs}")
