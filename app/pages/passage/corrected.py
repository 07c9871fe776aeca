"""Which corrections the values on the page carry, and the choice to see them as shown."""

from dash import html

from analysis.review import Review
from app.addresses import address
from app.pages.wording import label_text
from app.view import View

from .wishes import AS_SHOWN, VALUES, wishes

_FACTORS = {"log_factor": "log", "wind_speed_factor": "wind speed"}
_OFFSETS = {
    "compass_constant_deg": ("compass", "°"),
    "vane_offset_deg": ("vane", "°"),
    "upwash_deg": ("upwash", "°"),
    "barometer_offset_hpa": ("barometer", " hPa"),
    "log_zero_offset_kn": ("log", " kn"),
}
_MISTAKES = {
    "mirrored": "mirrored",
    "reversed": "reversed",
    "unit": "in another unit",
    "sign": "of the wrong sign",
    "zero": "off zero",
}
_UNFIT = {"stuck": "it is stuck", "drop-out": "it drops out", "jump": "it jumps"}


def corrected_line(view: View) -> html.Div:
    """Say by what the values are corrected, and offer them as shown."""
    done = corrections(view.opened.review)
    if not done:
        return html.Div(
            html.P("All values are as shown: this passage determines no correction.", id="corrected"),
            className="corrected",
        )
    as_shown = wishes().as_shown
    words = (
        ["As the instruments showed it. ", html.Strong("Not corrected"), f" by: {', '.join(done)}."]
        if as_shown
        else [html.Strong("Corrected"), f" by: {', '.join(done)}."]
    )
    hand = " Some set by hand." if view.opened.review.settings.corrections and not as_shown else ""
    choices = {"corrected": "corrected", AS_SHOWN: "as shown"}
    chosen = AS_SHOWN if as_shown else "corrected"
    return html.Div(
        [
            html.P([*words, hand], id="corrected", title=", ".join(done)),
            html.A("Why", href=address(view.opened.key, "sheet")),
            html.Label(
                [
                    "values",
                    html.Select(
                        [
                            html.Option(
                                text, value=name, **({"selected": "selected"} if name == chosen else {})
                            )
                            for name, text in choices.items()
                        ],
                        id="wish-values",
                        **{"data-cookie": VALUES},
                    ),
                ]
            ),
        ],
        className="corrected as-shown" if as_shown else "corrected",
    )


def corrections(review: Review) -> list[str]:
    """Write the corrections that the values carry, each in a few characters."""
    if review.settings.as_shown:
        return []
    known = {
        name: one.value
        for name, one in review.calibration.items()
        if one.determined and one.value is not None
    }
    done = [
        f"{label_text(mistake.channel)} {_MISTAKES.get(mistake.kind, mistake.kind)}, put right"
        for mistake in review.case.screened.mistakes
    ]
    unfit = dict.fromkeys((one.channel, one.reason) for one in review.case.screened.unfit)
    done += [
        f"{'position' if channel == 'lat_deg' else label_text(channel)} left out where {_UNFIT[reason]}"
        for channel, reason in unfit
    ]
    done += [f"{word} × {known[name]:.3f}" for name, word in _FACTORS.items() if name in known]
    done += [
        f"{word} {known[name]:+.1f}{unit}".replace("-", "−")
        for name, (word, unit) in _OFFSETS.items()
        if name in known
    ]
    if any(name.startswith("deviation_") for name in known):
        done.append("deviation curve")
    return done
