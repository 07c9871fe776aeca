"""Stamps that several sentences share."""

from pathlib import Path

import pytest
from written import fact_ids, read_text, seconds, sentence, times

TAG_GROUP = (
    (
        r"\g:1-2-3985,s:rEV02,c:1334337317*2D",
        "AIVDM,2,1,9,B,58KvN<42ACikUKW77F1H4hF0<PTp622222222216`0`cF5BF0,0",
    ),
    (r"\g:2-2-3985*5A", "AIVDM,2,2,9,B,PFRC88888888880,2"),
)


def test_a_tag_group_shares_the_stamp_of_its_first_sentence(tmp_path: Path) -> None:
    """Groups of a collected feed lie days apart, so only their own stamp can place their second halves."""
    lines = []
    for k in range(3):
        stamp = 1334337317 + k * 86400
        for tag, body in TAG_GROUP:
            lines.append(
                f"{tag.replace('1334337317', str(stamp)).replace('3985', f'398{k}')}\\{sentence(body, '!')}"
            )
    passage = read_text(tmp_path, "\n".join(lines))
    assert passage.ais["time_s"].tolist() == pytest.approx(
        [1334337317 + k * 86400 for k in range(3)], abs=1e-3
    )
    assert "ais-incomplete" not in fact_ids(passage)


def test_one_stamp_is_enough(tmp_path: Path) -> None:
    passage = read_text(tmp_path, f"2016-01-01T00:00:00.455Z {sentence('HCHDM,1.0,M')}")
    assert times(passage, "heading_mag_deg") == [seconds("2016-01-01T00:00:00.455")]


def test_sentences_of_one_packet_share_its_exact_stamp(tmp_path: Path) -> None:
    lines = [f"2016-01-01T00:00:0{k // 5}.455Z {sentence(f'HCHDM,{k}.0,M')}" for k in range(20)]
    start = seconds("2016-01-01T00:00:00.455")
    expected = pytest.approx([start + k // 5 for k in range(20)], abs=1e-3)
    assert times(read_text(tmp_path, "\n".join(lines)), "heading_mag_deg") == expected
