"""The smallest record that says something, as text of a file."""


def small_record(claim: str, serial: str = "00123") -> str:
    """A record of one heavy finding; further tables may be put below it."""
    return f"""
format = 1
claim = "{claim}"
[unit]
serial = "{serial}"
model = "K4-150"
[[observations]]
part = "main_bearing"
condition = "worn"
extent = "heavy"
"""
