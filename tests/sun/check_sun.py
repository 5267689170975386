"""Values of the sun from libraries of their own, for tests/sun.rs.

    python3 -m venv /tmp/sun && /tmp/sun/bin/pip install pvlib==0.16.1 astral==3.2
    /tmp/sun/bin/python tests/sun/check_sun.py > tests/sun/values.tsv

Heights are pvlib's (the NREL solar position algorithm, true, without refraction). Times are astral's (a shorter series);
tests/sun.rs allows for what is known of how astral differs. The test reads the table, so that it needs no Python.
"""

import datetime as dt
import importlib.metadata as metadata

import astral
import astral.sun
import pandas as pd
from pvlib import solarposition

# Name, latitude, longitude, zone: invented names for places all over the map.
PLACES = [
    ("ossel", 46.0, -116.0, "-07:00"),
    ("equator", 0.0, 30.0, "+02:00"),
    ("south", -44.5, 170.2, "+12:00"),
    ("far_north", 69.0, 27.6, "+02:00"),
    ("date_line_west", 52.0, -176.5, "-10:00"),
    ("date_line_east", -17.5, 178.5, "+12:00"),
    ("high_south", -54.8, -68.3, "-03:00"),
    ("pole", 89.5, 10.0, "+00:00"),
]
DAYS = ["2024-02-29", "2024-03-20", "2025-06-21", "2026-05-14", "2026-09-23", "2026-12-21"]
HOURS = [0, 5, 9, 12, 16, 20]


def zone(text):
    sign = -1 if text[0] == "-" else 1
    hours, minutes = text[1:].split(":")
    return dt.timezone(sign * dt.timedelta(hours=int(hours), minutes=int(minutes)))


def heights():
    for name, latitude, longitude, _ in PLACES:
        times = pd.DatetimeIndex([pd.Timestamp(f"{day}T{hour:02}:00:00Z") for day in DAYS for hour in HOURS])
        table = solarposition.spa_python(times, latitude, longitude, 0, delta_t=None)
        for at, height in zip(times, table["elevation"]):
            yield "height", name, latitude, longitude, "Z", at.strftime("%Y-%m-%dT%H:%M:%SZ"), f"{height:.5f}"


def event(function, **arguments):
    try:
        return function(**arguments).isoformat(timespec="seconds")
    except ValueError:
        return "none"


def times():
    for name, latitude, longitude, offset in PLACES:
        if name == "pole":
            continue
        here = astral.Observer(latitude, longitude, 0)
        for day in DAYS:
            date = dt.date.fromisoformat(day)
            kept = {"observer": here, "date": date, "tzinfo": zone(offset)}
            for what, function in [
                ("rise", astral.sun.sunrise),
                ("set", astral.sun.sunset),
                ("civil_dawn", astral.sun.dawn),
                ("civil_dusk", astral.sun.dusk),
            ]:
                yield what, name, latitude, longitude, offset, day, event(function, **kept)


versions = ", ".join(f"{name} {metadata.version(name)}" for name in ["pvlib", "astral", "pandas", "numpy"])
print(f"# {versions}; made by tests/sun/check_sun.py")
print("# what\tplace\tlatitude\tlongitude\tzone\twhen\tvalue")
for row in [*heights(), *times()]:
    print("\t".join(str(cell) for cell in row))
