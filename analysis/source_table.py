"""The sources of each quantity side by side: which is in use, how the others differ from it, which to trust."""

from collections.abc import Iterable
from dataclasses import dataclass

from analysis.agreement import Agreement, in_use
from analysis.alignment import Choices
from analysis.channels import CHANNELS
from analysis.findings import Case
from analysis.passage import Passage, Source, SourceKey

LEAST_READINGS = 30  # as few as torn sentences make
HEADINGS = ("heading_true_deg", "heading_mag_deg")
_ELSEWHERE = ("target_", "distress_")


@dataclass(frozen=True)
class Beside:
    """A source of a quantity. ``agreement`` compares it with the one in use, which is its ``first``."""

    source: Source
    used: bool
    agreement: Agreement | None


@dataclass(frozen=True)
class Group:
    """All sources of one quantity, the one in use first; ``trusted`` and ``why`` where they disagree.

    Headings, true and magnetic, are one quantity; latitudes stand for positions. ``parted`` are comparisons of
    instruments that speak by turns under one name.
    """

    channel: str
    members: tuple[Beside, ...]
    parted: tuple[Agreement, ...]
    trusted: SourceKey | None
    why: str

    @property
    def instruments(self) -> bool:
        """Whether there is more than one instrument, not one heard in several sentences."""
        compared = [one.agreement for one in self.members if one.agreement is not None]
        return any(not one.repeat for one in (*compared, *self.parted))

    @property
    def disagrees(self) -> bool:
        """Whether two instruments differ by more than their accuracy allows."""
        compared = [one.agreement for one in self.members if one.agreement is not None]
        return any(one.disagrees and not one.repeat for one in (*compared, *self.parted))


def groups_of(case: Case) -> tuple[Group, ...]:
    """Gather the quantities that have more than one source, in the order of the table of quantities."""
    passage = case.passage
    using = in_use(passage)
    gathered = {
        channel: _group(case, channel, sources, using)
        for channel, sources in _by_quantity(passage).items()
        if len(sources) > 1 or any(one.channel == channel for one in case.agreement)
    }
    return tuple(gathered[channel] for channel in CHANNELS if channel in gathered)


def singles_of(passage: Passage) -> tuple[Source, ...]:
    """List the sources that are alone in telling their quantity."""
    alone = {channel: one[0] for channel, one in _by_quantity(passage).items() if len(one) == 1}
    return tuple(alone[channel] for channel in CHANNELS if channel in alone)


def chosen_instead(choices: Choices, key: SourceKey) -> dict[str, tuple[str, str, str]]:
    """Add a source to the choices; it takes the place of what was chosen for the same quantity."""
    same = HEADINGS if key.channel in HEADINGS else (key.channel,)
    kept = {channel: choice for channel, choice in choices.items() if channel not in same}
    return kept | {key.channel: (key.talker, key.formatter, key.instance)}


def _by_quantity(passage: Passage) -> dict[str, list[Source]]:
    found: dict[str, list[Source]] = {}
    for one in passage.sources:
        channel = HEADINGS[0] if one.key.channel in HEADINGS else one.key.channel
        known = channel in CHANNELS and channel != "lon_deg" and not channel.startswith(_ELSEWHERE)
        if known and one.count >= LEAST_READINGS:
            found.setdefault(channel, []).append(one)
    return found


def _group(case: Case, channel: str, sources: list[Source], using: set[SourceKey]) -> Group:
    compared = [one for one in case.agreement if one.channel == channel]
    keys = {one.key for one in sources}
    members = [
        Beside(one, one.key in using, None if one.key in using else _against(compared, one.key, using))
        for one in sorted(sources, key=lambda one: (one.key not in using, -one.count))
    ]
    parted = tuple(one for one in compared if not {one.first, one.second} <= keys)
    verdicts = [one for one in compared if one.disagrees and not one.repeat]
    told = next((one for one in verdicts if one.trusted is not None), verdicts[0] if verdicts else None)
    trusted, why = (None, "") if told is None else (told.trusted, told.why)
    return Group(channel, tuple(members), parted, trusted, why)


def _against(compared: Iterable[Agreement], key: SourceKey, using: set[SourceKey]) -> Agreement | None:
    for one in compared:
        if one.second == key and one.first in using:
            return one
        if one.first == key and one.second in using:
            return one.turned()
    return None
