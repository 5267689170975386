"""A client in another language than the service's, made from the same protobuf files.

    python advise.py ADDRESS

lists, checks, formats, advises, follows a trip, compares, and provokes refusals, the largest among them, against a service on the
folder that tests/service_python.rs makes. It exits with 1 where anything is not as it should be.
"""

import pathlib
import sys
import tempfile

import grpc
from google.rpc import error_details_pb2
from grpc_health.v1 import health_pb2, health_pb2_grpc
from grpc_reflection.v1alpha.proto_reflection_descriptor_database import ProtoReflectionDescriptorDatabase
from grpc_status import rpc_status
from grpc_tools import protoc

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROTO = ROOT / "proto"


def generate():
    """Makes the client's modules from the protobuf files."""
    out = tempfile.mkdtemp(prefix="leadsman_client_")
    files = sorted(str(path) for path in (PROTO / "leadsman" / "v1").glob("*.proto"))
    arguments = ["protoc", f"-I{PROTO}", f"--python_out={out}", f"--grpc_python_out={out}", *files]
    if protoc.main(arguments) != 0:
        sys.exit("protoc did not take the protobuf files")
    sys.path.insert(0, out)


generate()

from leadsman.v1 import finding_pb2, leadsman_service_pb2 as api, leadsman_service_pb2_grpc as rpc  # noqa: E402
from leadsman.v1 import advice_pb2, comparison_pb2, quantity_pb2, reading_pb2, strategy_pb2, water_pb2  # noqa: E402

WRONG = []


def expect(what, holds, found=None):
    """Notes what does not hold."""
    print(("ok      " if holds else "WRONG   ") + what)
    if not holds:
        WRONG.append(what)
        print(f"        found: {found!r}")


def refusal(call, *arguments):
    """The error that a call ends with."""
    try:
        call(*arguments)
    except grpc.RpcError as error:
        return error
    return None


def details(error):
    """The details of an error, by the names of their types."""
    status = rpc_status.from_call(error)
    return {any_.type_url.rsplit(".", 1)[-1]: any_ for any_ in status.details} if status else {}


def violations(error):
    """The fields that a refusal names."""
    packed = details(error).get("BadRequest")
    bad = error_details_pb2.BadRequest()
    if packed is None or not packed.Unpack(bad):
        return []
    return [violation.field for violation in bad.field_violations]


def trailer_bytes(error):
    """How large the trailers of an error are, as they travel."""
    return sum(len(key) + len(value) * 4 // 3 for key, value in error.trailing_metadata())


def text(name, value):
    return reading_pb2.Reading(name=name, text=value)


def quantity(name, value, unit):
    return reading_pb2.Reading(name=name, quantity=quantity_pb2.Quantity(value=value, unit=unit))


WATER = water_pb2.Water(name="Ossel Water", zone="-07:00", bait_allowed=False, releasing=True)


def ask(*readings):
    return api.AdviseRequest(strategy_name="evening", at="2026-05-14T12:10", water=WATER, readings=readings)


def printed(advice, aspect):
    return next((found.printed for found in advice.tactic if found.name == aspect), None)


def strategies(stub):
    listed = stub.ListStrategies(api.ListStrategiesRequest())
    names = [strategy.name for strategy in listed.strategies]
    expect("strategies are listed by name", names == ["evening", "ossel/plain"], names)
    got = stub.GetStrategy(api.GetStrategyRequest(name="evening")).strategy
    expect("a strategy comes with its text", got.files[0].text.startswith('strategy "Evening"'), got.files)
    error = refusal(stub.GetStrategy, api.GetStrategyRequest(name="evning"))
    expect("an unknown name is not found", error.code() == grpc.StatusCode.NOT_FOUND, error)
    expect("and the nearest is offered", "did you mean `evening`?" in error.details(), error.details())
    catalogue = stub.DescribeCatalogue(api.DescribeCatalogueRequest())
    expect("the catalogue has readings", any(entry.name == "surface" for entry in catalogue.readings))


def sources(stub):
    source = strategy_pb2.InlineSource(text='strategy "x"\nrule "y" run depth 3 gallons\n')
    checked = stub.CheckSource(api.CheckSourceRequest(source=source))
    places = [(finding.line, finding.column, finding.severity) for finding in checked.findings]
    expect("a broken source is an answer", not checked.checks, checked)
    expect("with places as data", places == [(2, 22, finding_pb2.SEVERITY_ERROR)], places)
    included = strategy_pb2.InlineSource(text='strategy "x"\ninclude "common/care.strategy"\nrule "y" run depth 3 m\n')
    expect("includes come from the folder", stub.CheckSource(api.CheckSourceRequest(source=included)).checks)
    spaced = strategy_pb2.InlineSource(text='strategy   "x"   rule "y"   run depth 3  m')
    formatted = stub.FormatSource(api.FormatSourceRequest(source=spaced))
    expect("a source is formatted", formatted.HasField("text") and 'rule "y" run depth 3 m' in formatted.text, formatted)


def advice(stub):
    called = stub.Advise(ask(quantity("surface", 54, "°F"), text("marks", "yes"))).advice
    expect("a moment is advised on", printed(called, "depth") == "10 to 30 ft", called.tactic)
    depth = called.tactic[0].value.range
    expect("with units", (depth.to, depth.unit) == (30, "ft"), depth)
    expect("and reasons", called.tactic[0].by.because == "Cool enough to chase.", called.tactic[0].by)
    request = ask(quantity("surface", 54, "°F"), text("marks", "yes"))
    request.view = advice_pb2.ADVICE_VIEW_CALL
    call = stub.Advise(request).advice
    expect("the call view calls the same", call.tactic[0].value == called.tactic[0].value, call.tactic)
    expect("without the explanation", not call.readings and not call.undecided, call)
    warned = [caution.text for caution in call.standing_cautions]
    expect("and with every caution", warned == [caution.text for caution in called.standing_cautions], warned)
    many = api.AdviseManyRequest(requests=[ask(quantity("surface", degrees, "°F")) for degrees in (54, 64)])
    depths = [printed(answer.advice, "depth") for answer in stub.AdviseMany(many).responses]
    expect("many moments are advised on in order", depths == ["10 to 30 ft", "30 to 50 ft"], depths)


def refusals(stub):
    wrong = {
        "readings[1].value": ask(text("marks", "yes"), quantity("surface", float("nan"), "°F")),
        "readings[0].value": ask(quantity("surface", 54, "furlong")),
        "readings[0].name": ask(text("surfce", "54 °F")),
        "at": api.AdviseRequest(strategy_name="evening", at="2026-05-14T12:10"),
    }
    for field, request in wrong.items():
        error = refusal(stub.Advise, request)
        expect(f"{field} is refused by name", error is not None and violations(error) == [field], error)
        expect("as an invalid argument", error.code() == grpc.StatusCode.INVALID_ARGUMENT, error.code())


def large_refusals(stub):
    rules = "".join(f'rule "r{number}" run depth {number} furlongs\n' for number in range(10_000))
    source = strategy_pb2.InlineSource(text='strategy "x"\n' + rules)
    checked = stub.CheckSource(api.CheckSourceRequest(source=source))
    expect("ten thousand errors are counted", checked.finding_count == 10_000, checked.finding_count)

    error = refusal(stub.Advise, api.AdviseRequest(source=source, at="2026-05-14T12:10-07:00"))
    expect("for advice they are an invalid argument", error.code() == grpc.StatusCode.INVALID_ARGUMENT, error)
    expect("that arrives whole", "10000 errors" in error.details(), error.details())
    findings = finding_pb2.SourceFindings()
    expect("with the first of them", details(error)["SourceFindings"].Unpack(findings) and findings.findings[0].line == 2)
    expect("and their count", findings.count == 10_000, findings.count)
    size = trailer_bytes(error)
    expect(f"in trailers of {size} bytes", size < 6 * 1024, size)

    error = refusal(stub.Advise, ask(*[text("surface", "é" * 200)] * 1000))
    expect("a thousand wrong fields arrive too", "1000 fields are wrong" in error.details(), error)
    size = trailer_bytes(error)
    expect(f"in trailers of {size} bytes", size < 6 * 1024, size)

    error = refusal(stub.GetStrategy, api.GetStrategyRequest(name="é" * 500_000))
    expect("a name of a megabyte is not found", error.code() == grpc.StatusCode.NOT_FOUND, error)
    large = api.CheckSourceRequest(source=strategy_pb2.InlineSource(text="x" * 3_000_000))
    error = refusal(stub.CheckSource, large)
    expect("a message past the bound is refused", error.code() == grpc.StatusCode.RESOURCE_EXHAUSTED, error)


def trip(stub):
    opening = api.TripOpening(strategy_name="evening", water=WATER)

    def moment(clock, *readings, strikes=0):
        happened = api.TripMoment(time=f"2026-05-14T{clock}", readings=readings, strikes=strikes)
        return api.AdviseTripRequest(moment=happened)

    first = moment("11:30", quantity("surface", 54, "°F"), text("marks", "yes"), text("lines_in", "yes"))
    messages = [
        api.AdviseTripRequest(opening=opening),
        first,
        moment("11:40"),
        moment("11:55", text("marks", "yes")),
        moment("12:00"),
        moment("12:03", strikes=2),
    ]
    answers = [(answer.sequence, answer.moment, answer.advice.ladders[0].rung) for answer in stub.AdviseTrip(iter(messages))]
    expect("a trip is advised when the call changes", answers == [(1, 1, "large"), (2, 4, "small"), (3, 5, "large")], answers)
    error = refusal(lambda: list(stub.AdviseTrip(iter([messages[0], moment("11:30"), moment("11:29")]))))
    expect("a trip does not run backwards", violations(error) == ["moment.time"], error)


def moment(stub):
    lake = water_pb2.Lake(mean_depth=quantity("x", 88, "ft").quantity)
    lake.fetch.add(from_degrees=0, length=quantity("x", 2.6, "mi").quantity)
    water = water_pb2.Water()
    water.CopyFrom(WATER)
    water.lake.CopyFrom(lake)
    water.position.CopyFrom(reading_pb2.Position(latitude=46, longitude=-116))
    given = [quantity("wind", 12, "mph"), text("wind_from", "N")]
    request = api.DescribeMomentRequest(at="2026-08-02T11:00", water=water, readings=given, names=["waves", "sun_height"])
    waves, sun = stub.DescribeMoment(request).readings
    expect("waves by the wind are an estimate", waves.origin == advice_pb2.ORIGIN_ESTIMATED, waves)
    expect("that says what it came from", "wind" in getattr(waves, "from"), waves)
    expect("the sun's height is worked out", sun.origin == advice_pb2.ORIGIN_DERIVED, sun)


DAY = """zone: "-07:00"
events:
- {at: "2026-05-14T06:00", lines: in}
- {at: "2026-05-14T06:00", readings: {surface: 66 °F}}
- {at: "2026-05-14T06:00", rod: port, depth: 40 ft, speed: 1.8 mph}
- {at: "2026-05-14T06:30", strike: port}
- {at: "2026-05-14T08:00", lines: out}
"""


def comparison(stub):
    source = strategy_pb2.InlineSource(text='strategy "High"\nrule "only" run depth 5 to 20 ft\n')
    opening = comparison_pb2.ComparisonOpening(a={"strategy_name": "evening"}, b={"source": source}, water=WATER)
    day = DAY.encode()
    # A piece may end in the middle of a character.
    cut = day.index("°".encode()) + 1
    messages = [
        api.CompareStrategiesRequest(opening=opening),
        api.CompareStrategiesRequest(piece={"name": "day.yaml", "content": day[:cut]}),
        api.CompareStrategiesRequest(piece={"content": day[cut:], "last": True}),
        api.CompareStrategiesRequest(whole={"name": "spoiled.yaml", "text": "events: none"}),
    ]
    *progress, last = stub.CompareStrategies(iter(messages))
    done = [(one.progress.log, one.progress.days, one.progress.HasField("skipped")) for one in progress]
    expect("each log is told", done == [("day.yaml", 1, False), ("spoiled.yaml", 1, True)], done)
    found = last.comparison
    expect("a spoiled log is named", [skipped.log for skipped in found.skipped] == ["spoiled.yaml"], found.skipped)
    cells = {cell.within: cell for cell in found.fish[0].cells}
    only_a = cells[comparison_pb2.WITHIN_ONLY_A]
    expect("the rod ran within the first's call", (only_a.rod_hours, only_a.strikes.count) == (2, 1), cells)
    expect("with an interval", only_a.strikes.low < 0.5 < only_a.strikes.high, only_a)
    expect("the depth differs all day", found.differences.whole.differ_hours == 2, found.differences.whole)
    expect("which proves little, in words", any("can't" in words for words in found.proof), found.proof)
    error = refusal(lambda: list(stub.CompareStrategies(iter(messages[1:]))))
    expect("a comparison is opened first", violations(error) == ["opening"], error)


def around(channel):
    health = health_pb2_grpc.HealthStub(channel).Check(health_pb2.HealthCheckRequest(service="leadsman.v1.LeadsmanService"))
    expect("health is served", health.status == health_pb2.HealthCheckResponse.SERVING, health)
    names = ProtoReflectionDescriptorDatabase(channel).get_services()
    expect("reflection is served", "leadsman.v1.LeadsmanService" in names, names)


def main():
    with grpc.insecure_channel(sys.argv[1]) as channel:
        stub = rpc.LeadsmanServiceStub(channel)
        around(channel)
        strategies(stub)
        sources(stub)
        advice(stub)
        refusals(stub)
        large_refusals(stub)
        trip(stub)
        moment(stub)
        comparison(stub)
    if WRONG:
        sys.exit(f"{len(WRONG)} of the above are wrong")


if __name__ == "__main__":
    main()
