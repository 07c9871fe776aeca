"""The commands. Each returns its exit code; what it needs is imported when it runs, so --help is quick."""

from __future__ import annotations

import argparse
import glob
import os
import re
import shutil
import signal
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager
from datetime import date
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

from app.asking import add_options
from app.asking.moments import moment

if TYPE_CHECKING:
    from analysis import Settings
    from analysis.spoken import Spoken

DONE, FAULT_FOUND, UNUSABLE = 0, 1, 2
INTERRUPTED, PIPE_CLOSED = 130, 141
_PATIENCE_S = 1.0
_LOG_HELP = "a log file or a folder of them, packed or not"


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    0 done, 1 a fault was found and --strict given, 2 wrong usage or an unreadable log, 130 interrupted.
    """
    arguments = _parser().parse_args(argv)
    for library in ("OPENBLAS", "OMP", "MKL"):  # small matrices: threads cost more than they save
        os.environ.setdefault(f"{library}_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        code = _run(arguments)
        sys.stdout.flush()
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        _silence_stdout()
        return PIPE_CLOSED
    except OSError as error:
        print(f"sternlog: {error.filename or 'the output'}: {error.strerror or error}.", file=sys.stderr)
        _silence_stdout()
        return UNUSABLE
    return code


def _silence_stdout() -> None:
    """Keep the interpreter from failing once more, at exit, on what stdout still holds."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _run(arguments: argparse.Namespace) -> int:
    from analysis.errors import SternlogError

    try:
        code: int = arguments.command(arguments)
    except SternlogError as error:
        print(f"sternlog: {error}", file=sys.stderr)
        return UNUSABLE
    return code


def _review(arguments: argparse.Namespace) -> int:
    from app.addresses import address
    from app.cache import Cache, cache_folder
    from app.folder import Folder
    from app.lan import Lan
    from app.opening import Opener
    from app.server import new_desk, serve

    signal.signal(signal.SIGTERM, signal.default_int_handler)
    cache = None if arguments.no_cache else Cache(cache_folder())
    desk = new_desk(cache)
    with closing(Opener(desk, _settings(arguments), Folder(arguments.folder), cache)) as opener:
        path = "/"
        if arguments.logs:
            with _progress("Reading the log"):
                path = address(opener.open_now(_logs(arguments)).key)
        lan = Lan(arguments.lan) if arguments.lan else None
        serve(desk, opener, arguments.port, not arguments.no_browser, path, lan)
    return DONE


def _check(arguments: argparse.Namespace) -> int:
    from analysis import review
    from analysis.writing import check_target, replacing
    from app.check import check_json
    from app.check_text import WIDEST, check_text

    logs, target = _logs(arguments), arguments.json
    if target not in (None, "-"):
        _refuse_to_replace_a_log(logs, check_target(Path(target)))
    with _progress("Reading the log"):
        result = review(logs, _settings(arguments))
    if target == "-":
        sys.stdout.buffer.write(check_json(result) + b"\n")
    else:
        print(check_text(result, shutil.get_terminal_size((WIDEST, 24)).columns))
        if target is not None:
            with replacing(Path(target)) as stream:
                stream.write(check_json(result) + b"\n")
    faulty = any(finding.severity == "fault" for finding in result.findings)
    return FAULT_FOUND if arguments.strict and faulty else DONE


def _export(arguments: argparse.Namespace) -> int:
    from analysis import read_log, review
    from analysis.errors import SettingError
    from analysis.reading.spoken import spoken_parts
    from analysis.writing import (
        READINGS_WRITERS,
        WRITERS,
        check_target,
        suffix_among,
        write_frame,
        write_nmea,
        write_readings,
    )

    logs, target = _logs(arguments), arguments.to
    if arguments.as_polar:
        return _export_polar(arguments)
    suffix = suffix_among(target, READINGS_WRITERS if arguments.readings else WRITERS)
    if arguments.keep_original and suffix != ".nmea":
        raise SettingError(f"--keep-original is for a name that ends in .nmea; {target} ends in {suffix}.")
    _refuse_to_replace_a_log(logs, check_target(target))
    with _progress("Reading the log"):
        if arguments.readings:
            write_readings(read_log(logs, date=arguments.date), target)
        else:
            result = review(logs, _settings(arguments))
            if arguments.keep_original:
                write_nmea(result.frame, result.passage, target, spoken_parts(logs, arguments.date))
            else:
                write_frame(result.frame, result.passage, target)
    return DONE


def _export_polar(arguments: argparse.Namespace) -> int:
    from analysis import review
    from analysis.errors import SettingError
    from analysis.writing import check_target, suffix_among
    from analysis.writing.polar_table import write_polar

    logs, target = _logs(arguments), arguments.to
    suffix_among(target, [".csv"])
    _refuse_to_replace_a_log(logs, check_target(target))
    with _progress("Reading the log"):
        polar = review(logs, _settings(arguments)).case.polar
    if polar.sailed is None:
        raise SettingError(f"--as-polar: the passage shows no polar: {polar.why}.")
    write_polar(polar.sailed.smooth.table, target)
    return DONE


def _resend(arguments: argparse.Namespace) -> int:
    from analysis.spoken import Pacing
    from app.resend import CAUTION, Sending, TcpSender, send_udp

    with _progress("Reading the log"):
        spoken = _spoken(arguments).between(arguments.start, arguments.end)
    sending = Sending(spoken, Pacing(spoken.time_s, arguments.pace, arguments.loop))
    if arguments.host is not None:
        print(f"sternlog: {CAUTION}", file=sys.stderr)
    if spoken.untimed:
        print(f"Left out: {spoken.untimed} sentences of which the time is not known.")
    print(f"{len(spoken)} sentences. Press Ctrl-C to end.")
    with _ctrl_c_awaited() as stopped:
        if arguments.udp is not None:
            send_udp(sending, arguments.udp, arguments.host, _say, stopped)
        else:
            TcpSender(sending, arguments.tcp, arguments.host).run(_say, stopped)
        if stopped():
            _say("Ended.")
    return DONE


@contextmanager
def _ctrl_c_awaited() -> Iterator[Callable[[], bool]]:
    """Let the block ask whether Ctrl-C was pressed, instead of being broken off wherever it is."""
    pressed = threading.Event()
    usual = signal.getsignal(signal.SIGINT)
    heeded = usual is signal.default_int_handler and threading.current_thread() is threading.main_thread()
    if heeded:
        signal.signal(signal.SIGINT, lambda *_: pressed.set())
    try:
        yield pressed.is_set
    finally:
        if heeded:
            signal.signal(signal.SIGINT, usual)


def _spoken(arguments: argparse.Namespace) -> Spoken:
    """Collect what is to be sent: the log's own sentences, with corrected ones in the place of some if asked."""
    from analysis import review
    from analysis.reading.spoken import spoken_parts
    from analysis.writing import corrected_parts, replaced_by_computed, spooled

    logs = _logs(arguments)
    if not arguments.corrected:
        return spooled(spoken_parts(logs, arguments.date))
    result = review(logs, _settings(arguments))
    others = spoken_parts(logs, arguments.date, without=replaced_by_computed(result.frame))
    return spooled(chain(others, corrected_parts(result.frame, result.passage)))


def _say(text: str) -> None:
    print(text, flush=True)


def _report(arguments: argparse.Namespace) -> int:
    from analysis import review
    from analysis.writing import check_target, suffix_among
    from app.dress import Dress
    from app.own_files import assets
    from app.report import SUFFIXES, write_report
    from app.server import new_desk

    logs, target = _logs(arguments), arguments.to
    suffix_among(target, SUFFIXES)
    _refuse_to_replace_a_log(logs, check_target(target))
    with _progress("Reading the log"):
        opened = new_desk().open(review(logs, _settings(arguments)))
        write_report(opened, Dress(), target, arguments.paper, assets(), arguments.sheet)
    return DONE


def _invent(arguments: argparse.Namespace) -> int:
    from analysis.errors import SettingError
    from analysis.invent import SCENARIOS, invent
    from analysis.writing import check_target
    from analysis.writing.invention import write_invention

    if arguments.list:
        width = max(map(len, SCENARIOS))
        for name, scenario in SCENARIOS.items():
            print(f"{name:<{width}}  {scenario.summary}")
        return DONE
    if arguments.to is None:
        raise SettingError("A scenario needs a file to be written to; name it with --to FILE.")
    check_target(arguments.to)
    with _progress("Inventing the passage"):
        write_invention(invent(arguments.scenario, arguments.seed, arguments.hours), arguments.to)
    return DONE


def _logs(arguments: argparse.Namespace) -> list[Path]:
    """Return the logs given; Windows leaves it to the program to expand patterns."""
    given: list[str] = arguments.logs
    return [Path(name) for name in (_expanded(given) if os.name == "nt" else given)]


def _expanded(names: Sequence[str]) -> list[str]:
    found = [sorted(glob.glob(name)) if glob.has_magic(name) else [] for name in names]  # noqa: PTH207
    return [path for name, matches in zip(names, found, strict=True) for path in matches or [name]]


def _settings(arguments: argparse.Namespace) -> Settings:
    from analysis import Settings
    from analysis.reading.pressure import pressure_reference
    from app.asking import asked

    return Settings(
        date=arguments.date,
        corrections=dict(arguments.set),
        as_shown=getattr(arguments, "as_shown", False),
        pressure=pressure_reference(arguments.pressure) if arguments.pressure else None,
        barometer_height_m=arguments.barometer_height,
        marks=tuple(arguments.marks) if arguments.marks else None,
        company=arguments.company,
        asked=asked(arguments),
    )


def _refuse_to_replace_a_log(logs: Sequence[Path], target: Path) -> None:
    from analysis.errors import WriteError

    sources = [log.resolve() for log in logs]
    if target.exists() and any(target.is_relative_to(source) for source in sources):
        message = f"{target} is among the logs given and would be lost; choose a new name or another folder."
        raise WriteError(message)


@contextmanager
def _progress(what: str) -> Iterator[None]:
    """Show a spinner on the terminal when the block takes longer than a second."""
    if not sys.stderr.isatty():
        yield
        return
    with ExitStack() as shown:

        def show() -> None:
            from rich.console import Console

            shown.enter_context(Console(stderr=True).status(f"{what} …"))

        timer = threading.Timer(_PATIENCE_S, show)
        timer.start()
        try:
            yield
        finally:
            timer.cancel()
            timer.join()


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a date; write it as YYYY-MM-DD") from None


def _correction(text: str) -> tuple[str, float]:
    name, _, value = text.partition("=")
    try:
        return name.strip(), float(value)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r} sets nothing; write NAME=VALUE, as log_factor=1.05"
        ) from None


def _position(text: str) -> tuple[float, float]:
    found = re.fullmatch(r"(-?)([\d.]+)([NS]?),(-?)([\d.]+)([EW]?)", text.replace(" ", ""), re.IGNORECASE)
    try:
        if found is None:
            raise ValueError
        lat, lon = float(found[2]), float(found[5])
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r} is not a position; write it as 50.1N,1.25W in degrees"
        ) from None
    if lat > 90 or lon > 180:
        raise argparse.ArgumentTypeError(f"{text!r} lies off the globe")
    south, west = found[1] == "-" or found[3].upper() == "S", found[4] == "-" or found[6].upper() == "W"
    return (-lat if south else lat), (-lon if west else lon)


def _whole(text: str) -> int:
    if not text.isdecimal():
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 0 up")
    return int(text)


def _port(text: str) -> int:
    if not text.isdecimal() or not 0 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"{text!r} is not a port; give a number from 0 to 65535")
    return int(text)


def _endpoint(text: str) -> tuple[str, int]:
    host, _, port = text.rpartition(":")
    return host.strip("[]") or "127.0.0.1", _port(port)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="sternlog",
        description="Reads a boat's NMEA 0183 log and tells which instruments told the truth.",
        epilog="Not for navigation. Exit codes: 0 done, 1 a fault was found and --strict was given, "
        "2 wrong usage or an unreadable log.",
    )
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    given = argparse.ArgumentParser(add_help=False)
    given.add_argument(
        "--date", type=_day, metavar="YYYY-MM-DD", help="day the log begins, where it gives no date itself"
    )

    given.add_argument(
        "--set",
        type=_correction,
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="a correction known better than from the log, such as log_factor=1.05 (may be repeated)",
    )

    given.add_argument(
        "--pressure",
        metavar="HPA|FILE",
        help="sea-level pressure to hold the barometer against, or a .csv file with time and pressure",
    )
    given.add_argument(
        "--barometer-height",
        type=float,
        default=0.0,
        metavar="M",
        help="height of the barometer above the sea, where it is not set to sea level (default: 0)",
    )

    given.add_argument(
        "--marks",
        type=_position,
        nargs=2,
        metavar="LAT,LON",
        help="two positions a measured distance was run between, such as 50.1N,1.25W 50.1N,1.20W",
    )
    given.add_argument(
        "--company", type=Path, metavar="LOG", help="the log of a vessel in company that is known to be right"
    )
    add_options(given)

    reading = argparse.ArgumentParser(add_help=False, parents=[given])
    reading.add_argument("logs", metavar="LOG", nargs="+", help=_LOG_HELP)

    review = commands.add_parser("review", parents=[given], help="open the passage in the browser")
    review.add_argument(
        "logs", metavar="LOG", nargs="*", help=f"{_LOG_HELP}; without one, a page to choose it"
    )
    review.add_argument(
        "--folder",
        type=Path,
        default=Path(),
        metavar="DIR",
        help="the folder whose logs the page offers (default: this one)",
    )
    review.add_argument(
        "--port", type=_port, default=0, metavar="N", help="port on this machine (default: a free one)"
    )
    review.add_argument("--no-browser", action="store_true", help="only print the address")
    review.add_argument(
        "--no-cache", action="store_true", help="neither keep nor use what was worked out before"
    )
    review.add_argument(
        "--lan",
        nargs="?",
        const="0.0.0.0",
        metavar="ADDRESS",
        help="let other devices on the network in, each by a one-time address (default: all of this machine's)",
    )
    review.set_defaults(command=_review)

    check = commands.add_parser("check", parents=[reading], help="tell on the terminal what the log shows")
    check.add_argument("--json", metavar="FILE|-", help="write it as JSON too; - writes nothing but JSON")
    check.add_argument("--strict", action="store_true", help="exit with 1 when a fault is found")
    check.set_defaults(command=_check)

    export = commands.add_parser("export", parents=[reading], help="write the passage to a file")
    export.add_argument(
        "--to",
        type=Path,
        required=True,
        metavar="FILE",
        help="name ending in .csv, .parquet, .gpx, .geojson, .nc or .nmea",
    )
    export.add_argument(
        "--as-shown", action="store_true", help="as the instruments showed it, no correction applied"
    )
    export.add_argument(
        "--readings", action="store_true", help="every reading as it came, one row each (.csv or .parquet)"
    )
    export.add_argument(
        "--keep-original", action="store_true", help="the log's own sentences too, each at its time (.nmea)"
    )
    export.add_argument(
        "--as-polar", action="store_true", help="the boat's polar as a table of speeds in its place (.csv)"
    )
    export.set_defaults(command=_export)

    resend = commands.add_parser(
        "resend", parents=[reading], help="send the log's sentences again, in time with the log"
    )
    way = resend.add_mutually_exclusive_group(required=True)
    way.add_argument(
        "--tcp", type=_port, metavar="PORT", help="send to all who connect to this port; 0 takes a free one"
    )
    way.add_argument("--udp", type=_endpoint, metavar="HOST:PORT", help="send a datagram for each sentence")
    resend.add_argument(
        "--host",
        metavar="ADDRESS",
        help="address of this machine by which others may be reached (default: this machine alone)",
    )
    resend.add_argument(
        "--pace",
        type=float,
        default=1.0,
        metavar="X",
        help="times as fast; 0 is as fast as it goes (default: 1)",
    )
    resend.add_argument("--loop", action="store_true", help="begin anew at the end, until Ctrl-C")
    resend.add_argument("--start", type=moment, metavar="UTC", help="leave out what was said before")
    resend.add_argument("--end", type=moment, metavar="UTC", help="leave out what was said after")
    resend.add_argument(
        "--corrected",
        action="store_true",
        help="corrected heading, wind, speed and current in the place of the log's own",
    )
    resend.set_defaults(command=_resend)

    report = commands.add_parser("report", parents=[reading], help="write the report to keep or to print")
    report.add_argument("--to", type=Path, required=True, metavar="FILE", help="name ending in .html or .pdf")
    report.add_argument(
        "--paper", choices=("a4", "letter"), default="a4", help="paper of the PDF (default: a4)"
    )
    report.add_argument(
        "--sheet",
        action="store_true",
        help="the readiness sheet alone: every instrument on one page, to sign",
    )
    report.set_defaults(command=_report)

    invent = commands.add_parser("invent", help="write a demo log with known errors, and its truth")
    what = invent.add_mutually_exclusive_group(required=True)
    what.add_argument("--scenario", metavar="NAME", help="which passage; --list names them")
    what.add_argument("--list", action="store_true", help="list the scenarios and stop")
    invent.add_argument("--to", type=Path, metavar="FILE", help="the log; NAME.truth.json goes beside it")
    invent.add_argument(
        "--seed", type=_whole, metavar="N", default=1, help="another seed, another sea (default: 1)"
    )
    invent.add_argument("--hours", type=float, metavar="H", help="length (default: the scenario's own)")
    invent.set_defaults(command=_invent)
    return parser


if __name__ == "__main__":
    raise SystemExit(main())
