"""The status of a finding as every page marks it."""

STATUS = {
    "established": ("●", "good", "one mechanism has at least 90 %, and the findings go together"),
    "likely": ("◆", "warn", "one mechanism has at least 60 %"),
    "open": ("○", "warn", "no mechanism has 60 %: the next checks decide"),
    "conflicting": ("✕", "bad", "the findings do not go together"),
}
"""Status → marker, level and meaning."""
