"""What the Findings page, what-if and the correction sheet say, without a browser."""

import dataclasses
from typing import Any

import pytest
from passages import day_at_sea, reviewed, spoken
from samples import reviewed_sample

from analysis import Estimate, Review, SettingError
from analysis.calibration.results import Change
from analysis.review import reconsidered
from app.desk import Desk, Opened
from app.dress import Dress
from app.figures.whatif import whatif_chart
from app.pages import findings, sheet
from app.pages.by_hand import OTHERS_STAY, by_hand_line
from app.pages.corrections import number_text, within_text
from app.pages.whatif import finding_items, whatif_panel, wished
from app.report.tree import text_of
from app.view import View


@pytest.fixture(scope="module")
def passage() -> Review:
    return reviewed_sample("open-passage")


def opened(one: Review) -> Opened:
    return Desk([]).open(one)


def said(page: Any, one: Review) -> str:
    return " ".join(text_of(part) for part in page.layout(View(opened(one), Dress())))


def test_the_sentence_names_the_instruments_and_every_finding_says_what_to_do(passage: Review) -> None:
    # the three faults of the sample's truth file
    assert findings.conclusion_text(passage).startswith(
        f"{passage.findings[0].title} Look also at the compass and the wind vane."
    )
    text = said(findings, passage)
    for one in passage.findings:
        assert all(part in text for part in (one.title, one.action, one.verify, one.caution))
    assert text.count("Applied: every page shows the passage with this correction. Your instruments") == 3


def test_findings_stand_in_their_order_with_a_word_for_the_severity(passage: Review) -> None:
    cards = findings.layout(View(opened(passage), Dress()))[2].children
    texts = [text_of(card) for card in cards]
    assert [text.startswith(("Wrong", "Correct")) for text in texts] == [
        one.severity != "note" for one in passage.findings
    ]
    assert all(one.title in text for one, text in zip(passage.findings, texts, strict=True))


def test_a_clean_and_an_empty_log_say_so() -> None:
    frame = day_at_sea(hours=0.5)
    clean = said(findings, reviewed(frame))
    assert "No instrument was found wrong." in clean
    assert "No finding" in clean
    empty = dataclasses.replace(reviewed(frame.iloc[:0][[]]).passage, sources=())
    nothing = reviewed(empty.frame, sources=())
    assert "no readings of any instrument" in said(findings, nothing)
    assert "no instrument that could be corrected" in said(sheet, nothing)


def test_what_is_set_aside_is_said_on_its_card_and_above_every_page(passage: Review) -> None:
    aside = reconsidered(passage, {"log_factor": 1.0, "vane_offset_deg": -2.0})
    text = said(findings, aside)
    assert "Set aside: every page shows the passage without this correction." in text
    line = " ".join(text_of(part) for part in by_hand_line(opened(aside)))
    assert "2 corrections are set by hand: Log factor set aside, Vane offset −2.0°." in line
    assert by_hand_line(opened(passage)) == []


def test_fields_hold_what_the_log_says_and_wish_only_what_was_changed(passage: Review) -> None:
    one = opened(passage)
    log = round(passage.calibration["log_factor"].value or 0.0, 3)
    assert wished(one, {"log_factor": log, "upwash_deg": 0.0}) == {}
    assert wished(one, {"log_factor": 1.05, "upwash_deg": 0.0}) == {"log_factor": 1.05}
    kept = opened(reconsidered(passage, {"deviation_B_deg": 0.0}))
    assert wished(kept, {"log_factor": log}) == {"deviation_B_deg": 0.0}
    with pytest.raises(SettingError, match="Log factor: give a number"):
        wished(one, {"log_factor": float("nan")})


def test_what_if_offers_the_instruments_of_the_log_alone(passage: Review) -> None:
    text = text_of(whatif_panel(View(opened(passage), Dress())))
    assert "Log factor" in text and "Barometer offset" in text
    frame = day_at_sea(hours=0.5)
    text = text_of(whatif_panel(View(opened(reviewed(frame[["stw_kn", "sog_kn"]])), Dress())))
    assert "Log factor" in text and "Vane offset" not in text
    text = text_of(whatif_panel(View(opened(reviewed(frame[["depth_m"]])), Dress())))
    assert "whose correction could be tried" in text


def test_findings_that_would_be_gone_are_struck_out(passage: Review) -> None:
    items = [text_of(item) for item in finding_items(passage.findings, passage.findings[1:])]
    assert items[-1] == f"Gone {passage.findings[0].title}"
    assert [text_of(item) for item in finding_items((), ())] == ["None."]


def test_the_chart_draws_what_was_tried_beside_what_is() -> None:
    one = opened(reviewed(day_at_sea(hours=1.0)))
    assert len(whatif_chart(one.scene, None, Dress())["data"]) == 2
    both = whatif_chart(one.scene, one.review.frame, Dress())["data"]
    assert [trace["name"] for trace in both] == ["corrected"] * 2 + ["your numbers"] * 2


@pytest.mark.parametrize(
    ("name", "value", "spread", "text"),
    [
        ("log_factor", 1.0697, 0.0024, "× 1.070 ± 0.002"),
        ("vane_offset_deg", -3.36, 1.76, "−3.4° ± 1.8°"),
        ("compass_constant_deg", 3.03, 0.09, "+3.0° ± 0.1°"),
        ("barometer_offset_hpa", 2.44, 0.31, "+2.4 hPa ± 0.3 hPa"),
    ],
)
def test_corrections_are_written_with_sign_and_interval(
    name: str, value: float, spread: float, text: str
) -> None:
    assert f"{number_text(name, value, spread)} {within_text(name, spread)}" == text


def test_the_sheet_gives_both_signs_and_what_they_mean(passage: Review) -> None:
    told = {
        "log_factor": Estimate(1.25, 0.005, "1", True),
        "vane_offset_deg": Estimate(3.2, 0.4, "deg", True),
        "compass_constant_deg": Estimate(0.1, 0.2, "deg", True),
    }
    text = said(sheet, dataclasses.replace(passage, calibration={**passage.calibration, **told}))
    # 1 / 1.25 - 1 = -20 %; true = shown + 3.2; 6 kn x 1.25
    for part in ("× 1.250 (+25.0 %)", "−20.0 % (low)", "Shown 6.00 kn, true 7.50 kn.", "+3.2°", "−3.2°"):
        assert part in text
    assert "Shown 30.0° stbd, true 33.2° stbd; shown 30.0° port, true 26.8° port." in text
    assert "Nothing to enter" in text
    assert "Signed" in text and "Boat" in text


def test_the_sheet_says_which_manoeuvre_tells_what_is_open(passage: Review) -> None:
    text = said(sheet, passage)
    need = passage.calibration["upwash_deg"].need
    assert need is not None and not passage.calibration["upwash_deg"].determined
    assert need.manoeuvre in text
    assert f"Upwash at 30° AWA to {passage.calibration['upwash_deg'].expected[0]}" in text


def test_the_sheet_does_not_enter_what_changed_on_the_way(passage: Review) -> None:
    start, end = passage.frame.index[[0, -1]]
    change = Change("deviation_B_deg", "step", start, 0.0, 8.0, 0.5, "deg", start, end)
    calibration = dataclasses.replace(passage.case.calibration, changes=(change,))
    finding = dataclasses.replace(
        passage.findings[0],
        id="compass-disturbed",
        title="The compass turned.",
        action="Look what was put near.",
    )
    disturbed = dataclasses.replace(
        passage, case=dataclasses.replace(passage.case, calibration=calibration), findings=(finding,)
    )
    text = said(sheet, disturbed)
    assert "Do not enter: it changed on the way" in text
    assert "Compass constant" not in sheet.conclusion_text(disturbed).split("Not determined")[0]
    assert "The compass turned. Look what was put near." in text


def test_what_is_set_by_hand_says_that_the_others_stay_as_estimated(passage: Review) -> None:
    desk = Desk([])
    key = desk.open(passage).key
    assert by_hand_line(desk.all()[0]) == []
    told = spoken(by_hand_line(desk.correct(key, {"log_factor": 1.02})))
    assert "Log factor × 1.02" in told and OTHERS_STAY in told
    assert "estimated anew" in spoken(whatif_panel(View(desk.all()[0], Dress())))
    given = dataclasses.replace(
        passage, settings=dataclasses.replace(passage.settings, corrections={"log_factor": 1.02})
    )
    assert OTHERS_STAY not in spoken(by_hand_line(desk.open(given, "a1")))
