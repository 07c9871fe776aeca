"""The cautions that go with what this program says."""

SHORT = "Not for navigation. Keep a lookout; verify at sea in safe water."
FULL = (
    "Not for navigation. Keep a proper lookout. Confirm every figure at sea, in safe water, before you enter "
    "a correction; licensed practice and local rules come first."
)
TRAFFIC = (
    "For review, not for avoiding collisions: AIS does not show every vessel, and radar misses some. Keep a proper "
    "lookout. Distances are between aerials, not hulls."
)
EMERGENCIES = (
    "For review and training only, never for use in an emergency: in one, call for help, keep the person in sight "
    "and follow the rescue services."
)
WEATHER = (
    "This looks back and forecasts nothing. Decide by the latest forecast, the glass and the sky, "
    "and keep a margin."
)
ROUTES = (
    "Lines and laylines know nothing of land, depth, traffic or a change in the weather: they are for looking back "
    "at a passage, not for steering by."
)
