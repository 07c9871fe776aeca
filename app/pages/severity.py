"""How grave a finding is, in a word and in what it means."""

SEVERITY = {
    "fault": ("Wrong", "told something wrong that matters"),
    "advice": ("Correct", "a correction is worth entering"),
    "note": ("Note", "something to know"),
}
