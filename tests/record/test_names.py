"""Folders of claims: names that any system takes, each of one claim only.

What Windows reserves: "Naming Files, Paths, and Namespaces" (Microsoft's reference of its file systems): CON, PRN, AUX,
NUL, COM0 to COM9, LPT0 to LPT9, also with an extension, in any case; no name ends with a dot.
"""

import string

import hypothesis.strategies as st
import pytest
from hypothesis import given

from stripdown.record import folder_name

DEVICES = ("CON", "PRN", "AUX", "NUL", *(f"{p}{n}" for p in ("COM", "LPT") for n in range(10)))
CLAIMS = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,8}", fullmatch=True) | st.builds(
    lambda device, rest: device + rest,
    st.sampled_from([*DEVICES, *(d.lower() for d in DEVICES)]),
    st.text(string.ascii_letters + string.digits + "._-", max_size=4),
)


@pytest.mark.parametrize(
    ("claim", "name"),
    [
        ("NB-2026-0117", "NB-2026-0117"),
        ("CON", "CON+"),
        ("nul.2026", "nul+.2026"),
        ("COM1", "COM1+"),
        ("COM12", "COM12"),
        ("CONTROL", "CONTROL"),
        ("A.", "A.+"),
        ("Aux..", "Aux+..+"),
        ("x.con", "x.con"),
        ("aux .toml", "aux+ .toml"),  # no claim, but the name of a file that a user gives
    ],
)
def test_a_claim_keeps_its_name_where_it_can(claim: str, name: str) -> None:
    assert folder_name(claim) == name


@given(CLAIMS)
def test_every_system_takes_the_name_and_it_leads_back_to_one_claim(claim: str) -> None:
    name = folder_name(claim)
    assert name.split(".")[0].upper() not in DEVICES
    assert name[-1] not in ". "
    assert name.replace("+", "") == claim
    assert set(name) <= set(string.ascii_letters + string.digits + "._-+")
