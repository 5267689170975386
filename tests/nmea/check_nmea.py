"""What a library of its own reads out of sentences, for tests/nmea.rs.

    python3 -m venv /tmp/nmea && /tmp/nmea/bin/pip install pynmea2==1.19.0
    /tmp/nmea/bin/python tests/nmea/check_nmea.py > tests/nmea/values.tsv

The bodies are composed here; pynmea2 writes their checksums and reads them back. Values are its own, in the units of the
sentences; the test turns them into SI. The test reads the table, so that it needs no Python.
"""

import importlib.metadata as metadata

import pynmea2


def number(field):
    def read(sentence):
        value = getattr(sentence, field)
        return "" if value in (None, "") else f"{float(value):.10g}"

    return read


def moment(sentence):
    return f"{sentence.datestamp.isoformat()}T{sentence.timestamp.replace(tzinfo=None).isoformat(timespec='milliseconds')}Z"


def zda(sentence):
    date = f"{sentence.year:04}-{sentence.month:02}-{sentence.day:02}"
    return f"{date}T{sentence.timestamp.replace(tzinfo=None).isoformat(timespec='milliseconds')}Z"


PLACE = {"latitude": number("latitude"), "longitude": number("longitude")}
READ = {
    "RMC": PLACE | {"knots_over_ground": number("spd_over_grnd"), "course": number("true_course"), "time": moment},
    "GGA": PLACE,
    "GLL": PLACE,
    "ZDA": {"time": zda},
    "VTG": {"course": number("true_track"), "knots_over_ground": number("spd_over_grnd_kts")},
    "VHW": {"heading": number("heading_true"), "knots_through_water": number("water_speed_knots")},
    "HDT": {"heading": number("heading")},
    "DPT": {"metres_from_transducer": number("depth"), "offset": number("offset")},
    "DBT": {"metres_from_transducer": number("depth_meters")},
    "DBS": {"metres_from_surface": number("depth_meter")},
    "MTW": {"celsius_of_water": number("temperature")},
    "MWV": {"wind_angle": number("wind_angle"), "wind_speed": number("wind_speed")},
    "MWD": {"wind_angle": number("direction_true"), "wind_speed": number("wind_speed_meters")},
    "VWR": {"wind_angle": number("deg_r"), "wind_speed": number("wind_speed_ms")},
    "VWT": {"wind_angle": number("wind_angle_vessel"), "wind_speed": number("wind_speed_meters")},
    "MDA": {
        "bars": number("b_pressure_bar"),
        "celsius_of_air": number("air_temp"),
        "celsius_of_water": number("water_temp"),
    },
}

# Metres a second everywhere, and angles to the right, so that one meaning fits all sentences of wind.
BODIES = """
GPRMC,142530.00,A,4812.0450,N,11624.3300,W,1.9,214.6,200624,,,A
GNRMC,235959.90,A,0000.0001,S,17959.9999,E,0.0,0.0,311299,1.5,E,D
INRMC,000000,A,8959.9999,S,00000.0001,W,12.34,359.9,290224,,,
GPRMC,120000.250,A,4600.0,N,11600.0,W,,,140526,,,A
GPGGA,142530.00,4812.0450,N,11624.3300,W,1,08,1.0,640,M,,M,,
GNGGA,000001,3851.1,S,17554.99,E,2,12,0.7,357.1,M,10.0,M,3,0001
GPGLL,4812.0450,N,11624.3300,W,142530.00,A,A
LCGLL,0012.5,N,00000.5,E,142530,A
GPZDA,142530.00,20,06,2024,00,00
GPZDA,000000.50,29,02,2028,-13,00
GPVTG,214.6,T,,M,1.9,N,3.5,K,A
GPVTG,0.0,T,344.0,M,0.04,N,0.1,K
VWVHW,,T,,M,2.1,N,3.9,K
VWVHW,47.5,T,33.0,M,2.65,N,4.9,K
HCHDT,47.0,T
SDDPT,14.3,0.4,100.0
SDDPT,103.75,0.25
SDDBT,46.9,f,14.3,M,7.8,F
SDDBS,49.0,f,14.9,M,8.1,F
YXMTW,16.8,C
INMTW,-0.4,C
WIMWV,047.0,R,4.3,M,A
WIMWV,359.9,T,12.0,M,A
WIMWD,270.0,T,255.0,M,10.0,N,5.1,M
IIVWR,47.0,R,8.4,N,4.3,M,15.6,K
IIVWT,170.0,R,9.7,N,5.0,M,18.0,K
WIMDA,30.0,I,1.016,B,18.5,C,12.5,C,,,,C,270.0,T,255.0,M,10.0,N,5.1,M
WIMDA,,I,0.9132,B,-3.5,C,,C,,,,C,,T,,M,,N,,M
""".split()

print(f"# pynmea2 {metadata.version('pynmea2')}; made by tests/nmea/check_nmea.py")
print("# sentence\twhat\tvalue, none where the field is empty")
for body in BODIES:
    line = f"${body}*{pynmea2.NMEASentence.checksum(body):02X}"
    sentence = pynmea2.parse(line, check=True)
    for what, read in READ[sentence.sentence_type].items():
        print("\t".join([line, what, read(sentence)]))
