r"""The ways recorders wrap sentences: stamps, ports, encodings, compression, tears.

Every shape is one that sternlog's readers have met in recordings or in public descriptions of archive formats; the
moments are read off the stamps by hand. The sentences inside are three of one wind sensor and a compass.
"""

import codecs
import gzip
import io
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import zstandard
from written import fact_ids, read_text, said, seconds, sentence, times

from analysis.errors import LogError
from analysis.passage import Passage
from analysis.phrasing import with_checksums

WIND = [sentence("WIMWV,343.0,R,2.8,M,A"), sentence("HCHDG,229.8,,,1.3,E"), sentence("WIMWV,344.0,R,2.9,M,A")]
SAID = {
    "WIMWV awa_deg": [-17.0, -16.0],
    "WIMWV aws_kn": [pytest.approx(2.8 * 3600 / 1852), pytest.approx(2.9 * 3600 / 1852)],
    "HCHDG heading_mag_deg": [229.8],
    "HCHDG variation_deg": [1.3],
}


def moments(passage: Passage) -> list[float]:
    """The time of each of the three sentences."""
    return sorted(times(passage, "awa_deg") + times(passage, "heading_mag_deg"))


def devices(passage: Passage) -> set[str]:
    return {key.instance for key in passage.series}


# One line: what stands around sentence {s} number {k} (0, 1, 2); the moment of number 0, seconds between; the device.
WRAPPERS: list[tuple[str, str, float, str]] = [
    ("128869150{k}.0,gps,{s}", "2010-11-02T09:51:40", 1, "gps"),
    ("14161751642{k}5,{s}", "2014-11-16T21:59:24.205", 0.01, ""),
    ("2017-05-26T11:45:0{k} -->> {s}", "2017-05-26T11:45:00", 1, ""),
    ("2021-11-01T13:26:28.39{k} IN 20 Net: '{s}'", "2021-11-01T13:26:28.390", 0.001, "IN Net"),
    ("2016/01/01 00:00:0{k}.455,iWIND,{s}", "2016-01-01T00:00:00.455", 1, "iWIND"),
    ("03/15/2010,14:08:4{k}.876,{s}", "2010-03-15T14:08:40.876", 1, ""),
    ("NAV 2013/11/20 05:00:0{k}.561 GPS {s}", "2013-11-20T05:00:00.561", 1, "NAV GPS"),
    ("cnav\t2010:258:01:05:3{k}.0656\t{s}", "2010-09-15T01:05:30.0656", 1, "cnav"),
    ("INNAV\t2018-05-23T23:58:2{k}.114Z\tSEAPATH330\t{s}", "2018-05-23T23:58:20.114", 1, "INNAV SEAPATH330"),
    ('DATA, 2011-04-11T01:59:5{k}.047Z, "{s}"', "2011-04-11T01:59:50.047", 1, "DATA"),
    ("130248719{k}.047 {s}", "2011-04-11T01:59:50.047", 1, ""),
    ("2017 168 00 30 2{k} 990 {s}", "2017-06-17T00:30:20.990", 1, ""),
    ("{s},r003669987,115292169{k}", "2006-07-15T00:01:30", 1, ""),
    ("{s},x259906,s28320,d-098,T33.71033565,r003669973,115292169{k}", "2006-07-15T00:01:30", 1, ""),
    ("NMEA,{s},156781473{k}009", "2019-09-07T00:05:30.009", 1, "NMEA"),
    ("NMEA,{s}\n,156781473{k}009", "2019-09-07T00:05:30.009", 1, "NMEA"),
    (r"\c:156521879{k}*53\{s}", "2019-08-07T22:59:50", 1, ""),
    (r"\c:142003079{k}*00\{s}", "2014-12-31T12:59:50", 1, ""),
    (r"\s:rEV02,c:133433731{k}*58\{s}", "2012-04-13T17:15:10", 1, "rEV02"),
    (r"\g:1-2-73874,n:15703{k},s:r003669945,c:124154403{k}*A\{s}", "2009-05-05T17:20:30", 1, "r003669945"),
    (r"\c:1334337310{k}00*00\{s}", "2012-04-13T17:15:10", 0.1, ""),
    ('{{"unixtime": 137595138{k}465, "nmea": "{s}"}}', "2013-08-08T08:43:00.465", 1, ""),
    ('{{"nmea":"{s}","unixtime":137595138{k}465,"x":1}}', "2013-08-08T08:43:00.465", 1, ""),
    ('{{"device":"wind","time":"2020-01-01T00:00:0{k}Z","nmea":"{s}\\r\\n"}}', "2020-01-01T00:00:00", 1, "wind"),
    ("2016-01-01 00:00:0{k};PORT1;{s}", "2016-01-01T00:00:00", 1, "PORT1"),
    ("2016-01-01T00:00:0{k}+02:00 {s}", "2015-12-31T22:00:00", 1, ""),
    ("2016-01-01T00:00:0{k}-0330 {s}", "2016-01-01T03:30:00", 1, ""),
    ("[2016-01-01 00:00:0{k}.123] COM3: {s}", "2016-01-01T00:00:00.123", 1, "COM3"),
]  # fmt: skip


@pytest.mark.parametrize(("shape", "first", "step_s", "device"), WRAPPERS, ids=[row[0] for row in WRAPPERS])
@pytest.mark.parametrize("end", ["\r\n", "\n"])
def test_a_wrapped_sentence_is_read_with_its_stamp(
    shape: str, first: str, step_s: float, device: str, end: str, tmp_path: Path
) -> None:
    lines = [shape.format(k=k, s=s) for k, s in enumerate(WIND)]
    passage = read_text(tmp_path, "".join(line.replace("\n", end) + end for line in lines))
    assert said(passage) == SAID
    assert passage.counts.rejected == passage.counts.ignored == {}
    assert passage.counts.accepted == passage.counts.sentences == 3
    assert moments(passage) == pytest.approx([seconds(first) + k * step_s for k in range(3)], abs=1e-3)
    assert devices(passage) == {device}


def test_a_stamp_in_its_own_sentence_holds_until_the_next(tmp_path: Path) -> None:
    stamps = [sentence(f"PGHP,1,2010,6,11,11,46,1{k},390,231,45,992190934,1,2B") for k in range(4)]
    passage = read_text(tmp_path, "\n".join(f"{stamp}\n{s}" for stamp, s in zip(stamps, WIND, strict=False)))
    assert said(passage) == SAID
    assert passage.counts.accepted == 6
    after = np.array(moments(passage)) - seconds("2010-06-11T11:46:10.390")
    assert ((after >= np.arange(3)) & (after < np.arange(3) + 1)).all()


def test_a_header_and_comments_are_no_sentences(tmp_path: Path) -> None:
    header = "# Name: log, 10\u00b2 m\r\ntimestamp,message\r\nfoobar\r\n\r\n# end\r\n"
    passage = read_text(tmp_path, header + "".join(f"141617516429{k},{s}\n" for k, s in enumerate(WIND)))
    assert said(passage) == SAID
    assert passage.counts.sentences == 3
    assert passage.counts.lines == 8
    assert {tuple(one.line) for key, one in passage.series.items() if key.channel == "awa_deg"} == {(6, 8)}


@pytest.mark.parametrize(
    ("shape", "of_day_s"),
    [
        ("May 17 14:43:5{k} b2qt user.info gps[1763]: {s}", 14 * 3600 + 43 * 60 + 50),
        ("12:00:0{k}:.245 {s}", 12 * 3600 + 0.245),
        ("00:00:0{k}.123 {s}", 0.123),
    ],
)
def test_a_stamp_without_a_year_tells_the_time_of_day(shape: str, of_day_s: float, tmp_path: Path) -> None:
    passage = read_text(tmp_path, "\n".join(shape.format(k=k, s=s) for k, s in enumerate(WIND)))
    assert said(passage) == SAID
    assert np.mod(moments(passage), 86400) == pytest.approx([of_day_s, of_day_s + 1, of_day_s + 2], abs=1e-3)
    assert "no-date" in fact_ids(passage)


def test_seconds_since_the_previous_sentence_add_up(tmp_path: Path) -> None:
    passage = read_text(
        tmp_path, "\n".join(f"{step}:{s}" for step, s in zip((0.5, 0.25, 1.125), WIND, strict=True))
    )
    assert said(passage) == SAID
    assert np.diff(moments(passage)) == pytest.approx([0.25, 1.125])


def test_gnss_time_places_what_steps_relate(tmp_path: Path) -> None:
    rmc = sentence("GPRMC,120000.00,A,5000.0,N,00100.0,W,5.0,090.0,010620,,,A")
    rows = zip((0.5, 0.25, 0.25, 1.125), [WIND[0], rmc, *WIND[1:]], strict=True)
    passage = read_text(tmp_path, "\n".join(f"{step:.6f}:{s}" for step, s in rows))
    noon = seconds("2020-06-01T12:00:00")
    assert moments(passage) == pytest.approx([noon - 0.25, noon + 0.25, noon + 1.375], abs=1e-3)


def test_day_of_year_lines_beside_bare_sentences_are_no_sentences(tmp_path: Path) -> None:
    lines = [f"2017 168 00 30 28 99{k} bar1   1016.07 mbar\n{s}" for k, s in enumerate(WIND)]
    passage = read_text(tmp_path, "\n".join(lines))
    assert said(passage) == SAID
    assert passage.counts.sentences == 3


def test_blank_padded_numbers_without_checksum(tmp_path: Path) -> None:
    """As an icebreaker's archive writes them."""
    lines = [f"05/17/2002,00:01:{19 + k}.572,$WIMWV, {k},R, 0.{k},N,A" for k in range(3)]
    passage = read_text(tmp_path, "\r\n".join(lines))
    assert said(passage) == {"WIMWV awa_deg": [0, 1, 2], "WIMWV aws_kn": [0, 0.1, 0.2]}
    assert times(passage, "awa_deg") == pytest.approx(
        [seconds("2002-05-17T00:01:19.572") + k for k in range(3)]
    )


def test_an_input_number_in_its_own_sentence_names_the_input(tmp_path: Path) -> None:
    ports = [sentence(f"PSMDCN,{port}") for port in (2, 4, 2)]
    passage = read_text(tmp_path, "\r\n".join(x for pair in zip(ports, WIND, strict=True) for x in pair))
    assert said(passage) == SAID
    instances = {key.formatter: key.instance for key in passage.series}
    assert instances == {"MWV": "input 2", "HDG": "input 4"}


def test_can_frames_between_sentences_are_ignored_and_named(tmp_path: Path) -> None:
    frames = ["PCDIN,01F200,00193351,38,00000024047FFFFF", "MXPGN,01F200,2838,00000024047FFFFF"]
    lines = [sentence(frames[0]), *WIND, sentence(frames[1])]
    passage = read_text(tmp_path, "\r\n".join(lines))
    assert said(passage) == SAID
    assert passage.counts.unknown_formatters == {"PCDIN": 1, "MXPGN": 1}
    assert passage.counts.ignored == {"unknown": 2}


def test_sentences_on_one_line_share_its_stamp(tmp_path: Path) -> None:
    passage = read_text(tmp_path, f"2020-01-01T00:00:00Z {WIND[0]}{WIND[1]}\n2020-01-01T00:00:01Z {WIND[2]}")
    assert said(passage) == SAID
    start = seconds("2020-01-01T00:00:00")
    got = moments(passage)
    assert got[::2] == pytest.approx([start, start + 1], abs=1e-3)
    assert start - 1e-3 <= got[1] < start + 1


# ----------------------------------------------------------------------------------------------- torn sentences

AIS = sentence("AIVDM,1,1,,B,1:0Dqg0000RPFs<Bj4`sJ8Cd0@PN,0", "!")


@pytest.mark.parametrize("at", [7, 12, 20, 30, 40])
@pytest.mark.parametrize(
    ("before", "joint"),
    [
        ("1417516429{k},", "1417516429343,"),
        ("1417516429{k},", "\n1417516429343,"),
        ("1417516429{k},", "\r\n1417516429343,"),
        ('1417516429{k},"', '"\n1417516429343,"'),
        ("2014-12-02T10:33:49.{k}Z ", "\n2014-12-02T10:33:49.343Z "),
        ("", "\n"),
        ("", "\r\n"),
    ],
)
def test_a_sentence_torn_by_a_packet_is_put_together(
    at: int, before: str, joint: str, tmp_path: Path
) -> None:
    close = '"' if before.endswith('"') else ""
    rows = [WIND[0] + close, AIS[:at] + joint + AIS[at:] + close, *(s + close for s in WIND[1:])]
    passage = read_text(tmp_path, "\n".join(before.format(k=342 + k) + row for k, row in enumerate(rows)))
    assert said(passage) == SAID
    assert passage.ais["payload"].tolist() == ["1:0Dqg0000RPFs<Bj4`sJ8Cd0@PN"]
    assert passage.counts.accepted == 4
    assert {fact.id: fact.numbers for fact in passage.facts}["mended"] == {"sentences": 1}


def test_halves_that_do_not_belong_together_stay_apart(tmp_path: Path) -> None:
    passage = read_text(tmp_path, f"{WIND[0]}\n$WIMWV,34\n4.5,R,2.9,M,A*00\n{WIND[1]}\n{WIND[2]}\n")
    assert said(passage) == SAID
    assert "mended" not in fact_ids(passage)
    assert passage.counts.accepted == 3
    assert sum(passage.counts.rejected.values()) == 1


# --------------------------------------------------------------------------------- line ends, encodings, rubbish

BARE = "\r\n".join(WIND) + "\r\n"


def mixed(text: str) -> bytes:
    ends = iter(["\n", "\r\r\n", "\r\n"])
    return "".join(line + next(ends) for line in text.splitlines()).encode()


@pytest.mark.parametrize(
    ("write", "lines"),
    [
        (lambda text: text.replace("\r\n", "\n").encode(), 3),
        (lambda text: text.replace("\r\n", "\r").encode(), 3),
        (lambda text: text.replace("\r\n", "\r\r\n").encode(), 3),
        (lambda text: text.strip().encode(), 3),
        (mixed, 3),
        (lambda text: codecs.BOM_UTF8 + text.encode(), 3),
        (lambda text: codecs.BOM_UTF16_LE + text.encode("utf-16-le"), 3),
        (lambda text: codecs.BOM_UTF16_LE + text.replace("\r\n", "\n").encode("utf-16-le"), 3),
        (lambda text: codecs.BOM_UTF16_BE + text.encode("utf-16-be"), 3),
        (lambda text: b"\0" * 248 + text.encode(), 3),
        (lambda text: text.replace("\r\n", "\r\n" + "\0" * 12, 2).encode(), 3),
        (lambda text: b"\xff\xfe\xfd\r\n\x80\x81" + text.encode("utf-8"), 4),
        (lambda text: text.replace("\r\n", "\r\n\xb0\xb2\r\n").encode(), 6),
    ],
)
def test_bytes_around_sentences_do_no_harm(write: Callable[[str], bytes], lines: int, tmp_path: Path) -> None:
    passage = read_text(tmp_path, write(BARE))
    assert said(passage) == SAID
    assert passage.counts.accepted == passage.counts.sentences == 3
    assert passage.counts.lines == lines


@pytest.mark.parametrize("at", [8, 10, 15])
def test_nuls_within_a_sentence_spoil_it_alone(at: int, tmp_path: Path) -> None:
    spoilt = WIND[1][:at] + "\0" * 12 + WIND[1][at:]
    passage = read_text(tmp_path, "\r\n".join([WIND[0], spoilt, WIND[2]]))
    assert set(said(passage)) == {"WIMWV awa_deg", "WIMWV aws_kn"}
    assert passage.counts.accepted == 2
    assert sum(passage.counts.rejected.values()) == 1


# ------------------------------------------------------------------------------------------------- compression

LONG = "".join(
    f"{line}\r\n" for line in with_checksums([f"HCHDM,{k % 360}.0,M" for k in range(20_000)])
).encode()


def zipped(**members: bytes) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name.replace("_", ".") if name[0] != "_" else f".{name}", content)
    return packed.getvalue()


def zstd(content: bytes) -> bytes:
    return zstandard.ZstdCompressor().compress(content)


@pytest.mark.parametrize(
    "packed",
    [
        gzip.compress(BARE.encode()),
        gzip.compress(WIND[0].encode() + b"\n") + gzip.compress("\n".join(WIND[1:]).encode()),
        gzip.compress(gzip.compress(BARE.encode())),
        gzip.compress(codecs.BOM_UTF16_LE + BARE.encode("utf-16-le")),
        zstd(BARE.encode()),
        zstd(WIND[0].encode() + b"\n") + zstd("\n".join(WIND[1:]).encode()),
        zipped(a_log=BARE.encode()),
        zipped(a_gz=gzip.compress(BARE.encode())),
        zipped(a_log=BARE.encode(), __hidden=BARE.encode()),
    ],
    ids=["gz", "gz+gz", "gz(gz)", "gz utf16", "zst", "zst+zst", "zip", "zip(gz)", "zip with a hidden file"],
)
@pytest.mark.parametrize("name", ["a.log", "a.bin"])
def test_compression_is_found_by_its_first_bytes(packed: bytes, name: str, tmp_path: Path) -> None:
    passage = read_text(tmp_path, packed, name)
    assert said(passage) == SAID
    assert passage.counts.accepted == 3
    assert "broken-off" not in fact_ids(passage)


def test_a_zip_with_two_members_is_two_logs(tmp_path: Path) -> None:
    passage = read_text(
        tmp_path, zipped(b_log=WIND[1].encode(), a_log=f"{WIND[0]}\n{WIND[2]}".encode()), "all.zip"
    )
    assert passage.files == ("all.zip/a.log", "all.zip/b.log")
    assert said(passage) == SAID
    heading = next(one for key, one in passage.series.items() if key.channel == "heading_mag_deg")
    assert (heading.file.tolist(), heading.line.tolist()) == ([1], [1])


@pytest.mark.parametrize("pack", [gzip.compress, zstd])
@pytest.mark.parametrize("part", [0.3, 0.9])
def test_a_compressed_log_that_breaks_off_keeps_what_came_before(
    pack: Callable[[bytes], bytes], part: float, tmp_path: Path
) -> None:
    rng = np.random.default_rng(1)  # what does not repeat does not fit one compressed block
    text = "\r\n".join(with_checksums([f"HCHDM,{x:.2f},M" for x in rng.uniform(0, 359, 30_000)])).encode()
    packed = pack(text)
    passage = read_text(tmp_path, packed[: int(part * len(packed))])
    assert "broken-off" in fact_ids(passage)
    values = next(iter(said(passage).values()))
    assert part - 0.2 < len(values) / 30_000 < part + 0.1
    assert values == next(iter(said(read_text(tmp_path, text)).values()))[: len(values)]


@pytest.mark.parametrize("pack", [gzip.compress, zstd])
@pytest.mark.parametrize("size", [4, 9, 12])
def test_a_compressed_log_that_breaks_off_at_once_is_no_log(
    pack: Callable[[bytes], bytes], size: int, tmp_path: Path
) -> None:
    with pytest.raises(LogError, match="no NMEA 0183 sentence found"):
        read_text(tmp_path, pack(BARE.encode())[:size])


def test_pieces_meet_at_line_ends(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A log read in pieces of 1 kB says what it says in one piece, line numbers included."""
    whole = read_text(tmp_path, LONG)
    monkeypatch.setattr("analysis.reading.files.pieces.__defaults__", (1024,))
    for text in (
        LONG,
        LONG.replace(b"\r\n", b"\r"),
        LONG.replace(b"\r\n", b"\r\r\n"),
        LONG.replace(b"\r\n", b" "),
    ):
        parts = read_text(tmp_path, text)
        assert said(parts) == said(whole)
        one, other = (next(iter(passage.series.values())) for passage in (parts, whole))
        if b" " not in text:
            assert one.line.tolist() == other.line.tolist()
            assert parts.counts.lines == whole.counts.lines == 20_000
